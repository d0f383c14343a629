"""People who work here: their names, roles and PINs.

A pour, a check and an entry in the history are read under a name: two people whose names
differ by a capital, an accent or a letter of another script would be taken for one. The
names of devices follow the same rules.

A PIN is six digits, kept as argon2id of a keyed hash. Six digits are few. They are
protected because the form exists on enrolled devices only, each wrong try doubles a
wait, and a stolen database is useless without the site's secret, which lives in another file.
"""

import secrets
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from unicodedata import category, normalize

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError
from sqlalchemy import ColumnElement, delete, func, or_, select, update
from sqlalchemy import insert as insert_into
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal, StaffError
from kiosk.store import rows
from kiosk.store.audit import record_act
from kiosk.store.tables.staff import sessions, sign_ins, staff, staff_roles
from kiosk.words.catalogs import N_

# Letters of the Cyrillic and Greek scripts, and some Latin ones, that small or as a capital are
# drawn like another Latin letter: from the confusables of Unicode Technical Standard 39.
_DRAWN_ALIKE = str.maketrans(
    "авгезікмнопрѕстухѵјԛԝһӏԁԍαβγεζηικμνορτυχωϲσıłøđħɑɡ",
    "abre3ikmhonpsctyxvjqwhldgabyezhikmnoptyxwcoilodhag",
)


def one_line(name: str, longest: int) -> str:
    """Return a name without extra blanks, cut at `longest` characters. Raises StaffError (NAME_MISSING)."""
    plain = " ".join(name.split())[:longest]
    if not plain:
        raise StaffError(Refusal.NAME_MISSING)
    return plain


def name_order(name: str) -> str:
    """Return the sort key of a name: accents do not count, but ñ follows n."""
    kept = name.casefold().replace("ñ", "n\uffff")
    return "".join(sign for sign in normalize("NFD", kept) if not 0x300 <= ord(sign) <= 0x36F)


def look(name: str) -> str:
    """Return what names that look alike have in common: letters and digits without case, accent or script."""
    plain = normalize("NFKD", normalize("NFKC", name).casefold())
    return "".join(sign for sign in plain if category(sign)[0] in "LN").translate(_DRAWN_ALIKE)


def require_distinct(name: str, others: Iterable[str]) -> None:
    """Raise StaffError for a name that is taken (NAME_TAKEN) or looks like one of the others (NAME_ALIKE)."""
    same = look(name)
    for other in others:
        if other == name:
            raise StaffError(Refusal.NAME_TAKEN, name=name)
        if look(other) == same:
            raise StaffError(Refusal.NAME_ALIKE, name=name, other=other)


LENGTH = 6
HASHER = PasswordHasher(time_cost=3, memory_cost=65_536, parallelism=1)
"""About 0.1 s and 64 MiB a hash on a small computer; tests pass a cheaper one."""


def check_shape(pin: str) -> None:
    """Raise StaffError (PIN_FORMAT, PIN_TRIVIAL) for a text that may not be a PIN."""
    if len(pin) != LENGTH or not (pin.isascii() and pin.isdigit()):
        raise StaffError(Refusal.PIN_FORMAT)
    if is_trivial(pin):
        raise StaffError(Refusal.PIN_TRIVIAL)


