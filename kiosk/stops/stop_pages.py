"""The questions of a stop: each a question that opens on its answer.

What the pages of a stop show: gathered here, so that views only ask and answer.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from kiosk.figures.figure import FigureReader
from kiosk.site.content.loading import Content, Fact, Page, Stop
from kiosk.site.content.rendering import PageReader, StatedFigure, fact_amount
from kiosk.site.content.stops import AT_THE_DOOR
from kiosk.site.content.symbols import Symbol, symbols
from kiosk.site.settings import RouteStop
from kiosk.words.catalogs import N_
from kiosk.words.formats import day as format_day
from kiosk.words.units import symbol

# Headings come from our own compiler; what fills a slot is escaped and holds none.
_HEADING = re.compile(r'<h2 id="([a-z0-9-]+)">(.*?)</h2>', re.DOTALL)
_ANY_ID = re.compile(r'(<h[2-6] id="[a-z0-9-]+)"')


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and its answer as HTML, by the id that both languages share."""

    id: str
    question: Markup
    answer: Markup


def asked(html: Markup) -> list[Asked]:
    """Return the questions of a page of questions that was filled in for a reader."""
    _, *pieces = _HEADING.split(str(html))
    triples = zip(pieces[::3], pieces[1::3], pieces[2::3], strict=True)
    return [Asked(name, Markup(question), Markup(answer.strip())) for name, question, answer in triples]


def apart(html: Markup, language: str) -> Markup:
    """Return a page whose headings' ids end in its language, so that twins can share a screen."""
    return Markup(_ANY_ID.sub(rf'\1-{language}"', str(html)))


FRONT_FIGURES = ("casks_filled", "angels_share_to_date", "run_abv_now")
"""The figures of the front page, where somebody computes them."""

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
class Link:
    """A stop as others name it: where its page is, and what to know before it."""

    slug: str
    name: str
    symbols: list[Symbol]


@dataclass(frozen=True, slots=True)
class GuestPage:
    """A stop as guests read it."""

    slug: str
    name: str
    position: int  # on the route, the first is 1
    length: int  # stops on the route
    at_the_door: bool
    symbols: list[Symbol]
    text: Markup
    safety: Markup
    questions: list[Asked]
    told: list[StatedFigure]
    before: Link | None
    after: Link | None


@dataclass(frozen=True, slots=True)
class Sourced:
    """A constant of the page with where it comes from."""

    amount: str
    status: str
    source: str  # as written in facts.toml, with its year


@dataclass(frozen=True, slots=True)
class Labels:
    """What the parts of a guide's page are called in its own language."""

    guest: str
    safety: str
    questions: str


@dataclass(frozen=True, slots=True)
class GuidePage:
    """A stop as guides read it, in one language."""

    slug: str
    language: str
    name: str
    minutes: int
    least_minutes: int
    may_be_dropped: bool
    holds: int
    at_the_door: bool
    symbols: list[Symbol]
    guide: Markup
    text: Markup
    safety: Markup
    questions: list[Asked]
    told: list[StatedFigure]
    facts: list[Sourced]
    labels: Labels


def links(content: Content, reader: PageReader) -> list[Link]:
    """Return the stops of the route in their order."""
    return [_link(stop, reader) for stop in content.stops.values()]


def front_figures(reader: PageReader) -> list[StatedFigure]:
    """Return what the front page tells of the house at this moment."""
    return [reader.stated(name) for name in FRONT_FIGURES if name in reader.figures.specs]


def guest_page(
    content: Content, slug: str, reader: PageReader, linked: Callable[[Markup], Markup] = Markup
) -> GuestPage | None:
    """Return a stop's page for guests, or None when the route has no such stop.

    `linked` makes the words of the trade in its text and answers lead to their meaning.
    """
    stop = content.stops.get(slug)
    if stop is None:
        return None
    text, safety, questions = (_page(stop, page, reader) for page in ("guest", "safety", "questions"))
    route = list(content.stops.values())
    place = route.index(stop)
    return GuestPage(
        slug=slug,
        name=_name(stop, reader),
        position=place + 1,
        length=len(route),
        at_the_door=stop.phones == AT_THE_DOOR,
        symbols=symbols(stop, reader.words),
        text=linked(reader.read(text)),
        safety=reader.read(safety),
        questions=asked(linked(reader.read(questions))),
        told=reader.stated_on((text, questions), _for_guests(stop, reader)),
        before=_link(route[place - 1], reader) if place else None,
        after=_link(route[place + 1], reader) if place + 1 < len(route) else None,
    )


def guide_page(
    content: Content, route: Sequence[RouteStop], slug: str, reader: PageReader
) -> GuidePage | None:
    """Return a stop's page for guides in the reader's language, or None.

    The site's route says how long and how many; the stop itself where the route is silent.
    """
    stop = content.stops.get(slug)
    if stop is None:
        return None
    pages = {page: _page(stop, page, reader) for page in ("guide", "guest", "safety", "questions")}
    language = reader.words.language
    planned = next((on_route for on_route in route if on_route.slug == slug), None)
    return GuidePage(
        slug=slug,
        language=language,
        name=_name(stop, reader),
        minutes=planned.minutes if planned else stop.minutes,
        least_minutes=stop.least_minutes,
        may_be_dropped=stop.may_be_dropped,
        holds=planned.holds if planned else stop.holds,
        at_the_door=stop.phones == AT_THE_DOOR,
        symbols=symbols(stop, reader.words),
        guide=apart(reader.read(pages["guide"]), language),
        text=apart(reader.read(pages["guest"]), language),
        safety=apart(reader.read(pages["safety"]), language),
        questions=asked(reader.read(pages["questions"])),
        told=reader.stated_on(pages.values(), stop.figures),
        facts=[_sourced(fact, reader) for fact in reader.facts_on(pages.values()).values()],
        labels=_labels(reader),
    )


def _for_guests(stop: Stop, reader: PageReader) -> list[str]:
    """Return the figures of a stop that guests are told: public ones with a single value."""
    specs = (reader.figures.specs[name] for name in stop.figures)
    return [spec.name for spec in specs if spec.public and not spec.of]


def _sourced(fact: Fact, reader: PageReader) -> Sourced:
    _ = reader.words.gettext
    amount = fact_amount(fact, reader.words)
    if fact.per:
        amount += (
            f" {_(PER_WORDS[fact.per])}" if fact.per in PER_WORDS else f" / {symbol(fact.per, reader.words)}"
        )
    source = f"{fact.source}, {fact.year}" if fact.year else fact.source
    return Sourced(amount, _(STATUS_WORDS[fact.status]), source)


def _labels(reader: PageReader) -> Labels:
    _ = reader.words.gettext
    return Labels(_("What guests read here"), _("Safety, as guests read it"), _("What guests ask"))


def _link(stop: Stop, reader: PageReader) -> Link:
    return Link(stop.slug, _name(stop, reader), symbols(stop, reader.words))


def _name(stop: Stop, reader: PageReader) -> str:
    return stop.names[reader.words.language]


def _page(stop: Stop, page: str, reader: PageReader) -> Page:
    """Return a page in the reader's language; only questions may be left out by a site's own stop."""
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
    except ValueError:
        return BirthdayAnswer(asked=True)
    years = casks_filled_on(reader.figures, day, month)
    return BirthdayAnswer(True, format_day(on, reader.words, on), years)
