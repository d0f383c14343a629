"""Every figure of the house has its words, and only fresh ones say now."""

from __future__ import annotations

import re
from importlib import import_module
from importlib.util import find_spec

import pytest

from kiosk.app import FEATURES
from kiosk.figures.angels import BOTTLE_ABV_PERCENT, BOTTLE_ML
from kiosk.figures.figure import Spec
from kiosk.words.extraction import placeholders
from kiosk.words.figure_names import FIGURE_WORDS, FigureWords, Wording

NOW_WORDS = re.compile(r"\b(now|today|so far)\b", re.IGNORECASE)


def specs() -> list[Spec]:
    """Every figure that a feature computes."""
    names = [f"kiosk.{feature}.live" for feature in FEATURES]
    lives = [import_module(name) for name in names if find_spec(name)]
    return [spec for live in lives for provider in live.PROVIDERS for spec in provider.specs]


def forms(wording: Wording) -> tuple[str, ...]:
    return (wording,) if isinstance(wording, str) else wording


@pytest.mark.parametrize("spec", specs(), ids=lambda spec: spec.name)
def test_every_figure_that_is_computed_has_words(spec: Spec) -> None:
    assert spec.name in FIGURE_WORDS


def test_figures_of_all_features_were_looked_at() -> None:
    assert len(specs()) >= 40


@pytest.mark.parametrize(("name", "words"), FIGURE_WORDS.items())
def test_only_a_fresh_figure_speaks_of_now(name: str, words: FigureWords) -> None:
    for text in (*forms(words.noun_then), *forms(words.stale)):
        assert not NOW_WORDS.search(text), name


@pytest.mark.parametrize(("name", "words"), FIGURE_WORDS.items())
def test_each_sentence_names_what_it_is_about(name: str, words: FigureWords) -> None:
    assert all(placeholders(text) == {"amount"} for text in forms(words.fresh)), name
    assert all(placeholders(text) == {"amount", "age"} for text in forms(words.stale)), name
    assert placeholders(words.resting) == {"day"}, name
    assert placeholders(words.unknown) == frozenset(), name


@pytest.mark.parametrize(("name", "words"), FIGURE_WORDS.items())
def test_staff_are_told_how_each_is_reckoned(name: str, words: FigureWords) -> None:
    assert len(words.how) > 20, name
    assert placeholders(words.how) == frozenset(), name


def test_bottles_worth_always_name_size_and_strength() -> None:
    bottle = f"{BOTTLE_ML:.0f} mL at {BOTTLE_ABV_PERCENT:.0f}% vol"
    for name in ("angels_bottles_to_date", "angels_bottle_every"):
        words = FIGURE_WORDS[name]
        told = (words.noun, words.noun_then, words.fresh, words.stale)
        assert all(bottle in text for wording in told for text in forms(wording)), name
