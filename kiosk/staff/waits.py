"""The waits after wrong PINs, who lifted them, and what managers see of both.

Waits belong to one person on one device, so that nobody can lock another person
out from another screen. A wait is lifted by an act in the history; the wrong PINs stay
on record.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.staff.errors import Refusal, StaffError
from kiosk.store.audit import record_act
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import devices, sign_ins, staff

LONGEST_WAIT_S = 900
COUNTED = timedelta(days=1)
"""How far back wrong PINs count towards a wait."""
WRONG_KEPT = timedelta(days=30)
"""How long managers see wrong PINs and lifted waits."""
MOST_LISTED = 50
_WAITS = "waits"
"""The acts of lifting stand under this name and the person's id."""


@dataclass(frozen=True, slots=True)
class WrongPin:
    """A wrong PIN of a person on a device, or the lifting of their waits (`lifted`) by `by`.

    `by` is None for the command line.
    """

    at: datetime
    person: str
    device: str | None
    lifted: bool = False
    by: str | None = None


def wait_s(failures: int) -> int:
    """Return the wait in seconds after a number of wrong PINs in a row: 1, 2, 4, ... 900."""
    return min(LONGEST_WAIT_S, 2 ** (failures - 1)) if failures > 0 else 0


def require_no_wait(session: Session, staff_id: int, device_id: int, now: datetime) -> None:
    """Raise StaffError (MUST_WAIT) while a wait of this person on this device lasts."""
    since = max(now - COUNTED, _lifted_at(session, staff_id) or now - COUNTED)
    tries = session.execute(
        select(sign_ins.c.at, sign_ins.c.ok)
        .where(sign_ins.c.staff_id == staff_id, sign_ins.c.device_id == device_id, sign_ins.c.at > since)
        .order_by(sign_ins.c.at.desc(), sign_ins.c.id.desc())
    ).all()
    failures = next((n for n, one in enumerate(tries) if one.ok), len(tries))
    if failures:
        left_s = wait_s(failures) - (now - tries[0].at).total_seconds()
        if left_s > 0:
            raise StaffError(Refusal.MUST_WAIT, seconds=int(left_s) + (left_s % 1 > 0))


def lift_waits(
    session: Session, staff_ids: Iterable[int], now: datetime, *, by: int | None, device_id: int | None = None
) -> None:
    """End the waits after the wrong PINs of people, on every device, and record who did."""
    for staff_id in staff_ids:
        what = {"device": device_id}
        record_act(session, "waits lifted", what, by=by, at=now, about=(_WAITS, staff_id))


def _lifted_at(session: Session, staff_id: int) -> datetime | None:
    h = history.c
    lifted: datetime | None = session.scalar(
        select(func.max(h.at)).where(h.table_name == _WAITS, h.row_id == staff_id)
    )
    return lifted


def wrong_pins(session: Session, now: datetime) -> list[WrongPin]:
    """Return the wrong PINs and lifted waits of the last days, the newest first."""
    since, s, h = now - WRONG_KEPT, sign_ins.c, history.c
    wrong = session.execute(
        select(s.at, staff.c.name, devices.c.name)
        .join_from(sign_ins, staff, staff.c.id == s.staff_id)
        .outerjoin(devices, devices.c.id == s.device_id)
        .where(s.ok.is_(False), s.at > since)
        .order_by(s.at.desc())
        .limit(MOST_LISTED)
    )
    by = staff.alias()
    lifted = session.execute(
        select(h.at, staff.c.name, by.c.name)
        .join_from(history, staff, staff.c.id == h.row_id)
        .outerjoin(by, by.c.id == h.by)
        .where(h.table_name == _WAITS, h.at > since)
        .order_by(h.at.desc())
        .limit(MOST_LISTED)
    )
    every = [WrongPin(*row) for row in wrong]
    every += [WrongPin(at, name, None, True, lifter) for at, name, lifter in lifted]
    return sorted(every, key=lambda one: one.at, reverse=True)[:MOST_LISTED]
