"""What became of a tap, read back from the ledgers by its key."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.store.tables.tasting import pours, refusals
from kiosk.tasting.entries import KEY, Answer


def told(session: Session, key: str) -> Answer | None:
    """Return the answer that an asked or recorded pour got, or None for any other key."""
    if not KEY.fullmatch(key):
        return None
    refused = session.execute(
        select(refusals.c.reasons, refusals.c.guest_id, refusals.c.at).where(refusals.c.key == key)
    ).one_or_none()
    if refused:
        return Answer(
            key, "refused", reasons=tuple(refused.reasons), guest_id=refused.guest_id, at=refused.at
        )
    poured = session.execute(select(pours.c.guest_id, pours.c.at).where(pours.c.key == key)).one_or_none()
    return Answer(key, "poured", guest_id=poured.guest_id, at=poured.at) if poured else None
