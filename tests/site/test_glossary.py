"""Words of the trade: what ships, what a site may change, and what is told of a slip."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kiosk.site.content import read_content
from kiosk.site.faults import Fault
from kiosk.site.glossary import Term, merge_glossary
from kiosk.site.reader import Where, read_toml
from kiosk.site.shipped import shipped

LANGUAGES = ("en", "es")
FEWEST_TERMS = 80


def entry(word: str, **more: Any) -> dict[str, Any]:
    """Return a word as a file holds it."""
    said = {"en": word, "es": f"{word}o"}
    return {"term": said, "meaning": {code: f"{text}." for code, text in said.items()}, **more}


SHIPPED = {"parrot": entry("parrot"), "mash": entry("mash")}


def merged(
    *tables: dict[str, Any], languages: tuple[str, ...] = LANGUAGES
) -> tuple[dict[str, Term], list[str]]:
    faults: list[Fault] = []
    files = [(table, Where(f"{n}.toml", "", faults)) for n, table in enumerate(tables)]
    terms = merge_glossary(files, languages)
    return terms, [fault.sentence() for fault in faults]


def shipped_glossary() -> dict[str, Term]:
    faults: list[Fault] = []
    path = shipped("content") / "glossary.toml"
    terms = merge_glossary([read_toml(path, "content/glossary.toml", faults)], LANGUAGES)
    assert [fault.sentence() for fault in faults] == []
    return terms


def test_many_words_ship_in_both_languages_without_a_fault() -> None:
    assert len(shipped_glossary()) >= FEWEST_TERMS


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_word_ships_twice_under_two_ids(language: str) -> None:
    names = [term.names[language].casefold() for term in shipped_glossary().values()]
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_meaning_is_a_sentence_that_differs_from_its_twin(language: str) -> None:
    for name, term in shipped_glossary().items():
        assert term.meanings[language][0].isupper(), name
        assert term.meanings[language].endswith("."), name
    assert all(term.meanings["en"] != term.meanings["es"] for term in shipped_glossary().values())


def test_a_site_adds_replaces_and_leaves_out() -> None:
    own = {"drop": ["mash"], "parrot": entry("cup"), "mirador": entry("mirador")}
    terms, faults = merged(SHIPPED, own)
    assert not faults
    assert {name: term.names["en"] for name, term in terms.items()} == {"parrot": "cup", "mirador": "mirador"}


def test_a_sites_own_file_is_read_with_the_content(tmp_path: Path) -> None:
    (tmp_path / "content").mkdir()
    own = 'drop = ["parrot"]\n[mirador]\nterm = { en = "a", es = "b" }\nmeaning = { en = "A.", es = "B." }\n'
    (tmp_path / "content" / "glossary.toml").write_text(own, encoding="utf-8")
    faults: list[Fault] = []
    content = read_content(tmp_path, LANGUAGES, (), None, faults)
    assert not faults
    assert content.glossary["mirador"].meanings == {"en": "A.", "es": "B."}
    assert "parrot" not in content.glossary
    assert "hearts" in content.glossary


def test_a_fault_names_the_sites_file_and_line(tmp_path: Path) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "content" / "glossary.toml").write_text("\n[mirador]\nterm = 5\n", encoding="utf-8")
    faults: list[Fault] = []
    read_content(tmp_path, LANGUAGES, (), None, faults)
    assert faults[0].sentence() == (
        "content/glossary.toml, line 3: mirador.term: found 5. "
        "Allowed: the word in each of the site's languages."
    )
    assert faults[1].sentence().startswith("content/glossary.toml, line 2: mirador.meaning is missing.")


@pytest.mark.parametrize(
    ("own", "told"),
    [
        (
            {"drop": ["parot"]},
            '1.toml: drop[1]: found "parot". Allowed: an id of the glossary that ships, such as parrot',
        ),
        ({"drop": [5]}, "drop[1]: found 5. Allowed: an id of the glossary that ships, such as mash, parrot"),
        ({"drop": "mash"}, '1.toml: drop: found "mash". Allowed: a list of ids of the glossary'),
        ({"Big Cup": entry("x")}, "Allowed: an id of lower case letters, digits and dashes"),
        ({"cup": {"meaning": entry("x")["meaning"]}}, "cup.term is missing. Needed: the word in each"),
        ({"cup": entry("x", meaning={"en": "One of 3.", "es": "X."})}, "without a number in figures"),
        ({"cup": entry("x", meaning={"en": "Half: ½.", "es": "X."})}, "without a number in figures"),
        ({"cup": entry("x", meaning={"en": " ", "es": "X."})}, "cup.meaning: found"),
        ({"cup": entry("x", note="y")}, 'cup.note: found "y". Allowed: only these keys: term, meaning'),
        ({"cup": 5}, "cup: found 5. Allowed: a table with these keys: term, meaning"),
        (
            {"cup": entry("x", term={"en": "x"})},
            "1.toml: cup.term.es is missing. Needed: the word in each of",
        ),
        (
            {"cup": entry("x", meaning={"es": "X."})},
            "1.toml: cup.meaning.en is missing. Needed: what the word",
        ),
    ],
)
def test_a_slip_is_told(own: dict[str, Any], told: str) -> None:
    _, faults = merged(SHIPPED, own)
    assert len(faults) == 1
    assert told in faults[0]


def test_a_site_may_give_what_ships_in_a_language_of_its_own() -> None:
    french = {"term": {"fr": "perroquet"}, "meaning": {"fr": "La coupe."}}
    terms, faults = merged({"parrot": entry("parrot")}, {"parrot": french}, languages=("fr",))
    assert not faults
    assert terms["parrot"].names == {"fr": "perroquet"}
    assert len(merged(SHIPPED, languages=("fr",))[1]) == 4, "word and meaning of both"
