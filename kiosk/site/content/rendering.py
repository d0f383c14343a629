"""A page of content filled in for one reader: figures, facts and literals become HTML.

Everything set into a page is escaped here. A figure is number and noun, marked
with its state; one from earlier carries its time; one that rests or is not known
gives way to the page's own words, or to the sentence that `words` has for it.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import cast

from markupsafe import Markup

from kiosk.figures.figure import Figure, FigureReader, State
from kiosk.site.content.loading import Fact, Page, Slot
from kiosk.words.catalogs import Words
from kiosk.words.figures import FigureText, figure_text
from kiosk.words.formats import NO_BREAK_SPACE, number, percent
from kiosk.words.units import symbol

FIGURES = ("figure", "each")


@dataclass(frozen=True, slots=True)
class StatedFigure:
    """A figure with its text for one reader."""

    name: str
    of: str  # the tank, store or product, "" for the only value
    figure: Figure
    text: FigureText


# Headings come from our own compiler; what fills a slot is escaped and holds none.
_HEADING = re.compile(r'<h2 id="([a-z0-9-]+)">(.*?)</h2>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page under one heading, with the id that all languages share."""

    id: str
    title: Markup
    text: Markup


def sections(html: Markup) -> list[Section]:
    """Return the parts of a rendered page, each under its heading of the second level."""
    _, *pieces = _HEADING.split(str(html))
    triples = zip(pieces[::3], pieces[1::3], pieces[2::3], strict=True)
    return [Section(name, Markup(title), Markup(text.strip())) for name, title, text in triples]


@dataclass(frozen=True, slots=True)
class PageReader:
    """The reader of a page: language, units ("metric" or "us"), and the time on the site's clock."""

    words: Words
    units: str
    figures: FigureReader
    facts: Mapping[str, Fact]
    now: datetime

    @property
    def zone(self) -> tzinfo:
        """The site's time zone."""
        return cast(tzinfo, self.now.tzinfo)

    def read(self, page: Page) -> Markup:
        """Return a page as HTML. Raises KeyError for an unknown figure or fact."""
        return Markup(page.render(self.fill))

    def stated(self, name: str, of: str = "") -> StatedFigure:
        """Return one figure in this reader's words."""
        figure = self.figures.get(name, of)
        text = figure_text(figure, self.figures.specs[name], self.now, self.words, self.units, of=of)
        return StatedFigure(name, of, figure, text)

    def stated_each(self, name: str) -> list[StatedFigure]:
        """Return the values of a figure, one for each of its tanks, stores or products, sorted by code."""
        return [self.stated(name, of) for of in sorted(self.figures.each(name))]

    def stated_on(self, pages: Iterable[Page], names: Iterable[str] = ()) -> list[StatedFigure]:
        """Return every figure that the pages name, then the others among `names`, each once."""
        asked = [(slot.name, slot.key) for slot in _slots(pages, FIGURES)] + [(name, "") for name in names]
        figures: dict[tuple[str, str], StatedFigure] = {}
        for name, key in dict.fromkeys(asked):
            several = bool(self.figures.specs[name].of) and not key
            for stated in self.stated_each(name) if several else [self.stated(name, key)]:
                figures.setdefault((stated.name, stated.of), stated)
        return list(figures.values())

    def facts_on(self, pages: Iterable[Page]) -> dict[str, Fact]:
        """Return every fact that the pages name, by its name, in their order."""
        return {slot.name: self.facts[slot.name] for slot in _slots(pages, ("fact",))}

    def fill(self, slot: Slot) -> str:
        """Return the HTML that stands in a slot's place."""
        if slot.kind == "said":
            return str(Markup.escape(slot.name))
        if slot.kind == "part":
            return str(_PART.format(slot.name))
        if slot.kind == "fact":
            return str(_FACT.format(fact_amount(self.facts[slot.name], self.words)))
        if slot.kind == "each":
            return self._each(slot)
        return str(_figure(self.stated(slot.name, slot.key).text, slot.otherwise))

    def _each(self, slot: Slot) -> str:
        figures = self.stated_each(slot.name)
        if slot.otherwise and not any(figure.text.value for figure in figures):
            return str(_EACH_MISSING.format(slot.otherwise))
        items = (_EACH.format(figure.text.state.value, figure.text.sentence) for figure in figures)
        return str(Markup('<ul class="said-each">{}</ul>').format(Markup("").join(items)))


def fact_amount(fact: Fact, words: Words) -> str:
    """Return a fact's number and unit in the reader's locale, without what it counts per."""
    if fact.unit == "%":
        return percent(fact.value / 100, fact.digits, words)
    value = number(fact.value, fact.digits, words)
    return f"{value}{NO_BREAK_SPACE}{symbol(fact.unit, words)}" if fact.unit else value


_FACT = Markup('<span class="fact">{}</span>')
# The word joiner keeps a letter on the line of the word that it follows.
_PART = Markup('<b class="letter">\u2060{}</b>')
_EACH = Markup('<li data-state="{}">{}</li>')
_EACH_MISSING = Markup('<p class="said-each" data-state="unknown">{}</p>')
_MISSING = Markup('<span class="said" data-state="{}">{}</span>')
_SAID = Markup('<span class="said" data-state="{}"><strong>{}</strong> {}{}</span>')
_WHEN = Markup(' <small class="said-when">({})</small>')


def _figure(text: FigureText, otherwise: str) -> Markup:
    if not text.value:
        return _MISSING.format(text.state.value, otherwise or text.sentence)
    when = _WHEN.format(text.as_of) if text.state is State.STALE and text.as_of else ""
    return _SAID.format(text.state.value, text.amount, text.noun, when)


def _slots(pages: Iterable[Page], kinds: tuple[str, ...]) -> Iterator[Slot]:
    return (part for page in pages for part in page.parts if isinstance(part, Slot) and part.kind in kinds)
