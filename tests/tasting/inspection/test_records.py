"""An inspection reads a span whole, names no guest, and asks as little for a quarter as for a day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import event

from kiosk.store import rows
from kiosk.store.tables.tours import guests
from kiosk.tasting.inspection.records import LONGEST, Inspection, SpanRefused, check_span, read_inspection
from tests.tasting.inspected import FIRST, LAST, two_days
from tests.tasting_room import Tasting


@pytest.fixture
def tasting(store, tmp_path, now) -> Tasting:
    """Two days with everything."""
    return two_days(store, tmp_path, now)


def read(tasting: Tasting, first: date = FIRST, last: date = LAST) -> Inspection:
    with tasting.store.read() as session:
        return read_inspection(session, tasting.site, first, last)


def test_a_day_holds_what_happened_on_it_and_no_more(tasting: Tasting) -> None:
    told = read(tasting, FIRST, FIRST)
    assert [one.served.product for one in told.verdicts] == ["blanco", "anejo"]
    assert [row.reasons for row in told.refusals] == [["not_checked"]]
    assert [row.kind for row in told.marks] == ["id_check", "under_age"]
    assert [(row.day, row.revision) for row in told.shift_closings] == [(FIRST, 1)]
    assert (len(told.versions), dict(told.day_restrictions)) == (1, {})


def test_a_span_has_the_version_that_it_begins_under_and_those_after(tasting: Tasting) -> None:
    told = read(tasting)
    assert [told.policies[one.key].year for one in told.versions] == [2026, 2027]
    assert [one.by for one in told.versions] == [tasting.ana] * 2
    last = read(tasting, LAST, LAST)
    assert [last.policies[one.key].year for one in last.versions] == [2026, 2027]
    assert [given.why for given in told.day_restrictions[LAST]] == ["a hot day"]


def test_a_flagged_glass_is_found_with_what_was_done(tasting: Tasting) -> None:
    (flagged,) = [one for one in read(tasting).verdicts if one.reasons]
    assert set(flagged.reasons) == {"other_day", "not_checked"}
    told = read(tasting)
    assert [row.kind for row in told.corrected[flagged.served.key]] == ["reassign"]
    assert told.numbers[flagged.served.guest_id] == (FIRST, 2)


def test_permits_approvals_and_names_of_staff_are_those_of_the_span(tasting: Tasting) -> None:
    told = read(tasting)
    assert [(row.staff_id, row.number) for row in told.permits] == [(tasting.bea, "SP-20")]
    assert {row.product for row in told.approvals} == {"blanco", "anejo", "jengibre"}
    assert set(told.names.values()) == {"Ana", "Bea"}
    assert read(tasting, FIRST - timedelta(days=1), FIRST - timedelta(days=1)).permits == []


def test_no_guests_name_is_in_it(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        rows.change(
            session, guests, tasting.guests[0], 1, {"first_name": "Perpetua"}, by=None, at=tasting.now
        )
    assert "Perpetua" not in repr(read(tasting))


def test_as_many_queries_for_a_quarter_as_for_a_day(tasting: Tasting) -> None:
    def asked(first: date, last: date) -> int:
        statements: list[str] = []

        def note(_c, _cursor, statement, *_rest) -> None:
            statements.extend([statement] if statement.startswith("SELECT") else [])

        event.listen(tasting.store.engine, "before_cursor_execute", note)
        read(tasting, first, last)
        event.remove(tasting.store.engine, "before_cursor_execute", note)
        return len(statements)

    assert asked(FIRST, FIRST) == asked(FIRST - timedelta(days=LONGEST - 2), LAST)


@pytest.mark.parametrize(
    ("first", "last", "good"),
    [
        (LAST, LAST, True),
        (FIRST, LAST, True),
        (LAST, FIRST, False),
        (LAST, LAST + timedelta(days=1), False),
        (LAST - timedelta(days=LONGEST - 1), LAST, True),
        (LAST - timedelta(days=LONGEST), LAST, False),
    ],
)
def test_days_to_come_turned_round_or_too_many_make_no_report(
    tasting: Tasting, first: date, last: date, good: bool
) -> None:
    if good:
        check_span(tasting.site, first, last, tasting.now)
    else:
        with pytest.raises(SpanRefused):
            check_span(tasting.site, first, last, tasting.now)
