"""Each stop that ships has a plate with named parts, letters in its text, and an instrument at a figure."""

from __future__ import annotations

import gzip
import re
from datetime import timedelta

import pytest

from kiosk.drawings import plates as drawn
from kiosk.figures.figure import RESTING, Basis, Figure
from kiosk.site.shipped import shipped
from kiosk.stops.instruments import DRAWN, Explanation, explain
from kiosk.stops.plates import PLATES
from tests.walking import Walk

SLUGS = sorted(path.parent.name for path in (shipped("content") / "stops").glob("*/stop.toml"))
FEWEST_WORDS = 12
MOST_BYTES = 12_000


def stop(walk: Walk, slug: str, language: str = "en") -> str:
    return walk.screen().get(f"/{language}/stops/{slug}").text


@pytest.mark.parametrize("slug", SLUGS)
def test_a_stop_has_a_plate_with_words_for_what_it_shows(slug: str) -> None:
    assert slug in DRAWN
    words = PLATES[slug]
    assert len(words.shows.split()) >= FEWEST_WORDS
    assert list(words.parts) == [part.key for part in drawn.PLATES[slug].parts]
    assert all(name.partition(",")[2] for name in words.parts.values())


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("slug", SLUGS)
def test_a_text_names_only_letters_of_its_plate(slug: str, language: str) -> None:
    text = (shipped("content") / "stops" / slug / f"guest.{language}.md").read_text(encoding="utf-8")
    letters = re.findall(r"\{part:([A-H])\}", text)
    assert letters
    assert set(letters) <= set("ABCDEFGH"[: len(PLATES[slug].parts)])


def test_the_list_beside_a_plate_says_what_each_letter_is(walk: Walk) -> None:
    html = stop(walk, "cask-store")
    assert re.search(r'<b class="unseen">C</b> <span>Rod, wetted up to where the spirit stands', html)
    assert '<b class="letter">\u2060B</b>' in html
    assert 'aria-label="Drawing: casks on their sides' in html


@pytest.mark.parametrize("slug", SLUGS)
def test_a_plate_and_its_instrument_are_light(walk: Walk, slug: str) -> None:
    plate = explained(walk, slug)
    assert len(gzip.compress(f"{plate.drawing}{plate.instrument}".encode())) <= MOST_BYTES


def test_an_instrument_shows_the_live_figure_with_its_state_and_basis(walk: Walk) -> None:
    walk.told("run_abv_now", 71.3)
    html = stop(walk, "still-house")
    at = html[html.index('class="plate-instrument') :]
    assert ">71.3</text>" in at
    assert re.search(
        r'data-state="fresh">The spirit is running at 71\.3 % vol now\.', at.replace("\xa0", " ")
    )
    assert "measured" in at


def test_an_instrument_at_rest_is_drawn_empty_and_says_so(walk: Walk) -> None:
    last = walk.clock.at - timedelta(days=3)
    walk.figures["run_abv_now", ""] = Figure(None, last, Basis.STATED, missing=RESTING)
    html = stop(walk, "still-house")
    at = html[html.index('class="plate-instrument') : html.index('class="prose stop-text')]
    assert 'class="s num"' not in at
    assert "The still rests" in at


def test_of_several_tanks_the_one_that_was_read_last_is_shown(walk: Walk) -> None:
    walk.told("wash_gravity_now", 1.02, of="T1", ago=timedelta(hours=5))
    walk.told("wash_gravity_now", 1.041, of="T2", ago=timedelta(hours=1))
    plate = explained(walk, "fermentation")
    assert ">1.041</text>" in plate.instrument
    assert [figure.of for figure in plate.figures] == ["T2"]


def test_a_level_is_drawn_in_the_readers_own_unit(walk: Walk) -> None:
    for name, value in (
        ("cask_mean_now", 171.4),
        ("cask_mean_filling", 190.4),
        ("angels_share_to_date", 0.096),
    ):
        walk.told(name, value)
    instrument = explained(walk, "cask-store").instrument
    assert ">45.3</text>" in instrument
    assert ">9.6%</text>" in instrument
    assert ">US gallons</text>" in instrument


def test_the_welcome_house_says_where_the_groups_are_by_the_plan(walk: Walk) -> None:
    reader = walk.reader()
    none = explain("welcome-house", reader, 3, lambda figures: ())
    both = explain("welcome-house", reader, 3, lambda figures: [("A", 0.0), ("B", 1.5), ("C", 7.0)])
    assert none is not None
    assert both is not None
    assert none.note == "By the plan of the day no group is on the walk now."
    assert both.note == "By the plan of the day: group A at stop 1 and group B on the way to stop 3."
    assert ">B</text>" in both.instrument


def test_a_stop_of_the_houses_own_has_no_plate(walk: Walk) -> None:
    assert explain("mirador", walk.reader(), 3, lambda figures: ()) is None


def explained(walk: Walk, slug: str) -> Explanation:
    """Return the plate of a stop in the walk's own words and units, without groups."""
    plate = explain(slug, walk.reader(), 3, lambda figures: ())
    assert plate is not None
    return plate
