"""The wall: what a screen in the hall turns through, stop after stop, in all the site's languages."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kiosk.figures.figure import ON_DEMAND, State
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
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
    """One screen of the wall: a figure's value over its lines, or a stop (`slug`) with its names."""

    key: str
    state: str
    value: str
    lines: tuple[Line, ...]
    slug: str = ""


def screens(content: Content, readers: Sequence[PageReader]) -> list[Screen]:
    """Return every stop in the order of the walk, after each its public figures that say something.

    Figures that no stop has come last. `readers` are one for each language, the
    site's first language first.
    """
    specs = readers[0].figures.specs
    placed = [name for stop in content.stops.values() for name in stop.figures]
    homeless = [name for name in specs if name not in placed]
    turn: list[Screen] = []
    for stop in content.stops.values():
        names = tuple(Line(r.words.language, stop.names[r.words.language], "") for r in readers)
        turn.append(Screen(f"stop-{stop.slug}", "", "", names, stop.slug))
        turn += _figures(stop.figures, readers)
    return [*turn, *_figures(homeless, readers)]


def _figures(names: Sequence[str], readers: Sequence[PageReader]) -> Iterator[Screen]:
    figures = readers[0].figures
    for name in names:
        spec = figures.specs[name]
        if not spec.public or spec.of in ON_DEMAND:
            continue
        for of in sorted(figures.each(name)) if spec.of else [""]:
            screen = _figure(name, of, readers)
            # Of several tanks only those at work have a screen: that all rest is told once, of all.
            if screen.value or (screen.state == State.RESTING.value and not of):
                yield screen


def _figure(name: str, of: str, readers: Sequence[PageReader]) -> Screen:
    texts = [reader.stated(name, of).text for reader in readers]
    first = texts[0]
    lines = (_line(one, first, of, reader) for one, reader in zip(texts, readers, strict=True))
    key = "-".join(["figure", *name.split("_"), *of.split()])
    return Screen(key, first.state.value, first.value, tuple(lines))


def _line(figure: FigureText, first: FigureText, of: str, reader: PageReader) -> Line:
    words = reader.words
    if not figure.value:
        return Line(words.language, figure.sentence, "")
    # Where two languages write the number apart, the second says it whole.
    told = figure.unit if figure.value == first.value else figure.amount
    text = f"{told} {figure.noun}".strip()
    named = words.gettext("{of}: {sentence}", of=of, sentence=text) if of else text
    return Line(words.language, named, "; ".join(filter(None, (figure.as_of, figure.basis))))
