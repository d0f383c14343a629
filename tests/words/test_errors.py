"""Errors as sentences."""

from __future__ import annotations

import ast
from datetime import date
from pathlib import Path

import pytest

import kiosk.figures
from kiosk.cards.listing import NoPublicAddress
from kiosk.figures.errors import Allowed, Bounds, FigureError, Need
from kiosk.figures.strength import density, true_abv
from kiosk.words.errors import FIELDS, FIGURE_REASONS, NEEDED, fact_text, sentence
from tests.words.readers import ENGLISH, SPANISH, SPANISH_COMMA

REFUSERS = ("FigureError", "within", "not_negative")


def test_an_error_of_ours_is_told_from_its_message_and_facts() -> None:
    assert sentence(NoPublicAddress("http://localhost"), ENGLISH).startswith(
        "No sign can be printed with the address http://localhost:"
    )
    assert "public_address" in sentence(NoPublicAddress(None), SPANISH)


def test_an_unforeseen_error_keeps_its_details_to_itself() -> None:
    assert "secret" not in sentence(RuntimeError("secret path"), ENGLISH)


def test_a_figures_error_names_field_value_and_what_is_allowed() -> None:
    with pytest.raises(FigureError) as fault:
        density(0.4, 41.5)
    assert "41.5" in sentence(fault.value, ENGLISH)
    assert sentence(fault.value, ENGLISH).startswith("The temperature in °C is 41.5;")
    assert (
        sentence(fault.value, SPANISH_COMMA) == "La temperatura en °C: dice 41,5; se admite de -20 a 40 °C."
    )


@pytest.mark.parametrize("reason", [*FIGURE_REASONS, "a reason of tomorrow"])
def test_every_reason_gives_a_sentence_in_both_languages(reason: str) -> None:
    error = FigureError("brix", 31.5, Bounds(1, 30), reason)
    for words in (ENGLISH, SPANISH):
        text = sentence(error, words)
        assert "31.5" in text
        assert "{" not in text


def test_an_unknown_scale_can_be_told() -> None:
    with pytest.raises(FigureError) as fault:
        true_abv(43.0, 25.0, "spoon")  # type: ignore[arg-type]
    assert sentence(fault.value, SPANISH)


def test_facts_are_told_in_the_readers_own_way() -> None:
    assert fact_text(1234.5, SPANISH_COMMA) == "1.234,5"
    assert fact_text(date(2026, 6, 14), SPANISH) == "14 de junio de 2026"
    assert fact_text(("a", 2), ENGLISH) == "a, 2"
    assert fact_text(None, ENGLISH) == "None"


@pytest.mark.parametrize(
    ("allowed", "text"),
    [
        (Bounds(0, 99.5, "% vol"), "de 0 a 99,5 % vol"),
        (Bounds(0, unit="L"), "0 L o más"),
        (Bounds(1000), "1.000 o más"),
        (Bounds(0, unit="mL", above=True), "más de 0 mL"),
        (Bounds(0, 1, above=True), "más de 0 y hasta 1"),
        (Bounds(high=0.6, unit="g/100 mL"), "hasta 0,6 g/100 mL"),
        (Bounds(10, 10), "se admite 10."),
        (Bounds(date(2026, 6, 14)), "14 de junio de 2026 o más"),
        (("glass_abv20", "density_meter"), "glass_abv20, density_meter"),
        (Need.ONE_READING, "una lectura o más"),
    ],
)
def test_what_is_allowed_is_written_in_the_readers_language(allowed: Allowed, text: str) -> None:
    assert text in sentence(FigureError("reading", -1, allowed), SPANISH_COMMA)


def test_every_need_has_its_words() -> None:
    assert NEEDED.keys() == set(Need)


def test_every_field_that_a_figure_can_refuse_has_a_name() -> None:
    found = set()
    for path in Path(kiosk.figures.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in REFUSERS and node.args:
                first = node.args[0]
                found |= {first.value} if isinstance(first, ast.Constant) else set()
    assert len(found) > 20
    assert found - FIELDS.keys() == set()
