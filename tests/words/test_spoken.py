"""Numbers rounded for the ear."""

from __future__ import annotations

from decimal import Decimal

import pytest

from kiosk.words.spoken import by_ear, hours_by_ear, share_by_ear
from tests.words.readers import ENGLISH, SPANISH


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("186", "almost 190"),
        ("196", "almost 200"),
        ("192", "a little over 190"),
        ("190", "190"),
        ("7", "7"),
        ("6.4", "6.4"),
        ("14.11", "about 14"),
        ("21340", "a little over 21,000"),
        ("84.2", "about 84"),
        ("0", "0"),
        ("-196", "almost -200"),
    ],
)
def test_numbers_are_rounded_to_two_figures_with_the_side_of_the_truth(value: str, said: str) -> None:
    assert by_ear(Decimal(value), ENGLISH) == said


def test_spanish_says_the_same() -> None:
    assert by_ear(Decimal(196), SPANISH) == "casi 200"


@pytest.mark.parametrize(
    ("share", "said"),
    [
        ("0.1", "about one part in 10"),
        ("0.0623", "about one part in 16"),
        ("0.5", "about one part in 2"),
        ("0.75", "75 percent"),
        ("0.001", "0.1 percent"),
    ],
)
def test_shares_are_said_as_one_part_in_so_many(share: str, said: str) -> None:
    assert share_by_ear(Decimal(share), ENGLISH) == said


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ("0.02", "5 minutes"),
        ("0.7", "40 minutes"),
        ("1.7", "100 minutes"),
        ("2.136", "2 hours"),
        ("13.6", "14 hours"),
        ("35.4", "35 hours"),
        ("95", "4 days"),
    ],
)
def test_a_span_is_said_in_the_unit_that_one_would_say(hours: str, said: str) -> None:
    assert hours_by_ear(Decimal(hours), ENGLISH) == said


def test_a_span_is_said_in_spanish() -> None:
    assert hours_by_ear(Decimal("2.136"), SPANISH) == "2 horas"
