"""A start is an instant of the site's own clock; what that clock never shows is no time."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from werkzeug.datastructures import MultiDict

from kiosk.tours.planning.forms import (
    BOOKING_FIELDS,
    TOUR_FIELDS,
    parse_booking,
    parse_start,
    parse_tour,
    plain,
    typed_form,
)
from tests.tasting_room import Tasting

MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-06-16T09:30", datetime(2026, 6, 16, 7, 30, tzinfo=UTC)),
        ("2026-06-16 09:30", datetime(2026, 6, 16, 7, 30, tzinfo=UTC)),
        ("2026-10-25T02:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),  # twice: the first
        ("2026-10-25T02:30+01:00", datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),
        ("2026-03-29T02:30", None),  # left out in spring
        ("0001-01-01T00:00", None),
        ("9999-12-31T23:59", None),
        ("soon", None),
        ("", None),
    ],
)
def test_a_start_is_read_on_the_clock_of_the_site(text: str, utc: datetime | None) -> None:
    assert parse_start(text, MADRID) == utc


def test_what_is_typed_stays_on_one_line_without_signs_that_cannot_be_seen() -> None:
    assert plain(" two\nlines\x00\u200b ") == "two lines"


def test_a_choice_that_is_no_number_is_no_row_and_none_chosen_is_none(tasting: Tasting) -> None:
    sent = MultiDict({"guide": "x", "flight": "", "places": "1e9", "starts_at": "", "room": "main"})
    draft = parse_tour(typed_form(sent, ["en", "en"], TOUR_FIELDS), tasting.site)
    assert (draft.guide_id, draft.flight_id, draft.places, draft.languages) == (-1, None, None, ("en",))


def test_a_size_that_is_no_whole_number_is_kept_as_typed(tasting: Tasting) -> None:
    draft = parse_booking(typed_form({"size": "two"}, ["milk"], BOOKING_FIELDS), tasting.site)
    assert (draft.size, draft.typed_size, draft.allergens) == (None, "two", ("milk",))
    assert draft.ticket is None  # a house without kinds of tickets asks for none
