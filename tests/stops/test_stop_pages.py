"""The pages of the stops as guests and guides read them, whatever the figures are."""

from __future__ import annotations

import re

import pytest
from markupsafe import Markup

from kiosk.site.content.pages import joined, split_questions
from kiosk.site.content.reference import STATUSES
from kiosk.stops.stop_pages import (
    STATUS_WORDS,
    front_figures,
    guest_page,
    guide_page,
    split_answers,
    with_ids_of,
)
from tests.walking import (
    ROUTE,
    State,
    Walk,
    everything_fresh,
    everything_rests,
    everything_stale,
    nothing_known,
)

SLUGS = [stop.slug for stop in ROUTE]


@pytest.mark.parametrize("slug", SLUGS)
@pytest.mark.parametrize("code", ["en", "es"])
@pytest.mark.parametrize(
    ("state", "marks", "values"),
    [
        (everything_fresh, [{"fresh"}], True),
        (everything_stale, [{"stale"}, {"stale", "fresh"}], True),  # some figures never grow stale
        (everything_rests, [{"resting"}, {"resting", "unknown"}], False),  # some never rest
        (nothing_known, [{"unknown"}], False),
    ],
)
def test_every_stop_can_be_read_whatever_is_known(
    walk: Walk, slug: str, code: str, state: State, marks: list[set[str]], values: bool
) -> None:
    state(walk)
    guest = guest_page(walk.content, slug, walk.reader(code))
    guide = guide_page(walk.content, ROUTE, slug, walk.reader(code))
    assert guest is not None
    assert guide is not None
    for html in (guest.text, guide.guide):
        assert set(re.findall(r'data-state="(\w+)"', html)) in marks
        assert ("<strong>12" in html) is values
    for html in (guest.text, guest.safety, guide.guide):
        assert "<p>" in html
        assert "{" not in html


def test_the_route_leads_from_stop_to_stop(walk: Walk) -> None:
    pages = [guest_page(walk.content, slug, walk.reader()) for slug in SLUGS]
    neighbours = [(p.before and p.before.slug, p.position, p.after and p.after.slug) for p in pages if p]
    assert neighbours == [
        (None, 1, "cask-store"),
        ("still-house", 2, "tasting-room"),
        ("cask-store", 3, None),
    ]


def test_a_stop_that_the_route_lacks_has_no_page(walk: Walk) -> None:
    assert guest_page(walk.content, "field", walk.reader()) is None
    assert guide_page(walk.content, ROUTE, "field", walk.reader()) is None


def test_a_guide_reads_the_minutes_and_places_of_the_sites_own_route(walk: Walk) -> None:
    page = guide_page(walk.content, ROUTE, "cask-store", walk.reader())
    assert page is not None
    assert (page.minutes, page.holds) == (12, 9)


def test_a_guide_reads_where_constants_come_from_and_which_are_common_practice(walk: Walk) -> None:
    page = guide_page(walk.content, ROUTE, "still-house", walk.reader())
    assert page is not None
    hearts = next(fact for fact in page.facts if fact.amount == "78\u00a0% vol")
    assert hearts.status == "common practice"


def test_every_status_of_a_fact_has_words() -> None:
    assert set(STATUS_WORDS) == set(STATUSES)


def test_stops_are_named_in_the_readers_language(walk: Walk) -> None:
    front = walk.screen().get("/es/").text
    assert re.findall(r"<h3>([^<]+)</h3>", front) == [
        "Casa de alambiques",
        "Bodega de barriles",
        "Sala de cata",
    ]


def test_the_front_page_tells_what_somebody_computes(walk: Walk) -> None:
    walk.told("casks_filled", 3)
    assert [told.text.value for told in front_figures(walk.reader())] == ["3", "", ""]


SOURCE = """## why-cut: Why cut & keep?

First answer.

## how-long: How long?

Second answer,

- with a list.
"""


def page_html() -> Markup:
    return Markup(joined(split_questions(SOURCE, "questions.en.md", []), ()).render(lambda slot: ""))


def test_each_question_keeps_its_id_its_text_and_its_whole_answer() -> None:
    first, second = split_answers(page_html())
    assert (first.id, str(first.question), str(first.answer)) == (
        "why-cut",
        "Why cut &amp; keep?",
        "<p>First answer.</p>",
    )
    assert second.answer.startswith("<p>Second answer,</p>")
    assert "with a list" in second.answer


def test_a_page_without_questions_has_none() -> None:
    assert split_answers(Markup("")) == []


def test_twins_on_one_screen_have_ids_of_their_own() -> None:
    assert with_ids_of("es", Markup('<h2 id="plan">Plan</h2>')) == '<h2 id="plan-es">Plan</h2>'
