"""Every figure has its words, only fresh ones say now, numbers round for speech, each state has its text."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from kiosk.app import new_registry
from kiosk.figures.casks.angels import BOTTLE_ABV_PERCENT, BOTTLE_ML
from kiosk.figures.figure import RESTING, Basis, Figure, Spec, State, Unit
from kiosk.words.catalogs import Words
from kiosk.words.figures import (
    FIGURE_WORDS,
    figure_text,
    spoken_hours,
    spoken_number,
    spoken_share,
)
from kiosk.words.names import FigureWords, Wording
from tests.words.readers import ENGLISH, SPANISH
from tests.words.update import placeholders

NOW_WORDS = re.compile(r"\b(now|today|so far)\b", re.IGNORECASE)


def specs() -> list[Spec]:
    """Every figure that a feature computes."""
    return [*new_registry().specs.values()]


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
    assert spoken_number(Decimal(value), ENGLISH) == said


def test_spanish_says_the_same() -> None:
    assert spoken_number(Decimal(196), SPANISH) == "casi 200"


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
    assert spoken_share(Decimal(share), ENGLISH) == said


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
    assert spoken_hours(Decimal(hours), ENGLISH) == said


def test_a_span_is_said_in_spanish() -> None:
    assert spoken_hours(Decimal("2.136"), SPANISH) == "2 horas"


NOW = datetime(2026, 6, 16, 11, 0, tzinfo=ZoneInfo("Etc/GMT+4"))
CASKS = Spec("casks_filled", Unit.COUNT, 0, stale_after_s=3600)
MILLED = Spec("cane_milled_today", Unit.TONNE, 1, stale_after_s=3600)
RUN = Spec("run_abv_now", Unit.ABV_PERCENT, 1, stale_after_s=900)


def measured(value: float, ago: timedelta) -> Figure:
    return Figure(value, NOW - ago, Basis.MEASURED)


def test_a_fresh_figure_says_now_with_its_time_and_basis() -> None:
    said = figure_text(measured(71.2, timedelta(minutes=5)), RUN, NOW, ENGLISH, "metric")
    assert said.state is State.FRESH
    assert (said.value, said.unit, said.noun) == ("71.2", "% vol", "from the still now")
    assert said.sentence == "The spirit is running at 71.2\u00a0% vol now."
    assert said.as_of == "as of 10:55\u00a0AM"
    assert said.basis == "measured"


def test_a_stale_figure_tells_its_age_and_drops_now() -> None:
    said = figure_text(measured(71.2, timedelta(hours=3)), RUN, NOW, ENGLISH, "metric")
    assert said.state is State.STALE
    assert said.sentence == "The spirit was running at 71.2\u00a0% vol 3 hours ago."
    assert said.as_of == "as of 8:00\u00a0AM, 3 hours ago"
    assert "now" not in said.noun


def test_a_unit_with_a_point_of_its_own_ends_the_sentence_once() -> None:
    wash = Spec("wash_abv_now", Unit.ABV_PERCENT, 1, stale_after_s=900)
    said = figure_text(measured(7.2, timedelta(minutes=5)), wash, NOW, SPANISH, "metric")
    assert said.sentence == "El mosto ha llegado ahora a 7.2\u00a0% alc./vol."


def test_a_resting_figure_tells_the_last_time() -> None:
    rests = Figure(None, datetime(2026, 6, 14, 20, 0, tzinfo=UTC), Basis.STATED, missing=RESTING)
    said = figure_text(rests, MILLED, NOW, ENGLISH, "us")
    assert said.sentence == "The mill rests; last milling June 14."
    assert (said.value, said.unit, said.as_of) == ("", "", "last: June 14")
    spanish = figure_text(rests, MILLED, NOW, SPANISH, "us")
    assert spanish.sentence == "El trapiche descansa; última molienda: 14 de junio."


def test_the_last_day_is_told_on_the_sites_own_clock() -> None:
    after_midnight_utc = datetime(2026, 6, 15, 2, 0, tzinfo=UTC)
    said = figure_text(
        Figure(None, after_midnight_utc, Basis.STATED, missing=RESTING), MILLED, NOW, ENGLISH, "us"
    )
    assert "June 14" in said.sentence


def test_an_unknown_figure_says_so_and_never_zero() -> None:
    said = figure_text(Figure(None, None, Basis.STATED, missing="no_record"), MILLED, NOW, ENGLISH, "us")
    assert said.state is State.UNKNOWN
    assert said.amount == ""
    assert said.sentence == "How much cane has been milled is not known at the moment."


@pytest.mark.parametrize(
    ("value", "words", "sentence"),
    [
        (1, ENGLISH, "1 cask is filled now."),
        (186, ENGLISH, "186 casks are filled now."),
        (0, ENGLISH, "0 casks are filled now."),
        (1, SPANISH, "1 barril está lleno ahora."),
        (186, SPANISH, "186 barriles están llenos ahora."),
    ],
)
def test_counted_things_take_the_form_for_their_number(value: int, words: Words, sentence: str) -> None:
    assert figure_text(measured(value, timedelta(0)), CASKS, NOW, words, "us").sentence == sentence


def test_an_estimate_tells_its_interval() -> None:
    share = Spec("angels_share_to_date", Unit.SHARE, 1, stale_after_s=3600)
    figure = Figure(0.062, NOW, Basis.ESTIMATED, low=0.055, high=0.071)
    assert (
        figure_text(figure, share, NOW, ENGLISH, "metric").basis == "estimated, likely between 5.5% and 7.1%"
    )


def test_a_figure_of_a_tank_names_the_tank() -> None:
    wash = Spec("wash_day", Unit.DAY, 0, stale_after_s=3600, of="tank")
    said = figure_text(measured(3, timedelta(0)), wash, NOW, ENGLISH, "metric", of="T2")
    assert said.sentence == "T2: The wash is on day 3 of its fermentation now."


def test_the_spoken_form_is_rounded_for_the_ear() -> None:
    assert (
        figure_text(measured(186, timedelta(0)), CASKS, NOW, ENGLISH, "us").spoken
        == "Almost 190 casks are filled now."
    )
    proof = Spec("run_proof_now", Unit.PROOF, 1, stale_after_s=900)
    spoken = figure_text(measured(142.4, timedelta(0)), proof, NOW, ENGLISH, "us").spoken
    assert spoken == "The spirit is running at about 142 proof, 71 percent alcohol now."
