"""A measure is checked by ten weighed pours of water, and its last check counts."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.entries.errors import Malformed
from kiosk.figures.errors import FigureError
from kiosk.tasting.bottles.measures import last_checks, record_check


def checked(tasting, weights, measure="quarter-ounce", at=None):
    with tasting.store.write() as session:
        return record_check(session, tasting.site, tasting.origin(), measure, weights, at or tasting.now)


def test_the_last_check_of_a_measure_counts(tasting):
    checked(tasting, [7.0, 7.8] * 5, at=tasting.now - timedelta(days=1))
    newer = checked(tasting, [7.3, 7.5] * 5)
    with tasting.store.read() as session:
        found = last_checks(session, tasting.now + timedelta(seconds=1))
        before = last_checks(session, tasting.now)
    assert found["quarter-ounce"].check == newer
    assert before["quarter-ounce"].check != newer


def test_ten_weights_of_a_measure_of_the_house(tasting):
    with pytest.raises(FigureError):
        checked(tasting, [7.4] * 9)
    with pytest.raises(Malformed):
        checked(tasting, [7.4] * 10, "thimble")
