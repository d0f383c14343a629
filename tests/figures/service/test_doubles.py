"""Possible doubles: when two entries may be one glass, and when they cannot."""

from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.service.doubles import RecordedGlass, possible_doubles

NINE = datetime(2026, 4, 16, 9, tzinfo=UTC)


def at(minute):
    return NINE + timedelta(minutes=minute)


def glass(key, device, recorded, *, asked=True, believed=None, guest=1, what="anejo"):
    known = None if believed is None else at(believed)
    return RecordedGlass(key, guest, what, device, at(recorded), asked, known)


FIRST = glass("a", 1, 5)


@pytest.mark.parametrize(
    ("second", "possible"),
    [
        pytest.param(glass("b", 2, 9, asked=False, believed=3), True, id="told by a tablet that was away"),
        pytest.param(glass("b", 2, 9, asked=False), True, id="told by what knows nothing"),
        pytest.param(glass("b", 2, 9, asked=False, believed=5), False, id="told by a tablet that knew of it"),
        pytest.param(glass("b", 2, 9), False, id="asked for knowing of it"),
        pytest.param(glass("b", 1, 9, asked=False, believed=3), False, id="the same tablet"),
        pytest.param(glass("b", 2, 9, asked=False, guest=2), False, id="another guest"),
        pytest.param(glass("b", 2, 9, asked=False, what="blanco"), False, id="another glass"),
    ],
)
def test_two_entries_may_be_one_glass_where_neither_tablet_knew_of_the_other(second, possible):
    assert possible_doubles([FIRST, second]) == ({"b": "a"} if possible else {})
    assert possible_doubles([second, FIRST]) == ({"b": "a"} if possible else {})


def test_a_glass_asked_for_after_one_told_late_is_known_to_be_another():
    assert possible_doubles([glass("a", 1, 5, asked=False, believed=1), glass("b", 2, 6)]) == {}


def test_one_asked_for_while_the_other_tablet_was_away_is_possibly_the_one_it_tells():
    online, late = glass("a", 2, 5), glass("b", 1, 12, asked=False, believed=4)
    assert possible_doubles([online, late]) == {"b": "a"}


def test_two_tablets_that_were_both_away_are_flagged_once():
    one, two = glass("a", 1, 10, asked=False, believed=2), glass("b", 2, 11, asked=False, believed=2)
    assert possible_doubles([one, two]) == {"b": "a"}
