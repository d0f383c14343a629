"""Which service rules are in force: the version last confirmed, while the site's file says the same.

Whoever pours, as far as the rules of the house ask about them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Select, bindparam, literal_column, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Server, ServicePolicy
from kiosk.site.policy_json import policy_body
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import policies

NO_POLICY = "no_policy"
"""The reason against every pour while no version is in force."""


@dataclass(frozen=True, slots=True)
class Version:
    """A confirmed version of the rules."""

    key: str
    digest: str
    confirmed_at: datetime
    confirmed_by: int


@lru_cache(maxsize=8)
def digest(policy: ServicePolicy) -> str:
    """Return the digest of a policy's full text; kept, because every pour asks for it."""
    return policy_body(policy)[1]


def newest() -> Select[Any]:
    """Select the version confirmed last: a policy without a person behind it never counts."""
    found = select(policies.c.key, policies.c.digest, policies.c.at, policies.c.by)
    return (
        found.where(policies.c.by.is_not(None))
        .order_by(policies.c.at.desc(), policies.c.key.desc())
        .limit(literal_column("1"))  # no parameter: see `open_bottles.LATEST`
    )


def in_force(session: Session, site: Site) -> Version | None:
    """Return the version in force, or None when none is or the site's file says otherwise."""
    row = session.execute(newest()).one_or_none()
    return Version(row.key, row.digest, row.at, row.by) if row and row.digest == digest(site.policy) else None


def confirm(session: Session, site: Site, *, key: str, by: int, at: datetime) -> None:
    """Put the rules of the site's file in force. The caller has checked the licensee's PIN."""
    body, text_digest = policy_body(site.policy)
    values = {
        "key": key,
        "at": at,
        "recorded_at": at,
        "by": by,
        "digest": text_digest,
        "body": body,
        "basis": site.policy.basis,
    }
    ledgers.append(session, policies, values)


NOBODY_NAMED = 0
"""The id of a server whose tap names nobody: the rules about servers bind them all the same."""

_AGE = re.compile(r"age-(\d{1,2})")
_P = permits.c
_HELD = select(_P.kind).where(
    _P.staff_id == bindparam("staff_id"),
    _P.valid_from <= bindparam("day"),
    _P.valid_until >= bindparam("day"),
)


def server(session: Session, policy: ServicePolicy, staff_id: int | None, day: date) -> Server:
    """Return a server with the permits that hold on a service day; whoever is not named has none.

    A permit of the kind "age-21" says that a manager saw a document by which they
    are 21 or older. Nothing is read where no rule asks.
    """
    asked = staff_id is not None and bool(policy.server_age or policy.server_permit)
    kinds = session.scalars(_HELD, {"staff_id": staff_id, "day": day}) if asked else ()
    return with_permits(policy, staff_id, tuple(kinds))


def with_permits(policy: ServicePolicy, staff_id: int | None, kinds: tuple[str, ...]) -> Server:
    """Return a server with the `kinds` of permit that they hold, as far as a policy asks."""
    if not policy.server_age and not policy.server_permit:
        return Server(staff_id)
    if staff_id is None:
        return Server(NOBODY_NAMED)
    ages = [int(found[1]) for kind in kinds if (found := _AGE.fullmatch(kind))]
    return Server(staff_id, age=max(ages, default=0), permits=kinds)
