"""Words of the trade: what ships, what a site may change, and what is told of a slip."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kiosk.site.content.loading import read_content
from kiosk.site.content.reference import Fact, Term, merge_glossary, read_facts
from kiosk.site.faults import Fault
from kiosk.site.shipped import shipped
from kiosk.site.toml_reader import Where, read_toml


def test_the_shipped_facts_are_right_and_each_names_its_source() -> None:
    faults: list[Fault] = []
    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", faults))
    assert not faults
    assert facts["us_standard_drink"].value == 0.6
    assert all(len(fact.source) > 10 for fact in facts.values())


def test_pure_ethanol_is_as_dense_as_the_figures_have_it() -> None:
    """OIML R 22 (1975): 789.24 kg/m³ at 20 °C, here and in the calculation."""
    from kiosk.figures.strength import density

    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    assert density(1.0, 20.0) == pytest.approx(facts["ethanol_density"].value, abs=0.005)


def test_what_is_computed_is_computed_right() -> None:
    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    assert facts["left_after_twelve_years"].value == round(100 * (1 - 0.08) ** 12, 1)
    assert facts["half_ounce_in_us_drinks"].value == round(0.5 * 0.4 / 0.6, 2)
    assert facts["alcohol_from_sugar"].value == round(100 * 92.1 / 180.2, 1)
    assert facts["gas_from_sugar"].value == round(100 - 100 * 92.1 / 180.2, 1)


def test_the_riddle_of_water_and_spirit_is_that_of_the_density_tables() -> None:
    """OIML R 22 at 20 °C: 100 L at 70 % vol, brought to 40 % vol, take 77.49 L of water and make 175.0 L."""
    from kiosk.figures.strength import density, mass_fraction_of_abv

    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    strong, label = (mass_fraction_of_abv(abv) for abv in (facts["riddle_strength"].value, 40.0))
    spirit_kg = facts["riddle_spirit"].value * density(strong, 20.0)
    mixture_kg = spirit_kg * strong / label
    assert facts["riddle_water"].value == round((mixture_kg - spirit_kg) / density(0.0, 20.0), 1)
    assert facts["riddle_mixture"].value == round(mixture_kg / density(label, 20.0))
    assert facts["water_density"].value == round(density(0.0, 20.0), 1)


@pytest.mark.parametrize(("value", "digits"), [(6, 0), (0.6, 1), (789.24, 2), (10.0, 0), (100, 0), (1e-3, 3)])
def test_a_fact_is_written_with_its_own_decimals(value: float, digits: int) -> None:
    assert Fact(value, "", "", "a source", None, "read").digits == digits


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ({"value": "six", "source": "x", "status": "read"}, 'a_fact.value: found "six". Allowed: a number'),
        ({"value": True, "source": "x", "status": "read"}, "a_fact.value: found true"),
        ({"value": 6, "status": "read"}, "a_fact.source is missing. Needed: where the value was read"),
        ({"value": 6, "source": "x"}, "a_fact.status is missing. Needed: one of read, quoted"),
        ({"value": 6, "source": "x", "status": "recalled"}, 'found "recalled". Allowed: one of read, quoted'),
        ({"value": 6, "source": "x", "status": "read", "year": 75}, "a_fact.year: found 75. Allowed: a year"),
        ({"value": 6, "source": "x", "status": "read", "units": "g"}, "a_fact.units: found"),
        (6, "a_fact: found 6. Allowed: a table with these keys: value, unit"),
    ],
)
def test_a_fact_without_its_source_is_none(entry: object, told: str) -> None:
    faults: list[Fault] = []
    assert not read_facts({"a_fact": entry}, Where("facts.toml", "", faults))
    assert told in faults[0].sentence()


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
