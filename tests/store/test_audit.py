"""Acts of no row stand in the history, in their order."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import select

from kiosk.store import audit
from kiosk.store.engine import Store
from kiosk.store.tables.shared import history


def test_an_act_is_kept_with_what_it_did_and_the_last_one_is_known(store: Store, now: datetime) -> None:
    later = now + timedelta(days=1)
    with store.write() as session:
        assert audit.last(session, "daily") is None
        audit.note(session, "daily", {"guests": 3}, by=None, at=now)
        audit.note(session, "daily", {"guests": 0}, by=None, at=later)
        audit.note(session, "export", {}, by=None, at=now)
    with store.read() as session:
        assert audit.last(session, "daily") == later
        kept = session.execute(select(history.c.act, history.c.before, history.c.at).order_by(history.c.id))
        assert [tuple(row) for row in kept][:2] == [
            ("daily", {"guests": 3}, now),
            ("daily", {"guests": 0}, later),
        ]
