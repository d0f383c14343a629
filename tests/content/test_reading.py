"""How easily the pages are read and heard, measured; and each in the language that it says it is in.

Reading ease: Flesch, "A new readability yardstick", J. Appl. Psychol. 32 (1948) 221, for English;
Szigriszt Pazos, doctoral thesis, Universidad Complutense de Madrid (1993), for Spanish. Both grow as
words and sentences shorten; 60 to 70 is plain English, 55 to 65 is normal Spanish (Barrio Cantalejo et
al., An. Sist. Sanit. Navar. 31 (2008) 135). Syllables are counted where a word may be divided, which
finds fewer than the voice does ("a-lambique"), so the band lies above those of the authors.
"""

from __future__ import annotations

import re
import statistics
from functools import cache
from html import unescape
from pathlib import Path

import py3langid
import pyphen
import pytest

from kiosk.site.content.loading import Content, Page, read_content
from kiosk.site.faults import Fault
from kiosk.site.loading import outline
from kiosk.site.settings import RouteStop
from kiosk.site.shipped import shipped

LANGUAGES = ("en", "es")
SHIPPED = tuple(sorted(path.parent.name for path in shipped("content").glob("stops/*/stop.toml")))
PAGES = ("guest", "guide", "safety", "questions")
EASE = {"en": (75, 100), "es": (75, 100)}
"""The band of every page for guests: short words in short sentences, and not yet a list of cries."""
FEWEST_WORDS, MOST_WORDS = 120, 180
"""Of a guest page, read aloud in 60 to 90 seconds at two words a second."""
MOST_WORDS_IN_A_SENTENCE = 34  # of a guest page: more is out of breath
_BLOCK = re.compile(r"</(?:p|li|h[1-6]|td|th)>")


@cache
def content(folder: Path) -> Content:
    """What a site shows: the shipped pages with its own over them."""
    faults: list[Fault] = []
    slugs = outline(folder)[1] if folder.exists() else SHIPPED
    found = read_content(folder, LANGUAGES, [RouteStop(slug, 10, 1, 10) for slug in slugs], None, faults)
    assert [fault.sentence() for fault in faults] == []
    return found


def prose(page: Page) -> str:
    """Return a page as it is said where no figure is known, each heading and item a sentence of its own."""
    html = page.render(lambda slot: slot.otherwise or slot.name)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", _BLOCK.sub(". ", html)))).strip()


def sentences(text: str) -> list[list[str]]:
    """Return the sentences of a text as lists of their words."""
    found = (re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", part) for part in re.split(r"[.!?:;…]+", text))
    return [words for words in found if words]


def syllables(word: str, language: str) -> int:
    """Count the syllables of a word where it may be divided."""
    return len(_divider(language).positions(word.lower())) + 1


@cache
def _divider(language: str) -> pyphen.Pyphen:
    return pyphen.Pyphen(lang=language, left=1, right=1)


def reading_ease(text: str, language: str) -> float:
    """Return the reading ease of a text by the formula of its language."""
    found = sentences(text)
    words = [word for sentence in found for word in sentence]
    words_per_sentence = len(words) / len(found)
    per_word = statistics.fmean(syllables(word, language) for word in words)
    if language == "es":
        return 206.835 - 62.3 * per_word - words_per_sentence
    return 206.835 - 84.6 * per_word - 1.015 * words_per_sentence


SITES = [pytest.param(Path("no-site"), id="shipped"), pytest.param(shipped("demo_site"), id="demo")]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("folder", SITES)
@pytest.mark.parametrize("slug", SHIPPED)
def test_a_guest_page_is_easily_heard(folder: Path, slug: str, language: str) -> None:
    text = prose(content(folder).stops[slug].pages["guest", language])
    low, high = EASE[language]
    assert low <= reading_ease(text, language) <= high
    assert FEWEST_WORDS <= len(text.split()) <= MOST_WORDS
    assert max(len(sentence) for sentence in sentences(text)) <= MOST_WORDS_IN_A_SENTENCE


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", ["safety", "questions"])
@pytest.mark.parametrize("folder", SITES)
@pytest.mark.parametrize("slug", SHIPPED)
def test_safety_and_questions_are_easily_read(folder: Path, slug: str, name: str, language: str) -> None:
    low, high = EASE[language]
    assert low <= reading_ease(prose(content(folder).stops[slug].pages[name, language]), language) <= high


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("folder", SITES)
@pytest.mark.parametrize("slug", SHIPPED)
def test_a_page_is_in_its_own_language(folder: Path, slug: str, name: str, language: str) -> None:
    assert py3langid.classify(prose(content(folder).stops[slug].pages[name, language]))[0] == language


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_words_of_the_trade_are_explained_in_their_own_language(language: str) -> None:
    meanings = [term.meanings[language] for term in content(shipped("demo_site")).glossary.values()]
    assert py3langid.classify(" ".join(meanings))[0] == language
    in_another = [text for text in meanings if py3langid.classify(text)[0] == _other(language)]
    assert in_another == []


def _other(language: str) -> str:
    return next(code for code in LANGUAGES if code != language)


@pytest.mark.parametrize(
    ("language", "hard", "easy"),
    [
        (
            "en",
            "Notwithstanding considerable evaporative diminution, maturation necessitates extraordinarily "
            "conscientious administration of atmospheric conditions throughout the establishment.",
            "The cask breathes. Some of it goes. We call that the share of the angels.",
        ),
        (
            "es",
            "Independientemente de consideraciones administrativas, la comercialización requiere "
            "autorizaciones extraordinariamente complicadas correspondientes a cada establecimiento.",
            "El barril respira. Algo se va. Eso es de los ángeles.",
        ),
    ],
)
def test_the_measure_tells_hard_from_easy(language: str, hard: str, easy: str) -> None:
    assert reading_ease(hard, language) < 0 < EASE[language][0] < reading_ease(easy, language)


@pytest.mark.parametrize(
    ("language", "word", "count"),
    [("en", "spirit", 2), ("en", "cane", 1), ("es", "bagazo", 3), ("es", "fermentado", 4)],
)
def test_syllables_are_counted_as_a_dictionary_divides_them(language: str, word: str, count: int) -> None:
    assert syllables(word, language) == count
