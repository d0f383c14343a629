"""Whoever pours, as far as the rules of the house ask about them."""

from __future__ import annotations

import re
from datetime import date

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Server, ServicePolicy
from kiosk.store.tables.staff import permits

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
