from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import Figure
from kiosk.site.content.loading import Fact, Page, Slot
from kiosk.site.content.rendering import fact_amount
from tests.walking import Walk

CASKS = Slot("figure", "casks_filled", "", "casks, row upon row")
RUN = Slot("figure", "run_abv_now", "", "it waits")


def test_a_fresh_figure_is_number_and_noun(walk: Walk) -> None:
    walk.told("casks_filled", 1182)
    assert walk.reader().fill(CASKS) == (
        '<span class="said" data-state="fresh"><strong>1,182</strong> casks filled</span>'
    )


def test_a_figure_from_earlier_carries_its_time_and_drops_now(walk: Walk) -> None:
    walk.told("run_abv_now", 71.25, ago=timedelta(hours=3))
    html = walk.reader().fill(RUN)
    assert 'data-state="stale"' in html
    assert "<strong>71.3\u00a0% vol</strong> from the still" in html
    assert "3 hours ago" in html
    assert "now" not in html


def test_a_resting_figure_gives_way_to_the_words_of_the_page(walk: Walk) -> None:
    walk.rests("run_abv_now", walk.clock.at - timedelta(days=2))
    assert walk.reader().fill(RUN) == '<span class="said" data-state="resting">it waits</span>'


def test_an_unknown_figure_gives_way_to_the_words_of_the_page(walk: Walk) -> None:
    assert walk.reader().fill(CASKS) == '<span class="said" data-state="unknown">casks, row upon row</span>'


def test_without_words_of_its_own_a_page_says_the_sentence_of_the_state(walk: Walk) -> None:
    walk.rests("run_abv_now", walk.clock.at - timedelta(days=2))
    assert "The still rests; last run June 14." in walk.reader().fill(Slot("figure", "run_abv_now"))


def test_measured_zero_is_said_as_zero(walk: Walk) -> None:
    walk.told("casks_filled", 0)
    assert "<strong>0</strong> casks filled" in walk.reader().fill(CASKS)


def test_what_is_set_into_a_page_is_escaped(walk: Walk) -> None:
    assert walk.reader().fill(Slot("said", '<b onload="x">')) == "&lt;b onload=&#34;x&#34;&gt;"
    assert "&lt;i&gt;" in walk.reader().fill(Slot("figure", "casks_filled", "", "<i>casks</i>"))


def test_the_key_of_a_tank_is_escaped(walk: Walk) -> None:
    walk.told("wash_day", 3, of="<tank>")
    assert "&lt;tank&gt;" in walk.reader().fill(Slot("each", "wash_day"))


def test_each_lists_every_tank_in_order(walk: Walk) -> None:
    for tank, day in (("T2", 1), ("T1", 4)):
        walk.told("wash_day", day, of=tank)
    html = walk.reader().fill(Slot("each", "wash_day", "", "no wash is at work"))
    assert html.index("T1: The wash is on day 4") < html.index("T2: The wash is on day 1")


def test_each_says_the_words_of_the_page_when_no_tank_has_a_value(walk: Walk) -> None:
    walk.rests("wash_day", walk.clock.at - timedelta(days=9), of="tank-1")
    html = walk.reader().fill(Slot("each", "wash_day", "", "no wash is at work"))
    assert html == '<p class="said-each" data-state="unknown">no wash is at work</p>'


def test_a_figure_that_nobody_computes_is_an_error_and_not_a_gap(walk: Walk) -> None:
    with pytest.raises(KeyError):
        walk.reader().fill(Slot("figure", "casks_painted", "", "words"))


@pytest.mark.parametrize(
    ("fact", "code", "shown"),
    [
        (Fact(40, "% vol", "", "s", None, "read"), "en", "40\u00a0% vol"),
        (Fact(789.24, "kg/m³", "", "s", 1975, "read"), "en", "789.24\u00a0kg/m³"),
        (Fact(1.5, "%", "year", "s", None, "quoted"), "en", "1.5%"),
        (Fact(2, "", "", "s", None, "read"), "es", "2"),
    ],
)
def test_a_fact_is_written_with_the_digits_of_its_source(
    walk: Walk, fact: Fact, code: str, shown: str
) -> None:
    assert fact_amount(fact, walk.words[code]) == shown


def test_a_percentage_keeps_its_written_digits_whatever_their_binary_form(walk: Walk) -> None:
    assert fact_amount(Fact(36.8, "%", "", "s", None, "computed"), walk.words["en"]) == "36.8%"


def test_the_figures_of_a_page_are_told_once_each_in_their_order(walk: Walk) -> None:
    walk.told("wash_day", 2, of="tank-1")
    page = Page((RUN, "x", CASKS, RUN, Slot("each", "wash_day")))
    assert [(told.name, told.of) for told in walk.reader().stated_on([page])] == [
        ("run_abv_now", ""),
        ("casks_filled", ""),
        ("wash_day", "tank-1"),
    ]


def test_what_a_figure_rests_on_is_kept_for_staff(walk: Walk) -> None:
    walk.told("casks_filled", 3, rests_on=("fill:7",))
    told: Figure = walk.reader().stated("casks_filled").figure
    assert told.rests_on == ("fill:7",)


def test_a_letter_of_a_plate_stays_on_the_line_of_its_word(walk: Walk) -> None:
    assert walk.reader().fill(Slot("part", "B")) == '<b class="letter">\u2060B</b>'
