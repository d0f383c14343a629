"""The glossary in a reader's order, and its page.

A word of the trade leads to its meaning: once, where it first stands, and never inside something else.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from markupsafe import Markup

from kiosk.site.content.loading import Term
from kiosk.stops.terms import Linker, by_letter
from tests.walking import Walk


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
