"""What became of a tap, read back from the ledgers by its key."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import KEY, Answer
from kiosk.store.ledgers import keys_within
from kiosk.store.tables.tasting import pours, refusals


def stored_answer(session: Session, key: str) -> Answer | None:
    """Return the answer that an asked or recorded pour got, or None for any other key.

    Of a mat of which some glasses were refused it is that refusal, with every reason.
    """
    if not KEY.fullmatch(key):
        return None
    r = refusals.c
    of_act = select(r.reasons, r.guest_id, r.at).where(r.key.between(*keys_within(key))).order_by(r.key)
    refused = session.execute(of_act).all()
    if refused:
        first, reasons = refused[0], dict.fromkeys(reason for row in refused for reason in row.reasons)
        return Answer(key, "refused", reasons=tuple(reasons), guest_id=first.guest_id, at=first.at)
    poured = session.execute(select(pours.c.guest_id, pours.c.at).where(pours.c.key == key)).one_or_none()
    return Answer(key, "poured", guest_id=poured.guest_id, at=poured.at) if poured else None
