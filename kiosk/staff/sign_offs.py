"""Sign-offs: what a person may do by a planner's word. One that is withdrawn stays on record."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, and_, exists, select
from sqlalchemy.orm import Session

from kiosk.staff.errors import Refusal, StaffError
from kiosk.store import ledgers
from kiosk.store.tables.staff import sign_offs, staff

ROUTE_SKILL = "route:"
"""What the name of a skill begins with that is leading a route in a language."""


@dataclass(frozen=True, slots=True)
class SignOff:
    """A sign-off of a person: who gave it and when, and who withdrew it and when."""

    key: str
    skill: str
    language: str | None
    expires_on: date | None
    given_by: str
    given_at: datetime
    withdrawn_by: str = ""
    withdrawn_at: datetime | None = None

    @property
    def leads(self) -> bool:
        """Whether it lets the person lead tours in its language."""
        return self.skill.startswith(ROUTE_SKILL) and self.language is not None


def not_withdrawn() -> ColumnElement[bool]:
    """Return the condition that an entry of `sign_offs` gives one, and that none withdraws it."""
    later = sign_offs.alias("later_sign_offs")
    return and_(sign_offs.c.withdraws.is_(None), ~exists().where(later.c.withdraws == sign_offs.c.key))


def sign_offs_of(session: Session, staff_id: int) -> list[SignOff]:
    """Return every sign-off that a person was given, the latest first, with its withdrawal."""
    s = sign_offs.c
    entries = session.execute(
        select(s.key, s.skill, s.language, s.expires_on, staff.c.name, s.at, s.withdraws)
        .outerjoin_from(sign_offs, staff, staff.c.id == s.by)
        .where(s.staff_id == staff_id)
        .order_by(s.at, s.key)
    ).all()
    ended = {one.withdraws: one for one in reversed(entries) if one.withdraws}
    given = [one for one in reversed(entries) if one.withdraws is None]
    return [
        SignOff(
            *(one.key, one.skill, one.language, one.expires_on, one.name or "", one.at),
            *((ended[one.key].name or "", ended[one.key].at) if one.key in ended else ()),
        )
        for one in given
    ]


def withdraw(
    session: Session, staff_id: int, key: str, *, by: int, device_id: int | None, at: datetime
) -> None:
    """Withdraw a sign-off of a person; one that is withdrawn already stays as it is.

    Raises StaffError: NO_SUCH_SIGN_OFF.
    """
    one = next((each for each in sign_offs_of(session, staff_id) if each.key == key), None)
    if one is None:
        raise StaffError(Refusal.NO_SUCH_SIGN_OFF)
    if one.withdrawn_at is not None:
        return
    entry = {"key": ledgers.new_key(), "at": at, "recorded_at": at, "by": by, "device_id": device_id}
    of = {"staff_id": staff_id, "skill": one.skill, "language": one.language, "withdraws": key}
    ledgers.append(session, sign_offs, {**entry, **of})
