"""Who works here and in which roles."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from unicodedata import normalize

from sqlalchemy import delete, func, or_, select
from sqlalchemy import insert as insert_into
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.errors import LastManager, NameMissing, NameTaken, NotHere, UnknownChoice
from kiosk.store import rows
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff, staff_roles
from kiosk.words.catalogs import N_

ROLE_NAMES = {
    "guide": N_("guide"),
    "bar": N_("tasting bar"),
    "trainee": N_("trainee"),
    "production": N_("production"),
    "manager": N_("manager"),
}
ROLES = tuple(ROLE_NAMES)
"""No role contains another."""


@dataclass(frozen=True, slots=True)
class Member:
    """Somebody who works here now."""

    id: int
    name: str
    roles: tuple[str, ...]


def add_person(
    session: Session,
    site: Site,
    name: str,
    pin_hash: str,
    roles: Iterable[str],
    languages: Sequence[str],
    now: datetime,
    *,
    by: int | None = None,
) -> int:
    """Record somebody who works here and return their id.

    `pin_hash` is of `pins.hash_pin`, which is slow on purpose: it is made before the
    transaction, so that no pour waits for it. `by` is who added them (nobody for the
    first manager and the command line). Raises a `StaffError`: `NameMissing`,
    `NameTaken`, `UnknownChoice`.
    """
    name = " ".join(name.split())[:80]
    wanted = [role for role in ROLES if role in set(roles)]
    _check(session, site, name, set(roles), languages)
    values = {"name": name, "pin_hash": pin_hash, "languages": list(languages)}
    staff_id = rows.insert(session, staff, values)
    _give(session, staff_id, wanted, now, by)
    return staff_id


def change_roles(
    session: Session, site: Site, staff_id: int, roles: Iterable[str], now: datetime, *, by: int
) -> None:
    """Give somebody other roles; the former ones stay in the history. They count from the next page on.

    Raises `UnknownChoice`, `NotHere`, and `LastManager` where nobody would be left to give roles.
    """
    given = set(roles)
    _check_choice(given, ROLES)
    _demand_here(session, site, staff_id, now)
    if "manager" not in given:
        _demand_another_manager(session, site, staff_id, now)
    session.execute(delete(staff_roles).where(staff_roles.c.staff_id == staff_id))
    _give(session, staff_id, [role for role in ROLES if role in given], now, by)


def leave(session: Session, site: Site, staff_id: int, now: datetime, *, by: int) -> None:
    """Let somebody work here no more from today on; what they did stays under their name.

    Raises `NotHere`, and `LastManager`.
    """
    _demand_here(session, site, staff_id, now)
    _demand_another_manager(session, site, staff_id, now)
    revision = session.scalar(select(staff.c.revision).where(staff.c.id == staff_id)) or 0
    gone = {"left_on": site.local(now).date()}
    rows.change(session, staff, staff_id, revision, gone, by=by, at=now, why="left")


def _give(session: Session, staff_id: int, roles: Sequence[str], now: datetime, by: int | None) -> None:
    h = history.c
    session.execute(insert_into(staff_roles), [{"staff_id": staff_id, "role": role} for role in roles])
    before = select(func.count()).where(h.table_name == staff_roles.name, h.row_id == staff_id)
    told = {"table_name": staff_roles.name, "row_id": staff_id, "act": "roles", "before": {"given": roles}}
    n = session.scalar(before) or 0
    session.execute(insert_into(history).values(**told, revision=n + 1, at=now, by=by, why=""))


def _demand_here(session: Session, site: Site, staff_id: int, now: datetime) -> None:
    session.execute(select(staff.c.id).where(staff.c.id == staff_id).with_for_update())
    if staff_id not in {one.id for one in members(session, site, now)}:
        raise NotHere()


def _demand_another_manager(session: Session, site: Site, staff_id: int, now: datetime) -> None:
    if not any("manager" in one.roles and one.id != staff_id for one in members(session, site, now)):
        raise LastManager()


def anybody(session: Session) -> bool:
    """Say whether the site has a single person yet."""
    return bool(session.scalar(select(func.count()).select_from(staff)))


def members(session: Session, site: Site, now: datetime) -> list[Member]:
    """Return everybody who works here today, by name."""
    here = or_(staff.c.left_on.is_(None), staff.c.left_on > site.local(now).date())
    found = session.execute(
        select(staff.c.id, staff.c.name, staff_roles.c.role)
        .outerjoin(staff_roles, staff_roles.c.staff_id == staff.c.id)
        .where(here)
        .order_by(staff_roles.c.id)
    )
    people: dict[tuple[int, str], list[str]] = {}
    for person_id, name, role in found:
        people.setdefault((person_id, name), []).extend([role] if role else [])
    every = [Member(person_id, name, tuple(roles)) for (person_id, name), roles in people.items()]
    return sorted(every, key=lambda one: name_order(one.name))


def name_order(name: str) -> str:
    """Return what names are sorted by: accents do not count, but ñ follows n."""
    kept = name.casefold().replace("ñ", "n\uffff")
    return "".join(sign for sign in normalize("NFD", kept) if not 0x300 <= ord(sign) <= 0x36F)


def _check(session: Session, site: Site, name: str, roles: set[str], languages: Sequence[str]) -> None:
    if not name:
        raise NameMissing()
    if session.scalar(select(staff.c.id).where(staff.c.name == name)):
        raise NameTaken(name=name)
    _check_choice(roles, ROLES)
    _check_choice(set(languages), [language.code for language in site.languages])


def _check_choice(found: set[str], allowed: Sequence[str]) -> None:
    strange = found.difference(allowed)
    if strange or not found:
        raise UnknownChoice(found=", ".join(sorted(strange)) or "—", allowed=", ".join(allowed))
