"""Six digits, no trivial ones, kept under the site's secret."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.staff.errors import Refusal
from kiosk.staff.pins import check_shape, hash_pin, is_trivial, matches
from tests.actors import CHEAP, PIN, small_site
from tests.staff.refusals import refused


@pytest.mark.parametrize("pin", ["", "12345", "1234567", "12345a", "１２３４５６", "40 917", "-40291"])
def test_a_pin_is_six_digits(pin: str) -> None:
    with refused(Refusal.PIN_FORMAT):
        check_shape(pin)


TRIVIAL = [
    "000000",
    "111111",
    "123456",
    "654321",
    "890123",
    "210987",
    "135791",
    "121212",
    "123123",
    "112112",
    "122112",
]


@pytest.mark.parametrize("pin", TRIVIAL)
def test_what_anybody_would_try_first_is_refused(pin: str) -> None:
    with refused(Refusal.PIN_TRIVIAL):
        check_shape(pin)


def test_nothing_is_kept_of_what_may_not_be_a_pin(tmp_path: Path) -> None:
    for pin, refusal in (("12345", Refusal.PIN_FORMAT), ("123456", Refusal.PIN_TRIVIAL)):
        with refused(refusal):
            hash_pin(pin, small_site(tmp_path), CHEAP)


def test_few_pins_are_lost_to_that_rule() -> None:
    lost = sum(is_trivial(f"{n:06}") for n in range(1_000_000))
    assert 1_000 < lost < 6_000


def test_only_the_right_pin_matches(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    kept = hash_pin(PIN, site, CHEAP)
    assert matches(PIN, kept, site)
    assert not matches("402918", kept, site)
    assert PIN not in kept


def test_a_stolen_hash_is_worth_nothing_without_the_sites_secret(tmp_path: Path) -> None:
    kept = hash_pin(PIN, small_site(tmp_path), CHEAP)
    assert not matches(PIN, kept, small_site(tmp_path, secret=bytes(32)))


def test_the_houses_own_hash_is_argon2id_of_64_mib(tmp_path: Path) -> None:
    assert hash_pin(PIN, small_site(tmp_path)).startswith("$argon2id$v=19$m=65536,t=3,p=1$")
