from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import rounding as s


@pytest.mark.parametrize(
    ("value", "digits", "rounded"),
    [
        (189.972, 1, 190.0),  # 27 CFR 30.23
        (189.95, 1, 190.0),
        (189.94, 1, 189.9),
        (0.25, 1, 0.3),  # half to even would say 0.2
        (2.675, 2, 2.68),  # its binary neighbour lies below
        (-0.25, 1, -0.3),
        (0.1 + 0.2 - 0.05, 1, 0.3),
        (3721.06392, 1, 3721.1),  # 27 CFR 30.51
        (1250.0, -2, 1300.0),
        (5.0, 0, 5.0),
    ],
)
def test_a_half_is_rounded_up(value: float, digits: int, rounded: float) -> None:
    assert s.round_half_up(value, digits) == rounded


def test_proof_is_stated_to_a_tenth() -> None:
    assert s.stated_proof(189.972) == 190.0


# In per cent to one decimal: what is shown.
@pytest.mark.parametrize(
    ("share", "shown"),
    [
        (0.0996, "9.96"),  # not 10.0
        (0.09995, "9.995"),
        (0.0999999, "9.999"),  # the nines stand
        (0.0994, "9.9"),
        (0.1, "10.0"),
        (0.1004, "10.0"),
        (0.1096, "11.0"),  # 10.96 stays within its place: 11.0 is a fair rounding
        (0.9996, "99.96"),
        (0.99999999, "99.999"),
        (1.0, "100.0"),
        (0.1 + 0.2 + 0.7 - 1e-16, "100.0"),  # a float's noise is not a missing part
        (0.0096, "0.96"),
        (0.0004, "0.0"),
        (0.00096, "0.1"),
        (0.0, "0.0"),
        (0.0625, "6.3"),
        (1.5, "150.0"),
    ],
)
def test_a_share_does_not_reach_by_rounding_what_it_has_not_reached(share: float, shown: str) -> None:
    assert str(s.rounded_share(share, 1)) == shown


@given(st.floats(0.0, 1.0), st.integers(0, 3))
def test_a_share_is_shown_within_half_a_digit_or_cut_at_its_nines(share: float, digits: int) -> None:
    shown = s.rounded_share(share, digits)
    assert abs(float(shown) - 100 * share) <= 0.5 * 10.0**-digits + 1e-9
    assert shown < 100 or share > 1 - 1e-11


def test_a_number_is_taken_as_it_was_meant() -> None:
    assert str(s.written(0.1 + 0.2)) == "0.3"
