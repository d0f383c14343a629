"""The wall: what a screen in the hall turns through, stop after stop, in all the site's languages."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kiosk.figures.figure import ON_DEMAND, State
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
from kiosk.site.content.stops import Stop
from kiosk.words.figures import FigureText

TURN_S, ASK_S = 12, 5
"""Seconds that a screen stands, and between two questions to the server."""


@dataclass(frozen=True, slots=True)
class Line:
    """What a screen says in one language; `note` is when and how it is known."""

    language: str
    text: str
    note: str


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen of the wall: a figure, or a stop (`slug`) with its number in the walk, over its lines.

    `unit` stands below the value where all languages write both alike. `place` is the
    slug of the stop that is drawn beside it, empty for a figure that no stop has.
    """

    key: str
    state: str
    value: str
    unit: str
    lines: tuple[Line, ...]
    place: str
    slug: str = ""


def screens(content: Content, readers: Sequence[PageReader]) -> list[Screen]:
    """Return every stop in the order of the walk, after each its public figures that say something.

    Below the name of a stop stands its first figure that is known now, else what comes after it.
    Figures that no stop has come last. `readers` are one for each language, the site's first language first.
    """
    specs = readers[0].figures.specs
    placed = [name for stop in content.stops.values() for name in stop.figures]
    homeless = [name for name in specs if name not in placed]
    turn: list[Screen] = []
    walk = [*content.stops.values()]
    for number, (stop, following) in enumerate(zip(walk, [*walk[1:], None], strict=False), 1):
        names = tuple(
            Line(r.words.language, stop.names[r.words.language], _fact(stop, following, r)) for r in readers
        )
        turn.append(Screen(f"stop-{stop.slug}", "", str(number), "", names, stop.slug, stop.slug))
        turn += _figures(stop.figures, readers, stop)
    return [*turn, *_figures(homeless, readers)]


def _fact(stop: Stop, following: Stop | None, reader: PageReader) -> str:
    """Return what stands below a stop's name: its first public figure that is known, else the next stop."""
    for name in stop.figures:
        spec = reader.figures.specs[name]
        if spec.public and not spec.of:
            figure = reader.stated(name, "").text
            if figure.value and figure.state is State.FRESH:
                return figure.sentence
    if following is None:
        return ""
    return reader.words.gettext("Then: {stop}", stop=following.names[reader.words.language])


def _figures(
    names: Sequence[str], readers: Sequence[PageReader], stop: Stop | None = None
) -> Iterator[Screen]:
    figures = readers[0].figures
    for name in names:
        spec = figures.specs[name]
        if not spec.public or spec.of in ON_DEMAND:
            continue
        for of in sorted(figures.each(name)) if spec.of else [""]:
            screen = _figure(name, of, readers, stop)
            # Of several tanks only those at work have a screen: that all rest is told once, of all.
            if screen.value or (screen.state == State.RESTING.value and not of):
                yield screen


def _figure(name: str, of: str, readers: Sequence[PageReader], stop: Stop | None) -> Screen:
    texts = [reader.stated(name, of).text for reader in readers]
    first = texts[0]
    alike = all((one.value, one.unit) == (first.value, first.unit) for one in texts)
    told = ["" if alike else one.unit if one.value == first.value else one.amount for one in texts]
    lines = tuple(
        _line(one, reader, of, stop, amount) for one, reader, amount in zip(texts, readers, told, strict=True)
    )
    key = "-".join(["figure", *name.split("_"), *of.split()])
    unit, place = first.unit if alike else "", stop.slug if stop else ""
    return Screen(key, first.state.value, first.value, unit, lines, place)


def _line(figure: FigureText, reader: PageReader, of: str, stop: Stop | None, amount: str) -> Line:
    """Return what a figure says in a language; `amount` is what its head does not say of it."""
    words = reader.words
    where = stop.names[words.language] if stop else ""
    if not figure.value:
        return Line(words.language, figure.sentence, where)
    text = f"{amount} {figure.noun}".strip()
    named = words.gettext("{of}: {sentence}", of=of, sentence=text) if of else text
    known = "; ".join(filter(None, (figure.as_of, figure.basis)))
    return Line(words.language, named, " · ".join(filter(None, (where, known))))
