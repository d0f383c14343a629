"""The first minutes of a site: its first device and its first manager, together."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.devices import Enrolled, enrol
from kiosk.staff.errors import PinsDiffer
from kiosk.staff.people import add_person, anybody
from kiosk.staff.pins import hash_pin

# No role contains another, and whoever starts a site alone does everything at first.
FIRST_ROLES = ("guide", "bar", "production", "manager")


def needs_manager(session: Session) -> bool:
    """Say whether the next enrolment makes the first manager."""
    return not anybody(session)


def enrol_with_first_manager(
    session: Session,
    site: Site,
    *,
    code: str,
    name: str,
    pin: str,
    pin_again: str,
    language: str,
    now: datetime,
) -> Enrolled:
    """Enrol a device; where nobody works yet, record its first manager too, or neither.

    Raises a `StaffError`; the caller's transaction then takes the code back.
    """
    enrolled = enrol(session, site, code, now)
    if needs_manager(session):
        if pin != pin_again:
            raise PinsDiffer()
        kept = hash_pin(pin, site)  # slow, but nobody pours yet
        add_person(session, site, name, kept, FIRST_ROLES, (language,), now)
    return enrolled
