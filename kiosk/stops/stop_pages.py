"""The pages of a stop for guests and guides, and the glossary with the links to its terms."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import groupby

from markupsafe import Markup

from kiosk.figures.figure import FigureReader
from kiosk.site.content.loading import Content, Fact, Page, Stop, Term
from kiosk.site.content.rendering import PageReader, StatedFigure, fact_amount, sections
from kiosk.site.content.symbols import Symbol, symbols
from kiosk.site.settings import RouteStop
from kiosk.stops.instruments import Explanation, GroupsOnWalk, explain
from kiosk.words.catalogs import N_, Words, initial, sort_key
from kiosk.words.formats import day as format_day
from kiosk.words.units import symbol


def by_letter(glossary: Mapping[str, Term], language: str) -> list[tuple[str, list[tuple[str, Term]]]]:
    """Return the glossary by first letter in a language's own order, each term with its id."""
    terms = sorted(glossary.items(), key=lambda item: sort_key(item[1].names[language], language))
    letters = groupby(terms, lambda item: initial(item[1].names[language], language))
    return [(letter, list(entries)) for letter, entries in letters]


# Inside another link, a heading or a figure no term is linked.
_CLOSED_TO_LINKS = frozenset({"a", "code", "h1", "h2", "h3", "h4", "h5", "h6", "span", "strong", "summary"})
_TAG = re.compile(r"(<[^>]+>)")
_TAG_NAME = re.compile(r"</?([a-z0-9]+)")
_IN_BRACKETS = re.compile(r"\s*\([^)]*\)")


class Linker:
    """Links the terms of a glossary in the pages of one language."""

    def __init__(self, glossary: Mapping[str, Term], language: str, address: Callable[[str], str]) -> None:
        """`address` returns the address of the glossary's entry for a term's id."""
        ids = {
            _IN_BRACKETS.sub("", term.names[language]).casefold(): name
            for name, term in glossary.items()
            if term.linked
        }
        longest_first = sorted(ids, key=len, reverse=True)
        self._ids = ids
        self._address = address
        self._word = re.compile(
            rf"(?<![\w-])({'|'.join(_pattern(word) for word in longest_first)})(?:s|es)?(?![\w-])",
            re.IGNORECASE,
        )

    def linked(self, html: Markup) -> Markup:
        """Return a page's HTML with a link at the first use of each term."""
        if not self._ids:
            return html
        left = dict(self._ids)
        parts, closed = [], 0
        for part in _TAG.split(str(html)):
            if part.startswith("<"):
                closed += _closes_to_links(part)
                parts.append(part)
            else:
                parts.append(part if closed else self._word.sub(lambda at: self._link(at, left), part))
        return Markup("".join(parts))  # the page's own HTML, and links of escaped parts

    def _link(self, at: re.Match[str], left: dict[str, str]) -> str:
        name = left.pop(at[1].casefold().replace("’", "'"), None)
        if name is None:
            return at[0]
        return f'<a class="term" href="{escape(self._address(name))}">{at[0]}</a>'


def _pattern(word: str) -> str:
    """Return the pattern of a term as pages write it, with either apostrophe."""
    return re.escape(escape(word, quote=False)).replace("'", "['’]")


def _closes_to_links(tag: str) -> int:
    """Return 1 for a tag that opens an element without links, -1 for one that closes it, else 0."""
    name = _TAG_NAME.match(tag)
    if name is None or name[1] not in _CLOSED_TO_LINKS:
        return 0
    return -1 if tag.startswith("</") else 1


_ANY_ID = re.compile(r'(<h[2-6] id="[a-z0-9-]+)"')

FRONT_FIGURES = ("casks_filled", "angels_share_to_date", "run_abv_now")
"""The figures of the front page, where a feature computes them."""

STATUS_WORDS = {
    "read": N_("read at its source"),
    "quoted": N_("quoted by others"),
    "computed": N_("computed"),
    "common practice": N_("common practice"),
    "from memory": N_("from memory, to be confirmed"),
    "house": N_("the house's own"),
}
PER_WORDS = {
    "year": N_("per year"),
    "drink": N_("for each standard drink"),
    "working day": N_("per working day"),
    "half-ounce": N_("for each half-ounce"),
}
"""What a fact counts for, where it is more than a quantity ("750 mL" stays as it is)."""


@dataclass(frozen=True, slots=True)
class Question:
    """A question and its answer as HTML, with the id that both languages share."""

    id: str
    question: Markup
    answer: Markup


@dataclass(frozen=True, slots=True)
class SourcedFact:
    """A constant that a page names, with its status and source in words."""

    amount: str
    status: str
    source: str  # as written in facts.toml, with its year


@dataclass(frozen=True, slots=True)
class GuestPage:
    """A stop as guests read it, with its neighbours on the route."""

    stop: Stop
    position: int  # on the route, the first is 1
    length: int  # stops on the route
    lead: Markup  # the first paragraph of its text
    text: Markup  # the others
    plate: Explanation | None
    safety: Markup
    questions: list[Question]
    figures: list[StatedFigure]
    before: Stop | None
    after: Stop | None


