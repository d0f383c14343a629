"""Who sends taps: the device by its cookie and who is signed in on it, found in the tap's own transaction.

A transaction of its own before each tap would cost as much as the tap, and could
be outdated by the time that the tap is recorded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, and_, bindparam, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables.staff import devices, sessions, staff
from kiosk.tasting.errors import Stranger
from kiosk.web.access import IDLE, SHIFT

SENDING_DEVICE = "tablet"
"""The only kind of device that sends taps: at a screen in a hall nobody stands behind what is sent."""


@dataclass(frozen=True, slots=True)
class Sender:
    """The device that sends and who is signed in on it now, with the languages they speak."""

    device_id: int
    revoked: bool = False
    person_id: int | None = None
    languages: tuple[str, ...] = ()


FindSender = Callable[[Session], Sender]
"""Finds the sender in the transaction that records; raises Stranger."""


class SenderCredentials:
    """The sender whom a request shows by the keyed hashes of its two cookies."""

    def __init__(self, site: Site, device_hash: str, person_hash: str, now: datetime) -> None:
        self._site, self._now = site, now
        times = {"shift": now - SHIFT, "idle": now - IDLE}
        self._asked = {"device": device_hash, "person": person_hash, **times}
        self.languages: tuple[str, ...] = ()

    def __call__(self, session: Session) -> Sender:
        """Return the sender, of a revoked device too. Raises Stranger, for a mere screen too."""
        row = session.connection().execute(_WHO, self._asked).one_or_none()
        if row is None:
            raise Stranger()
        sender = Sender(row.id, row.revoked_at is not None, *self._person(row))
        self.languages = sender.languages
        return sender

    def _person(self, row: Row[Any]) -> tuple[int | None, tuple[str, ...]]:
        left = row.left_on is not None and row.left_on <= self._site.local(self._now).date()
        if row.person_id is None or row.revoked_at is not None or left:
            return None, ()
        return row.person_id, tuple(row.languages)


def _who() -> Select[Any]:
    d, s = devices.c, sessions.c
    lasting = and_(
        s.device_id == d.id,
        s.token_hash == bindparam("person"),
        s.started_at > bindparam("shift"),
        s.seen_at > bindparam("idle"),
    )
    person = (staff.c.id.label("person_id"), staff.c.languages, staff.c.left_on)
    return (
        select(d.id, d.revoked_at, *person)
        .select_from(devices.outerjoin(sessions, lasting).outerjoin(staff, staff.c.id == s.staff_id))
        .where(
            d.token_hash == bindparam("device"),
            d.enrolled_at.is_not(None),
            d.kind == SENDING_DEVICE,
        )
    )


_WHO = _who()
