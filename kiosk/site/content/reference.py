"""Reads the tables that pages refer to: sourced constants and the glossary.

`content/facts.toml` holds the constants (`{fact:us_standard_drink}`),
`content/glossary.toml` the terms of the trade with their meanings.
"""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from kiosk.site import values
from kiosk.site.content.pages import has_digit
from kiosk.site.toml_reader import Refused, Setting, Where, read_table
from kiosk.words.catalogs import N_

STATUSES = ("read", "quoted", "computed", "common practice", "from memory", "house")


@dataclass(frozen=True, slots=True)
class Fact:
    """A constant with its source.

    `unit` and `per` are symbols ("fl oz", "kg/m³") or "" for none. `year` is the
    year of the text, None where the source gives none. `status` says how the
    source was known: read, quoted, computed from one, common practice, house.
    """

    value: float | int
    unit: str
    per: str
    source: str
    year: int | None
    status: str

    @property
    def digits(self) -> int:
        """The number of decimals that the value is written with."""
        exponent = Decimal(str(self.value)).normalize().as_tuple().exponent
        return max(0, -exponent) if isinstance(exponent, int) else 0


def _symbol(value: Any) -> str:
    return "" if value == "" else values.text(value)


FACT = (
    Setting("value", values.number(-1e12, 1e12), N_("a number"), "The value."),
    Setting("unit", _symbol, N_("a unit's symbol"), "Its unit.", ""),
    Setting("per", _symbol, N_("a unit's symbol"), "Per what.", ""),
    Setting("source", values.text, N_("where the value was read"), "Where the value was read."),
    Setting("year", values.whole(1500, 2200), N_("a year"), "The year of the text.", None),
    values.choice("status", STATUSES, "How the source is known."),
)


def read_facts(table: Mapping[str, Any], where: Where) -> dict[str, Fact]:
    """Return the facts of a file by name."""
    facts: dict[str, Fact] = {}
    for name, entry in table.items():
        read = read_table(entry, FACT, where.at(name))
        if read is not None:
            value = entry["value"]  # as written: a whole number stays one
            facts[name] = Fact(**{**read, "value": value})
    return facts


DROP = "drop"


@dataclass(frozen=True, slots=True)
class Term:
    """A term of the trade and its meaning, each by language."""

    names: Mapping[str, str]
    meanings: Mapping[str, str]
    linked: bool = True  # does the word lead to its meaning where it stands on a page?


def _meaning(value: Any) -> dict[str, str]:
    """Read meanings, which hold no number: it would have no source."""
    read = values.by_language(value)
    if any(has_digit(text) for text in read.values()):
        raise Refused
    return read


TERM = (
    Setting("term", values.by_language, N_("the word in each of the site's languages"), "The word."),
    Setting(
        "meaning",
        _meaning,
        N_("what the word means, in each of the site's languages and without a number in figures"),
        "What it means.",
    ),
    values.true_or_false("linked", "Does the word link to its meaning? Not an everyday word.", default=True),
)


def merge_glossary(
    files: Iterable[tuple[Mapping[str, Any], Where]], languages: Sequence[str]
) -> dict[str, Term]:
    """Return the terms of a glossary's files by id, later files over earlier ones, without the dropped ones.

    The languages of a term are checked after the merge, so that a site with a
    language of its own may replace a shipped term that lacks it.
    """
    merged: dict[str, tuple[Term, Where]] = {}
    for table, where in files:
        for name in _dropped(table, where, merged):
            del merged[name]
        merged |= _read(table, where)
    for term, where in merged.values():
        for language in languages:
            _check_language(term, where, language)
    return {name: term for name, (term, _) in merged.items()}


def _read(table: Mapping[str, Any], where: Where) -> dict[str, tuple[Term, Where]]:
    terms: dict[str, tuple[Term, Where]] = {}
    for name, entry in table.items():
        if name == DROP:
            continue
        if not re.fullmatch(values.SLUG, name):
            where.at(name).note(name, N_("an id of lower case letters, digits and dashes"))
            continue
        read = read_table(entry, TERM, where.at(name))
        if read is not None:
            terms[name] = Term(read["term"], read["meaning"], read["linked"]), where.at(name)
    return terms


def _dropped(table: Mapping[str, Any], where: Where, known: Collection[str]) -> list[str]:
    """Return the ids of terms to drop; an unknown id is a fault."""
    named = table.get(DROP, [])
    if not isinstance(named, list):
        where.at(DROP).note(named, N_("a list of ids of the glossary"))
        return []
    right = [name for name in named if isinstance(name, str) and name in known]
    for place, name in enumerate(named):
        if name not in right:
            near = get_close_matches(str(name), sorted(known), n=3) or sorted(known)[:3]
            allowed = N_("an id of the glossary that ships, such as {ids}")
            where.at(DROP, place).note(name, allowed, ids=", ".join(near))
    return list(dict.fromkeys(right))


def _check_language(term: Term, where: Where, language: str) -> None:
    for part, texts, allowed in (("term", term.names, TERM[0]), ("meaning", term.meanings, TERM[1])):
        if language not in texts:
            where.at(part, language).missing(allowed.allowed)