@dataclass(frozen=True, slots=True)
class GuidePage:
    """A stop as guides read it, in the language of `words`."""

    stop: Stop
    words: Words
    minutes: int
    holds: int
    symbols: list[Symbol]
    plate: Explanation | None
    guide: Markup
    text: Markup
    safety: Markup
    questions: list[Question]
    figures: list[StatedFigure]
    facts: list[SourcedFact]


def front_figures(reader: PageReader) -> list[StatedFigure]:
    """Return the figures of the front page."""
    return [reader.stated(name) for name in FRONT_FIGURES if name in reader.figures.specs]


def guest_page(
    content: Content,
    slug: str,
    reader: PageReader,
    groups_on_walk: GroupsOnWalk,
    add_links: Callable[[Markup], Markup] = Markup,
) -> GuestPage | None:
    """Return a stop's page for guests, or None when the route has no such stop.

    `add_links` links the terms in its text and answers to the glossary.
    """
    stop = content.stops.get(slug)
    if stop is None:
        return None
    text, safety, questions = (_page(stop, page, reader) for page in ("guest", "safety", "questions"))
    route = list(content.stops.values())
    place = route.index(stop)
    specs = (reader.figures.specs[name] for name in stop.figures)
    public = [spec.name for spec in specs if spec.public and not spec.of]
    lead, end, rest = add_links(reader.read(text)).partition("</p>")
    return GuestPage(
        stop=stop,
        position=place + 1,
        length=len(route),
        lead=Markup(lead + end),
        text=Markup(rest),
        plate=explain(slug, reader, len(route), groups_on_walk),
        safety=reader.read(safety),
        questions=split_answers(add_links(reader.read(questions))),
        figures=reader.stated_on((text, questions), public),
        before=route[place - 1] if place else None,
        after=route[place + 1] if place + 1 < len(route) else None,
    )


def guide_page(
    content: Content,
    route: Sequence[RouteStop],
    slug: str,
    reader: PageReader,
    groups_on_walk: GroupsOnWalk,
) -> GuidePage | None:
    """Return a stop's page for guides in the reader's language, or None when the route has no such stop.

    Minutes and the most people are those of the site's route, or else the stop's own.
    """
    stop = content.stops.get(slug)
    if stop is None:
        return None
    pages = {page: _page(stop, page, reader) for page in ("guide", "guest", "safety", "questions")}
    html = {page: with_ids_of(reader.words.language, reader.read(source)) for page, source in pages.items()}
    planned = next((on_route for on_route in route if on_route.slug == slug), stop)
    return GuidePage(
        stop=stop,
        words=reader.words,
        minutes=planned.minutes,
        holds=planned.holds,
        symbols=symbols(stop, reader.words),
        plate=explain(slug, reader, len(content.stops), groups_on_walk),
        guide=html["guide"],
        text=html["guest"],
        safety=html["safety"],
        questions=split_answers(reader.read(pages["questions"])),
        figures=reader.stated_on(pages.values(), stop.figures),
        facts=[_sourced_fact(fact, reader.words) for fact in reader.facts_on(pages.values()).values()],
    )


def split_answers(html: Markup) -> list[Question]:
    """Return the questions of a rendered page of questions, each with its answer."""
    return [Question(part.id, part.title, part.text) for part in sections(html)]


def with_ids_of(language: str, html: Markup) -> Markup:
    """Return a page whose headings' ids end in its language, so that two languages can share a screen."""
    return Markup(_ANY_ID.sub(rf'\1-{language}"', str(html)))


def _sourced_fact(fact: Fact, words: Words) -> SourcedFact:
    amount = fact_amount(fact, words)
    if fact.per in PER_WORDS:
        amount += f" {words.gettext(PER_WORDS[fact.per])}"
    elif fact.per:
        amount += f" / {symbol(fact.per, words)}"
    source = f"{fact.source}, {fact.year}" if fact.year else fact.source
    return SourcedFact(amount, words.gettext(STATUS_WORDS[fact.status]), source)


def _page(stop: Stop, page: str, reader: PageReader) -> Page:
    """Return a page in the reader's language; only a site's own stop may leave out its questions."""
    return stop.pages.get((page, reader.words.language), Page())


_LEAP_YEAR = 2024  # it has every day of the year


@dataclass(frozen=True, slots=True)
class BirthdayAnswer:
    """The casks filled on a birthday; `day` is "" before a day was typed and for one that does not exist."""

    asked: bool = False
    day: str = ""
    years: Sequence[int] = ()


def birthday_answer(
    reader: PageReader,
    casks_filled_on: Callable[[FigureReader, int, int], Sequence[int]],
    day: int | None,
    month: int | None,
) -> BirthdayAnswer:
    """Return the years in which casks were filled on a day of the year. The day is stored nowhere."""
    if day is None or month is None:
        return BirthdayAnswer()
    try:
        on = date(_LEAP_YEAR, month, day)
    except (ValueError, OverflowError):
        return BirthdayAnswer(asked=True)
    years = casks_filled_on(reader.figures, day, month)
    return BirthdayAnswer(True, format_day(on, reader.words, on), years)
