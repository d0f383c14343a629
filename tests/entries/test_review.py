"""What is held for review: how much of it, and what becomes of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import event, func, insert, select

from kiosk.app import entry_kinds
from kiosk.entries import review
from kiosk.entries.entries import LONGEST_OUTAGE
from kiosk.entries.intake import Sender, take_in_entries
from kiosk.entries.review import AsksNow, record_held_entry
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import held
from kiosk.store.tables.shared import history
from kiosk.store.tables.tasting import pours
from kiosk.tasting.inspection.records import read_inspection
from kiosk.tasting.shift_closing.closing import body
from tests.tasting_room import QUARTER_UL


def ask(guest, **changes):
    row = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**row, **changes}


def from_revoked(tasting, *sent, ago=timedelta(hours=1)):
    sender = Sender(tasting.tablet, revoked_at=tasting.now - ago)
    return take_in_entries(
        tasting.store, tasting.site, entry_kinds(), lambda *_asked: sender, sent, tasting.now
    )


def waiting(tasting):
    with tasting.store.read() as session:
        return review.waiting_rows(session, review.HELD_ENTRY_KINDS)


def recorded(tasting, row):
    with tasting.store.write() as session:
        kinds, at = entry_kinds(), tasting.now
        return record_held_entry(session, tasting.site, kinds, row, row.revision, by=tasting.ana, at=at)


def test_a_revoked_tablets_late_facts_wait_for_a_day_and_then_stay_on_the_tablet(tasting):
    row = ask(tasting.guests[0])
    (answer,) = from_revoked(tasting, row, ago=review.REVOKED_SENDS + timedelta(seconds=1))
    assert (answer.outcome, answer.status, answer.reasons) == ("keep", 429, ("revoked_before",))
    assert waiting(tasting) == []
    assert from_revoked(tasting, row, ago=review.REVOKED_SENDS)[0].outcome == "held"
    late = from_revoked(tasting, row, ago=review.REVOKED_SENDS * 2)
    assert late[0].outcome == "held"  # it waits already: the tablet may forget it
    assert len(waiting(tasting)) == 1


def test_so_many_entries_of_one_device_wait_and_no_more(tasting, monkeypatch):
    monkeypatch.setattr(review, "MOST_HELD", 2)
    outcomes = [one.outcome for one in from_revoked(tasting, *(ask(tasting.guests[0]) for _ in range(4)))]
    assert outcomes == ["held", "held", "keep", "keep"]
    with tasting.store.write() as session:
        review.settle(session, waiting(tasting)[0], 1, review.DISCARDED, "practice", by=1, at=tasting.now)
    assert from_revoked(tasting, ask(tasting.guests[0]))[0].outcome == "held"


def test_an_entry_too_large_to_wait_stays_on_the_tablet(tasting):
    row = ask(tasting.guests[0], note="x" * review.LARGEST_BYTES)
    assert from_revoked(tasting, row)[0].reasons == ("too_large",)
    assert waiting(tasting) == []


def test_holding_an_entry_costs_as_much_beside_hundreds_that_wait(tasting):
    def cost():
        asked = []
        listen = (tasting.store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
        event.listen(*listen)
        from_revoked(tasting, ask(tasting.guests[0]))
        event.remove(*listen)
        return asked

    first = cost()
    old = {
        "kind": "pours",
        "payload": {"n": 1},
        "reasons": [],
        "at": tasting.now,
        "device_id": tasting.tablet,
    }
    with tasting.store.write() as session:
        session.execute(insert(held), [{**old, "digest": f"{n:064x}"} for n in range(300)])
    later = cost()
    assert len(later) == len(first)
    assert not [sql for sql in later if "payload" in sql and sql.startswith("SELECT")]


def test_a_pour_that_is_recorded_from_review_counts_in_limit_closing_and_inspection_as_claimed(tasting):
    then = tasting.now - timedelta(minutes=30)
    from_revoked(tasting, ask(tasting.guests[0], at=then.isoformat(), by=tasting.bea))
    assert recorded(tasting, waiting(tasting)[0]).outcome == "poured"
    tile = tasting.room().tiles[0]
    assert (tile.samples, tile.claimed, tile.last.at) == (1, 1, then)
    assert tile.next.product == "anejo"
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        shift = body(session, tasting.site, "main", day, 20.0)
        inspection = read_inspection(session, tasting.site, day, day)
        assert session.scalars(select(pours.c.asked)).one() is False
        assert session.execute(select(held.c.outcome, held.c.settled_by)).one() == ("recorded", tasting.ana)
    server = {"staff_id": tasting.bea, "claimed": True, "pours": 1, "volume_ul": QUARTER_UL}
    assert (shift["pours"], shift["servers"]) == (1, [server])
    assert [pour.entry.server_checked for pour in inspection.verdicts] == [False]
    assert waiting(tasting) == []


def test_a_fact_that_is_older_than_an_outage_keeps_its_time_when_a_person_records_it(tasting):
    then = tasting.now - LONGEST_OUTAGE - timedelta(hours=2)
    sender = Sender(tasting.tablet, None, tasting.ana, (), frozenset({"manager"}))
    row = ask(tasting.guests[0], asked=False, at=then.isoformat())
    take_in_entries(tasting.store, tasting.site, entry_kinds(), lambda *_asked: sender, [row], tasting.now)
    assert waiting(tasting)[0].reasons == ["too_old"]
    assert recorded(tasting, waiting(tasting)[0]).at == then


@pytest.mark.parametrize(
    "changes",
    [
        {"ledger": "marks", "kind": "id_check"},
        {"ledger": "marks", "kind": "service_resumed"},
        {"ledger": "pour_marks", "kind": "void"},
        {"ledger": "pour_marks", "kind": "not_served", "reason": "not_taken"},
    ],
)
def test_what_opens_or_gives_back_is_not_recorded_from_review(tasting, changes):
    poured = tasting.pour(tasting.guests[0]).key
    about = {"guest": tasting.guests[1]} if changes["ledger"] == "marks" else {"pour": poured}
    from_revoked(tasting, {"key": new_key(), **about, **changes})
    with pytest.raises(AsksNow):
        recorded(tasting, waiting(tasting)[0])
    assert len(waiting(tasting)) == 1


def test_who_discards_says_why_and_the_history_keeps_it(tasting):
    from_revoked(tasting, ask(tasting.guests[0]))
    with tasting.store.write() as session:
        row = waiting(tasting)[0]
        review.settle(
            session, row, row.revision, review.DISCARDED, "practice", by=tasting.ana, at=tasting.now
        )
    with tasting.store.read() as session:
        why = select(history.c.why, history.c.by).where(history.c.table_name == "held")
        assert session.execute(why).one() == ("practice", tasting.ana)
        assert session.scalar(select(func.count()).select_from(pours)) == 0
