"""The glossary in a reader's order, and its page.

A word of the trade leads to its meaning: once, where it first stands, and never inside something else.

The pages of the stops as guests and guides read them, whatever the figures are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from markupsafe import Markup

from kiosk.site.content.loading import Term
from kiosk.site.content.pages import joined, split_questions
from kiosk.site.content.reference import STATUSES
from kiosk.stops.stop_pages import (
    STATUS_WORDS,
    Linker,
    by_letter,
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


def no_groups(figures: object) -> Sequence[tuple[str, float]]:
    return ()


def term(english: str, spanish: str) -> Term:
    return Term({"en": english, "es": spanish}, {"en": f"{english}!", "es": f"¡{spanish}!"})


GLOSSARY = {
    "yam": term("yam", "ñame"),
    "nut": term("nut", "nuez"),
    "ear": term("ear", "oreja"),
    "oak": term("oak", "árbol"),
}


@pytest.mark.parametrize(
    ("language", "letters"),
    [
        ("en", [("E", ["ear"]), ("N", ["nut"]), ("O", ["oak"]), ("Y", ["yam"])]),
        ("es", [("A", ["oak"]), ("N", ["nut"]), ("Ñ", ["yam"]), ("O", ["ear"])]),
    ],
)
def test_words_stand_under_their_letter_in_the_readers_order(
    language: str, letters: list[tuple[str, list[str]]]
) -> None:
    found = by_letter(GLOSSARY, language)
    assert [(letter, [name for name, _term in entries]) for letter, entries in found] == letters


def test_a_word_comes_with_its_meaning_and_what_others_call_it(walk: Walk) -> None:
    walk.app.extensions["kiosk"] = replace(
        walk.app.extensions["kiosk"], content=replace(walk.content, glossary=GLOSSARY)
    )
    page = walk.screen().get("/es/glossary").text
    assert '<dt>árbol <small lang="en">oak</small></dt><dd>¡árbol!</dd>' in page


@pytest.mark.parametrize(
    ("code", "word", "other"), [("en", "bagasse", "bagazo"), ("es", "bagazo", "bagasse")]
)
def test_the_page_shows_every_word_in_the_language_of_its_address(
    walk: Walk, code: str, word: str, other: str
) -> None:
    answer = walk.screen().get(f"/{code}/glossary")
    assert answer.status_code == 200
    assert f'<html lang="{code}"' in answer.text
    assert answer.text.count("<dt>") == len(walk.content.glossary)
    other_code = "es" if code == "en" else "en"
    assert f'<dt>{word} <small lang="{other_code}">{other}</small></dt>' in answer.text
    ids = re.findall(r'\bid="([^"]+)"', answer.text)
    assert len(ids) == len(set(ids))


def test_a_word_that_both_languages_share_is_said_once(walk: Walk) -> None:
    assert "<dt>cuerda</dt>" in walk.screen().get("/en/glossary").text


@pytest.mark.parametrize("path", ["/es/", "/es/stops/still-house"])
def test_the_pages_of_the_walk_lead_to_it(walk: Walk, path: str) -> None:
    assert 'href="/es/glossary"' in walk.screen().get(path).text


def test_a_language_that_the_site_lacks_has_no_glossary(walk: Walk) -> None:
    assert walk.screen().get("/xx/glossary").status_code == 404


GLOSSARY_LINKING = {
    "wash": Term({"en": "wash (beer)", "es": "mosto"}, {"en": "", "es": ""}),
    "low-wines": Term({"en": "low wines", "es": "flemas"}, {"en": "", "es": ""}),
    "angels": Term({"en": "angels' share", "es": "parte de los ángeles"}, {"en": "", "es": ""}),
    "run": Term({"en": "run", "es": "destilación"}, {"en": "", "es": ""}, linked=False),
}


def linked(html: str, language: str = "en") -> str:
    return str(Linker(GLOSSARY_LINKING, language, lambda name: f"/g#{name}").linked(Markup(html)))


@pytest.mark.parametrize(
    ("html", "expected"),
    [
        ("<p>The wash works.</p>", '<p>The <a class="term" href="/g#wash">wash</a> works.</p>'),
        ("<p>Wash, wash.</p>", '<p><a class="term" href="/g#wash">Wash</a>, wash.</p>'),
        ("<p>Two washes</p>", '<p>Two <a class="term" href="/g#wash">washes</a></p>'),
        ("<p>washing, eyewash, wash-house</p>", "<p>washing, eyewash, wash-house</p>"),
        (
            "<p>the angels’ share</p>",
            '<p>the <a class="term" href="/g#angels">angels’ share</a></p>',
        ),
        ("<p>Let it run.</p>", "<p>Let it run.</p>"),
        ('<p><a href="/x">wash</a></p>', '<p><a href="/x">wash</a></p>'),
        ("<h2>The wash</h2>", "<h2>The wash</h2>"),
        (
            '<span class="said"><strong>3</strong> wash</span>',
            '<span class="said"><strong>3</strong> wash</span>',
        ),
        ("<em>wash</em><br>", '<em><a class="term" href="/g#wash">wash</a></em><br>'),
    ],
)
def test_the_first_plain_word_becomes_a_link(html: str, expected: str) -> None:
    assert linked(html) == expected


def test_each_language_links_its_own_words() -> None:
    expected = '<p>wash y <a class="term" href="/g#wash">mosto</a></p>'
    assert linked("<p>wash y mosto</p>", "es") == expected


def test_without_a_glossary_a_page_stays_as_it_is() -> None:
    assert str(Linker({}, "en", str).linked(Markup("<p>wash</p>"))) == "<p>wash</p>"


@pytest.mark.parametrize("code", ["en", "es"])
def test_every_link_of_a_stop_leads_to_a_word_of_the_glossary(walk: Walk, code: str) -> None:
    ids = set()
    for slug in walk.content.stops:
        html = walk.screen().get(f"/{code}/stops/{slug}").text
        found = re.findall(rf'<a class="term" href="/{code}/glossary#([a-z0-9-]+)">', html)
        assert found
        ids |= set(found)
    assert ids <= set(walk.content.glossary)
    assert all(walk.content.glossary[name].linked for name in ids)


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
    guest = guest_page(walk.content, slug, walk.reader(code), no_groups)
    guide = guide_page(walk.content, ROUTE, slug, walk.reader(code), no_groups)
    assert guest is not None
    assert guide is not None
    for html in (guest.lead + guest.text, guide.guide):
        assert set(re.findall(r'data-state="(\w+)"', html)) in marks
        assert ("<strong>12" in html) is values
    for html in (guest.lead, guest.text, guest.safety, guide.guide):
        assert "<p>" in html
        assert "{" not in html


def test_the_route_leads_from_stop_to_stop(walk: Walk) -> None:
    pages = [guest_page(walk.content, slug, walk.reader(), no_groups) for slug in SLUGS]
    neighbours = [(p.before and p.before.slug, p.position, p.after and p.after.slug) for p in pages if p]
    assert neighbours == [
        (None, 1, "cask-store"),
        ("still-house", 2, "tasting-room"),
        ("cask-store", 3, None),
    ]


def test_a_stop_that_the_route_lacks_has_no_page(walk: Walk) -> None:
    assert guest_page(walk.content, "field", walk.reader(), no_groups) is None
    assert guide_page(walk.content, ROUTE, "field", walk.reader(), no_groups) is None


def test_a_guide_reads_the_minutes_and_places_of_the_sites_own_route(walk: Walk) -> None:
    page = guide_page(walk.content, ROUTE, "cask-store", walk.reader(), no_groups)
    assert page is not None
    assert (page.minutes, page.holds) == (12, 9)


def test_a_guide_reads_where_constants_come_from_and_which_are_common_practice(walk: Walk) -> None:
    page = guide_page(walk.content, ROUTE, "still-house", walk.reader(), no_groups)
    assert page is not None
    hearts = next(fact for fact in page.facts if fact.amount == "78\u00a0% vol")
    assert hearts.status == "common practice"


def test_every_status_of_a_fact_has_words() -> None:
    assert set(STATUS_WORDS) == set(STATUSES)


def test_stops_are_named_in_the_readers_language(walk: Walk) -> None:
    front = walk.screen().get("/es/").text
    assert re.findall(r"<span>([^<]+)</span></span>\s*</a></li>", front) == [
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
