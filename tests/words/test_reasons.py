"""Why a pour is not served: words for staff and kind ones for the guest."""

from __future__ import annotations

from fractions import Fraction

import pytest

from kiosk.figures.service import allowance
from kiosk.figures.service.policy import COUNTED, Kind, Limit, Per, ServicePolicy, ServiceState
from kiosk.words.catalogs import Words
from kiosk.words.reasons import REASONS, for_guest, for_staff
from tests.words.readers import ENGLISH, SPANISH

SPANS: tuple[Per, ...] = ("visit", "day", 90)
LIMITS = (
    Limit("largest", Kind.LARGEST, "pour", most=14787),
    Limit("sizes", Kind.SIZES, "pour", sizes_ul=(Fraction(25000),)),
    Limit("gap", Kind.GAP, 10, most=600),
    Limit("visits", Kind.VISITS, "day", most=1),
    *(Limit(f"{kind}_{per}", kind, per, most=6) for kind in sorted(COUNTED) for per in SPANS),
)
POLICY = ServicePolicy(guest_age=21, basis="invented for a test", year=2026, limits=LIMITS)
CODES = [
    *(state for state in ServiceState if state is not ServiceState.MAY_BE_SERVED),
    *(
        allowance.NOT_APPROVED,
        allowance.HOURS,
        allowance.WAIT,
        allowance.TOUR,
        allowance.ROOM,
        allowance.GONE,
        allowance.NEAT_ONLY,
        allowance.NOT_OWN,
        allowance.SERVER_AGE,
        allowance.SERVER_PERMIT,
    ),
]


@pytest.mark.parametrize("code", CODES)
def test_every_code_of_the_rules_has_words(code: str) -> None:
    assert code in REASONS


@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
@pytest.mark.parametrize("code", [*CODES, *(limit.id for limit in LIMITS), "a rule of last year"])
def test_every_reason_is_a_whole_sentence_in_both_voices(code: str, words: Words) -> None:
    for text in (for_staff(code, POLICY, words), for_guest(code, POLICY, words)):
        assert text.endswith((".", "?"))
        assert "{" not in text


@pytest.mark.parametrize("code", [*CODES, *(limit.id for limit in LIMITS)])
def test_a_guest_is_never_blamed_and_hears_no_number_of_others(code: str) -> None:
    told = for_guest(code, POLICY, ENGLISH).lower()
    for word in ("drunk", "too much", "not allowed", "refus", "limit", "you must", "fit to drive"):
        assert word not in told


@pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.id)
def test_every_kind_of_limit_has_words_of_its_own(limit: Limit) -> None:
    assert for_staff(limit.id, POLICY, ENGLISH) != for_staff("a rule of last year", POLICY, ENGLISH)


def test_the_age_is_the_policys_own() -> None:
    assert "21" in for_guest("under_age", POLICY, SPANISH)
