"""Rows that wait: each once, with what depends on it, until a person settles them."""

from __future__ import annotations

from datetime import datetime

import pytest
from sqlalchemy import func, select

from kiosk.production.forms import review
from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from tests.production.conftest import Take
from tests.production.faults_and_values import typed

GAUGE = "F-1,2026-06-12 10:00,weight,,,187.5,density_meter,60,28\n"
GAINED = ("gauges.csv", GAUGE, GAUGE + "F-1,2026-06-14 10:00,dip,170,20,,density_meter,60,28\n")
TOMORROW = ("fills.csv", "F-1,C-1,BAJA,2026-06-08", "F-1,C-1,BAJA,2026-06-18")


def count(store: Store, table: object) -> int:
    """Count a table's rows."""
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0  # type: ignore[arg-type]


def waiting(store: Store, site: Site) -> list[review.HeldEntry]:
    """Return what waits."""
    with store.read() as session:
        return review.held_entries(session, site)


def test_the_same_file_again_holds_nothing_twice_and_changes_nothing(
    take: Take, store: Store, site: Site
) -> None:
    take(GAINED)
    with store.read() as session:
        before = versions(session)
    again = take(GAINED)
    assert (again.files["gauges.csv"].held, again.held, again.written) == (1, (), 0)
    assert len(waiting(store, site)) == 1
    with store.read() as session:
        assert versions(session) == before


def test_what_names_a_row_that_waits_waits_with_it_and_says_so(
    take_sqlite: Take, sqlite_store: Store, site: Site
) -> None:
    report = take_sqlite(TOMORROW)
    told = {(one.row.file, one.row.row): [fault.code for fault in one.reasons] for one in report.held}
    assert told.keys() == {
        ("fills.csv", 2),
        ("gauges.csv", 2),
        ("gauges.csv", 3),
        ("cask_events.csv", 2),
        ("draws.csv", 10),
    }
    assert [place for place, codes in told.items() if codes != [FaultCode.HELD_WITH_ANOTHER]] == [
        ("fills.csv", 2)
    ]
    assert count(sqlite_store, t.draws) == 10
    assert [one.recordable for one in waiting(sqlite_store, site)] == [False] * 5


