"""What a guide can say: the figures that changed most since yesterday, and bottles lost since a tour began.

Yesterday's figures are not stored: the figures are read again as of the end of
yesterday from the same records. A correction therefore corrects both days.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.figure import Figure, FigureReader, Spec, State
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader, StatedFigure
from kiosk.words.figures import figure_text

LINES = 5


@dataclass(frozen=True, slots=True)
class Line:
    """A spoken sentence with rounded numbers; `before` is yesterday's amount ("": none), `as_of` its time."""

    name: str
    sentence: str
    before: str
    as_of: str
    change: float  # a share of the larger of the two amounts; infinite where there was nothing


def this_morning(content: Content, reader: PageReader, day_begins: datetime, most: int = LINES) -> list[Line]:
    """Return the figures that changed most since the service day before, or are new.

    Each stop has its first line before any has its second, so that a run of the still
    does not fill them all. Only what is fresh now is news. `day_begins` is when this
    service day did. For the page of the day, and for any sheet of it.
    """
    earlier = PageReader(
        reader.words,
        reader.units,
        reader.figures.as_of(day_begins - timedelta(seconds=1)),
        reader.facts,
        day_begins,
    )
    ranked = [
        (place, line)
        for stop in content.stops.values()
        for place, line in enumerate(_ranked(stop.figures, reader, earlier))
    ]
    ranked.sort(key=lambda one: (one[0], -one[1].change))
    return [line for _, line in ranked[:most]]


def _ranked(names: Iterable[str], reader: PageReader, earlier: PageReader) -> list[Line]:
    return sorted(_news(names, reader, earlier), key=lambda one: -one.change)


def _news(names: Iterable[str], reader: PageReader, earlier: PageReader) -> Iterator[Line]:
    for name in names:
        spec = reader.figures.specs[name]
        if not spec.public or spec.of:
            continue
        stated, was = reader.stated(name), earlier.figures.get(name)
        if stated.text.state is not State.FRESH or not stated.figure.value:
            continue
        if not was.value:
            yield _line(stated, "", math.inf)
        elif not spec.daily and (before := _amount(was, spec, earlier)) != stated.text.amount:
            yield _line(stated, before, _change(stated.figure.value, was.value))


def _amount(figure: Figure, spec: Spec, reader: PageReader) -> str:
    return figure_text(figure, spec, reader.now, reader.words, reader.units).amount


def _change(now: float, then: float) -> float:
    return abs(now - then) / max(abs(now), abs(then))


def _line(stated: StatedFigure, before: str, change: float) -> Line:
    return Line(stated.name, stated.text.spoken, before, stated.text.as_of, change)


_LONGEST_TOUR = timedelta(hours=12)


def angels_bottles_since(figures: FigureReader, start: datetime, now: datetime) -> float | None:
    """Return how many bottles the casks are expected to have lost since a tour's `start`.

    The bottle is that of the figure `angels_bottle_every`. None while that figure is
    not known, before the start, and when the tour is long over.
    """
    hours_a_bottle = figures.get("angels_bottle_every").value
    if not hours_a_bottle or not timedelta(0) <= now - start <= _LONGEST_TOUR:
        return None
    return (now - start) / timedelta(hours=1) / hours_a_bottle
