"""The wall: what a screen in the hall turns through, every figure and stop in all the site's languages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from kiosk.figures.figure import State
from kiosk.site.content import Content
from kiosk.stops.pages import Reader
from kiosk.words.figures import Said

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


def screens(content: Content, readers: Sequence[Reader]) -> list[Screen]:
    """Return the public figures that say something, in the order of the house, each stop in between.

    `readers` are one for each language, the site's first language first.
    """
    figures = [_figure(name, readers) for name in readers[0].book.public()]
    told = [screen for screen in figures if screen.state != State.UNKNOWN.value]
    stops = [
        Screen(
            f"stop-{slug}",
            "",
            "",
            tuple(Line(r.words.language, stop.names[r.words.language], "") for r in readers),
            slug,
        )
        for slug, stop in content.stops.items()
    ]
    return _in_turn(told, stops)


def _in_turn(figures: list[Screen], stops: list[Screen]) -> list[Screen]:
    """Return the figures with the stops spread evenly among them."""
    turned: list[Screen] = []
    shown = 0
    for at, figure in enumerate(figures, 1):
        turned.append(figure)
        due = at * len(stops) // len(figures)
        turned += stops[shown:due]
        shown = due
    return turned or stops


def _figure(name: str, readers: Sequence[Reader]) -> Screen:
    said = [reader.told(name).said for reader in readers]
    first = said[0]
    lines = (_line(one, first, reader.words.language) for one, reader in zip(said, readers, strict=True))
    return Screen(f"figure-{name.replace('_', '-')}", first.state.value, first.value, tuple(lines))


def _line(said: Said, first: Said, language: str) -> Line:
    if not said.value:
        return Line(language, said.sentence, "")
    # Where two languages write the number apart, the second says it whole.
    told = said.unit if said.value == first.value else said.amount
    return Line(language, f"{told} {said.noun}".strip(), "; ".join(filter(None, (said.as_of, said.basis))))


def as_json(found: Sequence[Screen]) -> dict[str, Any]:
    """Return the screens as the script reads them."""
    return {"screens": [asdict(screen) for screen in found]}
