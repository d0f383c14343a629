"""Who sends taps: the device by its cookie and who is signed in on it, found in the tap's own transaction.

A transaction of its own before each tap would cost as much as the tap, and could
be outdated by the time that the tap is recorded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.sessions import cookie_parameters, select_by_cookies
from kiosk.store.tables.staff import devices
from kiosk.tasting.errors import Stranger

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
        self._asked = cookie_parameters(device_hash, person_hash, now)
        self.languages: tuple[str, ...] = ()

    def __call__(self, session: Session) -> Sender:
        """Return the sender, of a revoked device too. Raises Stranger, for a mere screen too."""
        row = session.connection().execute(_WHO, self._asked).one_or_none()
        if row is None:
            raise Stranger()
        sender = Sender(row.device_id, row.revoked_at is not None, *self._person(row))
        self.languages = sender.languages
        return sender

    def _person(self, row: Row[Any]) -> tuple[int | None, tuple[str, ...]]:
        left = row.left_on is not None and row.left_on <= self._site.local(self._now).date()
        if row.staff_id is None or row.revoked_at is not None or left:
            return None, ()
        return row.staff_id, tuple(row.languages)


_WHO = select_by_cookies(devices.c.revoked_at).where(devices.c.kind == SENDING_DEVICE)
