"""A word of the trade leads to its meaning: once, where it first stands, and never inside something else."""

from __future__ import annotations

import re

import pytest
from markupsafe import Markup

from kiosk.site.content import Term
from kiosk.stops.linking import Linker
from tests.walking import Walk

GLOSSARY = {
    "wash": Term({"en": "wash (beer)", "es": "mosto"}, {"en": "", "es": ""}),
    "low-wines": Term({"en": "low wines", "es": "flemas"}, {"en": "", "es": ""}),
    "angels": Term({"en": "angels' share", "es": "parte de los ángeles"}, {"en": "", "es": ""}),
    "run": Term({"en": "run", "es": "destilación"}, {"en": "", "es": ""}, linked=False),
}


def linked(html: str, language: str = "en") -> str:
    return str(Linker(GLOSSARY, language, lambda name: f"/g#{name}").linked(Markup(html)))


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
