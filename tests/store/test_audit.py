"""Acts of no row stand in the history, in their order.

A clock behind what was recorded is doubted until somebody says that it is right.

A database belongs to one site for ever.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from kiosk.store import audit
from kiosk.store.audit import (
    TOLERANCE,
    ClockDoubted,
    confirm_clock,
    mark_site,
    marked_site,
    require_plausible_clock,
)
from kiosk.store.engine import Store
from kiosk.store.errors import OtherSite
from kiosk.store.ledgers import new_key
from kiosk.store.tables.shared import history
from kiosk.store.tables.tasting import measure_checks, policies


def test_an_act_is_kept_with_what_it_did_and_the_last_one_is_known(store: Store, now: datetime) -> None:
    later = now + timedelta(days=1)
    with store.write() as session:
        assert audit.last_recorded(session, "daily") is None
        audit.record_act(session, "daily", {"guests": 3}, by=None, at=now)
        audit.record_act(session, "daily", {"guests": 0}, by=None, at=later)
        audit.record_act(session, "export", {}, by=None, at=now)
    with store.read() as session:
        assert audit.last_recorded(session, "daily") == later
        kept = session.execute(select(history.c.act, history.c.before, history.c.at).order_by(history.c.id))
        assert [tuple(row) for row in kept][:2] == [
            ("daily", {"guests": 3}, now),
            ("daily", {"guests": 0}, later),
        ]


def test_an_act_stands_in_the_history_under_row_0_and_counts_its_revisions(
    store: Store, now: datetime
) -> None:
    with store.write() as session:
        audit.record_act(session, "daily", {}, by=None, at=now)
        audit.record_act(session, "export", {}, by=None, at=now)
        audit.record_act(session, "daily", {}, by=None, at=now)
    with store.read() as session:
        h = history.c
        kept = session.execute(select(h.table_name, h.row_id, h.revision).order_by(h.id))
        assert [tuple(row) for row in kept] == [("daily", 0, 1), ("export", 0, 1), ("daily", 0, 2)]


def test_it_is_known_how_long_no_daily_run_succeeded(store: Store, now: datetime) -> None:
    day = timedelta(days=1)
    with store.write() as session:
        assert audit.unattended(session, now) is None  # of no site yet
        mark_site(session, "loma-candil", at=now - 3 * day)
        assert audit.unattended(session, now) == 3 * day
        audit.record_act(session, audit.DAILY, {}, by=None, at=now - day)
        assert audit.unattended(session, now) == day


ZONE = ZoneInfo("Etc/GMT+4")


def record(store: Store, at: datetime, recorded_at: datetime) -> None:
    """Record something in two ledgers, the second much earlier."""
    with store.write() as session:
        one = {
            "key": new_key(),
            "at": at,
            "recorded_at": recorded_at,
            "measure": "half-ounce",
            "weights_g": [],
        }
        session.execute(measure_checks.insert().values(one))
        early = recorded_at - timedelta(days=900)
        two = {"key": new_key(), "at": early, "recorded_at": early, "digest": "", "body": {}, "basis": ""}
        session.execute(policies.insert().values(two))


def believed(store: Store, now: datetime) -> bool:
    with store.read() as session:
        try:
            require_plausible_clock(session, now, ZONE)
        except ClockDoubted:
            return False
    return True


def test_an_empty_database_believes_any_clock(store: Store, now: datetime) -> None:
    assert believed(store, now - timedelta(days=9000))


@pytest.mark.parametrize(
    ("behind", "good"), [(timedelta(0), True), (TOLERANCE, True), (TOLERANCE + timedelta(seconds=1), False)]
)
def test_a_clock_may_be_two_minutes_behind_the_newest_entry(
    store: Store, now: datetime, behind: timedelta, good: bool
) -> None:
    record(store, now - timedelta(days=3), recorded_at=now)
    assert believed(store, now - behind) is good


def test_when_something_happened_says_nothing_only_when_it_was_recorded(store: Store, now: datetime) -> None:
    record(store, now + timedelta(days=30), recorded_at=now)
    assert believed(store, now)


def test_both_times_are_told_on_the_sites_clock(store: Store, now: datetime) -> None:
    record(store, now, recorded_at=now)
    with store.read() as session, pytest.raises(ClockDoubted) as told:
        require_plausible_clock(session, now - timedelta(days=1), ZONE)
    assert told.value.facts == {"now": "2026-06-15 11:00", "newest": "2026-06-16 11:00"}


def test_once_confirmed_it_is_believed_until_something_newer_is_ahead_of_it(
    store: Store, now: datetime
) -> None:
    record(store, now, recorded_at=now + timedelta(days=2))  # a clock that once ran ahead
    with store.write() as session:
        confirm_clock(session, now)
    assert believed(store, now)
    assert believed(store, now + timedelta(hours=1))
    record(store, now, recorded_at=now + timedelta(days=3))
    assert not believed(store, now + timedelta(hours=2))


def test_a_new_database_is_nobodys(store: Store) -> None:
    with store.read() as session:
        assert marked_site(session) is None


def test_the_first_mark_stands_and_the_same_site_may_come_again(store: Store, now: datetime) -> None:
    for _ in range(2):
        with store.write() as session:
            mark_site(session, "loma-candil", at=now)
    with store.read() as session:
        assert marked_site(session) == "loma-candil"


def test_another_site_is_refused(store: Store, now: datetime) -> None:
    with store.write() as session:
        mark_site(session, "loma-candil", at=now)
    with pytest.raises(OtherSite) as told, store.write() as session:
        mark_site(session, "other", at=now)
    assert (told.value.found, told.value.facts) == ("loma-candil", {"found": "loma-candil"})