def test_a_row_put_right_is_recorded_and_what_waited_for_it_follows(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(TOMORROW)
    first = next(one for one in waiting(sqlite_store, site) if one.form.name == "row-fills")
    with sqlite_store.write() as session:
        right = {**first.values, **typed(first.form.fields, site, filled_at="2026-06-08 10:00")}
        assert review.correct_held(session, site, first, first.revision, right, by=None, at=now)
    assert waiting(sqlite_store, site) == []
    assert (count(sqlite_store, t.gauges), count(sqlite_store, t.draws)) == (2, 11)
    again = take_sqlite(TOMORROW)
    assert (again.written, again.held, again.files["fills.csv"].same) == (0, (), 1)


def test_a_row_put_right_into_another_doubt_waits_again(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(GAINED)
    (one,) = waiting(sqlite_store, site)
    with sqlite_store.write() as session:
        assert not review.correct_held(
            session,
            site,
            one,
            1,
            {**one.values, **typed(one.form.fields, site, volume_l="169")},
            by=None,
            at=now,
        )
    (again,) = waiting(sqlite_store, site)
    assert again.id != one.id
    with sqlite_store.write() as session:
        right = {**one.values, **typed(one.form.fields, site, volume_l="156")}
        assert review.correct_held(session, site, again, 1, right, by=None, at=now)
    assert take_sqlite(GAINED).files["gauges.csv"].same == 3


def test_a_confirmed_row_is_recorded_as_it_stands_and_known_when_the_file_comes_again(
    take: Take, store: Store, site: Site, now: datetime
) -> None:
    take(GAINED)
    (one,) = waiting(store, site)
    assert one.recordable
    with store.write() as session:
        review.confirm(session, site, one, one.revision, by=None, at=now)
    assert count(store, t.gauges) == 3
    again = take(GAINED)
    assert (again.files["gauges.csv"].same, again.files["gauges.csv"].held, again.written) == (3, 0, 0)


def test_a_later_import_is_not_stopped_by_what_was_confirmed(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    over = ("draws.csv", ",148,1700", ",175,1700")
    take_sqlite(over)
    (one, *_others) = [one for one in waiting(sqlite_store, site) if one.recordable]
    with sqlite_store.write() as session:
        review.confirm(session, site, one, one.revision, by=None, at=now)
    more = ("stores.csv", "BAJA,Lower store\n", "BAJA,Lower store\nALTA,Upper store\n")
    assert take_sqlite(over, more).files["stores.csv"].new == 1


def test_no_confirmation_records_what_has_not_happened(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(TOMORROW)
    first = next(one for one in waiting(sqlite_store, site) if one.form.name == "row-fills")
    with sqlite_store.write() as session, pytest.raises(RecordFaults):
        review.confirm(session, site, first, first.revision, by=None, at=now)
    assert count(sqlite_store, t.fills) == 0


def test_a_dropped_row_stays_away(take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime) -> None:
    take_sqlite(GAINED)
    (one,) = waiting(sqlite_store, site)
    with sqlite_store.write() as session:
        review.settle(session, one.id, one.revision, review.DROPPED, by=None, at=now)
    again = take_sqlite(GAINED)
    assert (again.files["gauges.csv"].corrected, again.written, again.held) == (1, 0, ())
    assert waiting(sqlite_store, site) == []


def test_a_change_that_is_held_leaves_the_record_until_it_is_confirmed(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite()
    fuller = ("gauges.csv", "dip,160,20", "dip,240,20")
    report = take_sqlite(fuller)
    assert (report.written, report.files["gauges.csv"].held) == (0, 1)
    (one,) = waiting(sqlite_store, site)
    with sqlite_store.write() as session:
        review.confirm(session, site, one, one.revision, by=None, at=now)
    with sqlite_store.read() as session:
        first = session.execute(select(t.gauges.c.volume_ml, t.gauges.c.revision)).first()
    assert first == (240_000, 2)


def test_a_correction_by_hand_outlives_a_doubtful_file(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    take_sqlite()
    with sqlite_store.write() as session:
        gauge = session.execute(select(t.gauges.c.id, t.gauges.c.revision).limit(1)).one()
        rows.change(session, t.gauges, gauge.id, gauge.revision, {"volume_ml": 161_000}, by=None, at=now)
    assert take_sqlite().files["gauges.csv"].corrected == 1


def test_a_row_that_waits_for_two_follows_the_second_of_them(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    load = ("loads.csv", "L-1,2026-06-01,2026-06-01 08:00", "L-1,2026-06-01,2026-06-18 08:00")
    wash = ("washes.csv", "W-1,T1,2026-06-01 10:00,2026-06-05 07:00", "W-1,T1,2026-06-18 10:00,")
    take_sqlite(load, wash)
    right = {"row-loads": {"milled_at": "2026-06-01 08:00"}}
    right["row-washes"] = {"set_at": "2026-06-01 10:00", "ended_at": "2026-06-05 07:00"}
    for form, cells in right.items():
        one = next(one for one in waiting(sqlite_store, site) if one.form.name == form)
        with sqlite_store.write() as session:
            says = {**one.values, **typed(one.form.fields, site, **cells)}
            assert review.correct_held(session, site, one, one.revision, says, by=None, at=now)
    assert waiting(sqlite_store, site) == []
    assert count(sqlite_store, t.draws) == 11


def test_what_is_over_a_gauge_waits_and_is_recorded_once_the_gauge_is_put_right(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(("draws.csv", "2026-06-09 09:00,,,1.2,", "2026-06-09 09:00,,,4.2,"))
    (one,) = waiting(sqlite_store, site)
    assert not one.recordable
    with pytest.raises(RecordFaults), sqlite_store.write() as session:
        review.confirm(session, site, one, one.revision, by=None, at=now)
    with sqlite_store.write() as session:
        heads = session.execute(
            select(t.receivers.c.id, t.receivers.c.revision).where(t.receivers.c.cut == "heads")
        ).one()
        more = {"alcohol_ml": 4_200}
        rows.change(session, t.receivers, heads.id, heads.revision, more, by=None, at=now, why="misread")
    with sqlite_store.write() as session:
        assert review.correct_held(session, site, one, one.revision, one.values, by=None, at=now)


def test_an_old_row_is_not_recorded_over_one_that_came_after_it(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(GAINED)
    take_sqlite(("gauges.csv", GAUGE, GAUGE + "F-1,2026-06-14 10:00,dip,156,20,,density_meter,60,28\n"))
    assert waiting(sqlite_store, site) == []


def test_a_changed_gauge_of_less_than_was_drawn_waits_and_cannot_be_confirmed(
    take_sqlite: Take, sqlite_store: Store, site: Site
) -> None:
    take_sqlite()
    report = take_sqlite(("receivers.csv", "150,20,density_meter,72", "100,20,density_meter,72"))
    assert (report.written, report.files["receivers.csv"].held) == (0, 1)
    assert [one.recordable for one in waiting(sqlite_store, site)] == [False]
