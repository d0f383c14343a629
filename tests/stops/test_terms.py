"""The glossary in a reader's order, and its page."""

from __future__ import annotations

import re

import pytest

from kiosk.site.content import Term
from kiosk.stops.terms import by_letter
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
    found = by_letter(GLOSSARY, language, ("en", "es"))
    assert [(part.letter, [entry.id for entry in part.entries]) for part in found] == letters


def test_a_word_comes_with_its_meaning_and_what_others_call_it() -> None:
    first = by_letter(GLOSSARY, "es", ("en", "es"))[0].entries[0]
    assert (first.name, first.meaning, first.others) == ("árbol", "¡árbol!", (("en", "oak"),))


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