def is_trivial(pin: str) -> bool:
    """Return whether a PIN has few digits, runs in equal steps, or repeats a short piece."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    repeats = any(pin == pin[:size] * (LENGTH // size) for size in (1, 2, 3))
    return repeats or len(set(pin)) < 3 or len(steps) == 1


def hash_pin(pin: str, site: Site, hasher: PasswordHasher = HASHER) -> str:
    """Return the hash that is stored for a PIN. Raises StaffError as `check_shape` does."""
    check_shape(pin)
    return hasher.hash(site.keyed_hash("pin", pin))


def matches(pin: str, pin_hash: str, site: Site) -> bool:
    """Return whether a PIN is the one that was hashed; the hash holds its own cost."""
    try:
        return HASHER.verify(pin_hash, site.keyed_hash("pin", pin))
    except VerificationError:
        return False


def random_pin() -> str:
    """Return a PIN by chance that may be one, for a person who lost theirs."""
    while True:
        pin = f"{secrets.randbelow(10**LENGTH):0{LENGTH}}"
        if not is_trivial(pin):
            return pin


def set_pin(
    session: Session,
    staff_id: int,
    pin_hash: str,
    now: datetime,
    *,
    temporary: bool,
    by: int | None,
    keep: str = "",
) -> None:
    """Replace a person's PIN and end their sign-ins, except the one whose `token_hash` is `keep`.

    A `temporary` PIN, which another person knows, must be changed before any page opens.
    Raises StaffError (NO_SUCH_PERSON) for a person who does not work here.
    """
    revision = session.scalar(select(staff.c.revision).where(staff.c.id == staff_id))
    if revision is None:
        raise StaffError(Refusal.NO_SUCH_PERSON)
    values = {"pin_hash": pin_hash, "pin_temporary": temporary}
    why = "PIN reset" if temporary else "PIN changed"
    rows.change(session, staff, staff_id, revision, values, by=by, at=now, why=why)
    session.execute(delete(sessions).where(sessions.c.staff_id == staff_id, sessions.c.token_hash != keep))
    kept = select(sessions.c.started_at).where(sessions.c.staff_id == staff_id)
    tries = sign_ins.c
    lasting = (tries.ok.is_(True), tries.signed_out_at.is_(None), tries.at.not_in(kept))
    session.execute(update(sign_ins).where(tries.staff_id == staff_id, *lasting).values(signed_out_at=now))


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
    """A person who works here now."""

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
    temporary: bool = False,
) -> int:
    """Record a person who works here and return their id.

    `pin_hash` is of `hash_pin`, which is slow on purpose: it is made before the
    transaction, so that no pour waits for it. `by` is who added them (None for the
    first manager and the command line); a `temporary` PIN is changed at its first use.
    Raises StaffError: NAME_MISSING, NAME_TAKEN, NAME_ALIKE, UNKNOWN_CHOICE.
    """
    name = one_line(name, 80)
    require_distinct(name, session.scalars(select(staff.c.name)))
    require_known(given := set(roles), ROLES)
    require_known(set(languages), [language.code for language in site.languages])
    values = {"name": name, "pin_hash": pin_hash, "languages": list(languages), "pin_temporary": temporary}
    staff_id = rows.insert(session, staff, values)
    _give(session, staff_id, given, now, by)
    return staff_id


def change_roles(
    session: Session, site: Site, staff_id: int, roles: Iterable[str], now: datetime, *, by: int
) -> None:
    """Replace a person's roles from the next page on; the former ones stay in the history.

    Raises StaffError: UNKNOWN_CHOICE, NO_SUCH_PERSON, and LAST_MANAGER where no manager would remain.
    """
    given = set(roles)
    require_known(given, ROLES)
    _require_replaceable(session, site, staff_id, now, stays_manager="manager" in given)
    session.execute(delete(staff_roles).where(staff_roles.c.staff_id == staff_id))
    _give(session, staff_id, given, now, by)


def deactivate(session: Session, site: Site, staff_id: int, now: datetime, *, by: int) -> None:
    """End a person's work here from today on, and their sign-ins; what they did stays under their name.

    Raises StaffError: NO_SUCH_PERSON, LAST_MANAGER.
    """
    _require_replaceable(session, site, staff_id, now)
    revision = session.scalar(select(staff.c.revision).where(staff.c.id == staff_id)) or 0
    gone = {"left_on": site.local(now).date()}
    rows.change(session, staff, staff_id, revision, gone, by=by, at=now, why="left")
    session.execute(delete(sessions).where(sessions.c.staff_id == staff_id))


def _give(session: Session, staff_id: int, given: Collection[str], now: datetime, by: int | None) -> None:
    roles = [role for role in ROLES if role in given]
    session.execute(insert_into(staff_roles), [{"staff_id": staff_id, "role": role} for role in roles])
    record_act(session, "roles", {"given": roles}, about=(staff_roles.name, staff_id), by=by, at=now)


def _require_replaceable(
    session: Session, site: Site, staff_id: int, now: datetime, *, stays_manager: bool = False
) -> None:
    session.execute(select(staff.c.id).where(staff.c.id == staff_id).with_for_update())
    present = members(session, site, now)
    if staff_id not in {member.id for member in present}:
        raise StaffError(Refusal.NO_SUCH_PERSON)
    others = [member for member in present if member.id != staff_id]
    if not stays_manager and not any("manager" in member.roles for member in others):
        raise StaffError(Refusal.LAST_MANAGER)


def has_people(session: Session) -> bool:
    """Return whether the site has at least one person, former ones included."""
    return bool(session.scalar(select(func.count()).select_from(staff)))


def is_staff(session: Session, staff_id: int | None) -> bool:
    """Return whether an id is that of a person who works here or did."""
    return session.execute(select(staff.c.id).where(staff.c.id == staff_id)).first() is not None


def roles_of(session: Session, staff_id: int) -> frozenset[str]:
    """Return the roles that a person has now; none for an unknown id."""
    return frozenset(session.scalars(select(staff_roles.c.role).where(staff_roles.c.staff_id == staff_id)))


def members(session: Session, site: Site, now: datetime) -> list[Member]:
    """Return the people who work here today, by name."""
    named_roles = session.execute(
        select(staff.c.id, staff.c.name, staff_roles.c.role)
        .outerjoin(staff_roles, staff_roles.c.staff_id == staff.c.id)
        .where(works_here(site.local(now).date()))
        .order_by(staff_roles.c.id)
    )
    people: dict[tuple[int, str], list[str]] = {}
    for person_id, name, role in named_roles:
        people.setdefault((person_id, name), []).extend([role] if role else [])
    every = [Member(person_id, name, tuple(roles)) for (person_id, name), roles in people.items()]
    return sorted(every, key=lambda member: name_order(member.name))


def find_member(people: Iterable[Member], name: str) -> Member:
    """Return the person whose name looks like `name`. Raises StaffError (NO_SUCH_PERSON)."""
    alike = (member for member in people if look(member.name) == look(name))
    if (member := next(alike, None)) is None:
        raise StaffError(Refusal.NO_SUCH_PERSON)
    return member


def works_here(day: date) -> ColumnElement[bool]:
    """Return the condition on rows of `staff` that a person works here on a day."""
    return or_(staff.c.left_on.is_(None), staff.c.left_on > day)


def require_known(choices: set[str], allowed: Collection[str]) -> None:
    """Raise StaffError (UNKNOWN_CHOICE) where nothing is chosen, or anything that is not `allowed`."""
    unknown = choices.difference(allowed)
    if unknown or not choices:
        raise StaffError(
            Refusal.UNKNOWN_CHOICE, found=", ".join(sorted(unknown)) or "—", allowed=", ".join(allowed)
        )
