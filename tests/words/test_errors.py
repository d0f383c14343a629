"""Errors as sentences."""

from __future__ import annotations

from datetime import date

import pytest

from kiosk.cards.card_address import NoPublicAddress
from kiosk.figures.errors import FigureError
from kiosk.figures.strength import density, true_abv
from kiosk.words.errors import FIGURE_REASONS, said, sentence
from tests.words.readers import ENGLISH, SPANISH, SPANISH_COMMA


def test_an_error_of_ours_is_told_from_its_message_and_facts() -> None:
    assert sentence(NoPublicAddress("http://localhost"), ENGLISH).startswith(
        "No card can be printed with the address http://localhost:"
    )
    assert "public_address" in sentence(NoPublicAddress(None), SPANISH)


def test_an_unforeseen_error_keeps_its_details_to_itself() -> None:
    assert "secret" not in sentence(RuntimeError("secret path"), ENGLISH)


def test_a_figures_error_names_field_value_and_what_is_allowed() -> None:
    with pytest.raises(FigureError) as fault:
        density(0.4, 41.5)
    assert "41.5" in sentence(fault.value, ENGLISH)
    assert sentence(fault.value, ENGLISH).startswith("The temperature in °C is 41.5;")
    assert sentence(fault.value, SPANISH_COMMA).startswith("La temperatura en °C: dice 41,5;")


@pytest.mark.parametrize("reason", [*FIGURE_REASONS, "a reason of tomorrow"])
def test_every_reason_gives_a_sentence_in_both_languages(reason: str) -> None:
    error = FigureError("brix", 31.5, "1 to 30", reason)
    for words in (ENGLISH, SPANISH):
        text = sentence(error, words)
        assert "31.5" in text
        assert "{" not in text


def test_an_unknown_scale_can_be_told() -> None:
    with pytest.raises(FigureError) as fault:
        true_abv(43.0, 25.0, "spoon")  # type: ignore[arg-type]
    assert sentence(fault.value, SPANISH)


def test_facts_are_told_in_the_readers_own_way() -> None:
    assert said(1234.5, SPANISH_COMMA) == "1.234,5"
    assert said(date(2026, 6, 14), SPANISH) == "14 de junio de 2026"
    assert said(("a", 2), ENGLISH) == "a, 2"
    assert said(None, ENGLISH) == "None"
