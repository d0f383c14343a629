"""Later entries that correct a pour; the pour itself stays as it was recorded."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.store import ledgers
from kiosk.store.guests import lock_guests
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.tasting.entries import Answer, CorrectionTap
from kiosk.tasting.errors import Malformed, TooLate, UnknownPour

KINDS = frozenset({"mis_tap", "not_served", "cleared", "to_guest", "left", "emptied"})
UNDO = timedelta(seconds=20)
ON_THE_WAY = timedelta(seconds=3)
"""A tap in the last moment of the 20 seconds may still be on its way."""


def correct(session: Session, sent: CorrectionTap, now: datetime) -> Answer:
    """Record a correction under the locks of the guests whom it concerns.

    The session is a write transaction that has not read yet. A mis-tap is
    accepted for 20 seconds after its tap. Raises UnknownPour, TooLate,
    Malformed, NoSuchRow for an unknown guest, and KeyConflict.
    """
    if sent.kind not in KINDS or (sent.kind == "to_guest") != (sent.guest_id is not None):
        raise Malformed(part="kind")
    poured = _pour(session, sent.pour_key)
    lock_guests(session, [guest for guest in (poured.guest_id, sent.guest_id) if guest is not None])
    at = sent.tap.at(now)
    if sent.kind == "mis_tap" and not _stands(session, sent) and at - poured.at > UNDO + ON_THE_WAY:
        raise TooLate(seconds=int(UNDO.total_seconds()))
    ledgers.append(session, pour_marks, _values(sent, at, now), found_here={"at", "device_id"})
    return Answer(sent.tap.key, "corrected", guest_id=poured.guest_id, at=at)


def _pour(session: Session, key: str) -> Row[Any, Any]:
    found = session.execute(select(pours.c.guest_id, pours.c.at).where(pours.c.key == key)).one_or_none()
    if found is None:
        raise UnknownPour()
    return found


def _stands(session: Session, sent: CorrectionTap) -> bool:
    key = select(pour_marks.c.key).where(pour_marks.c.key == sent.tap.key)
    return session.execute(key).first() is not None


def _values(sent: CorrectionTap, at: datetime, now: datetime) -> dict[str, object]:
    return {
        **sent.tap.values(at, now),
        "pour_key": sent.pour_key,
        "kind": sent.kind,
        "guest_id": sent.guest_id,
    }
