"""The plate of a stop with its lettered parts, and its instrument at the live figure."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from kiosk.drawings.levels import top_of_scale
from kiosk.drawings.plates import draw_plate, instruments, plate_parts, vessels
from kiosk.figures.figure import FigureReader, Unit
from kiosk.site.content.rendering import PageReader, StatedFigure
from kiosk.stops.plates import PLATES
from kiosk.words import units
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import joined, number, percent

Groups = Sequence[tuple[str, float]]
"""Each group on the walk: its letter, and its place on the route, 2.5 between the third and fourth stop."""
GroupsOnWalk = Callable[[FigureReader], Groups]
"""Returns where the groups are now."""


@dataclass(frozen=True, slots=True)
class Part:
    """A lettered part of a plate: its name, with what it is for."""

    letter: str
    name: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """The plate of a stop and its instrument, in the reader's words."""

    title: str
    drawing: Markup
    parts: list[Part]
    heading: str
    instrument: Markup
    figures: list[StatedFigure]  # that the instrument shows
    note: str  # what it shows beside figures


class Dial:
    """Draws one instrument at the figures of a reader; each method is one instrument."""

    def __init__(
        self, reader: PageReader, figures: Sequence[StatedFigure | None], stops: int, groups: Groups
    ) -> None:
        """`figures` are the instrument's own in their order; one that is missing leaves it at rest."""
        self._reader, self._figures, self._stops, self._groups = reader, figures, stops, groups
        self._words = reader.words

    def _value(self, place: int = 0) -> float | None:
        """Return the value of a figure in its stored unit, None where there is none."""
        stated = self._figures[place]
        return stated.figure.value if stated else None

    def _shown(self, place: int = 0) -> tuple[str, str]:
        """Return the number and the short unit of a figure as text."""
        stated = self._figures[place]
        return (stated.text.value, stated.text.unit.split(" (")[0]) if stated else ("", "")

    def _scaled(self, unit: Unit, place: int = 0) -> float | None:
        """Return the value of a figure in the reader's own unit."""
        value = self._value(place)
        return None if value is None else self._usual(value, unit)

    def _usual(self, value: float, unit: Unit) -> float:
        return value * units.scale(unit, self._words, self._reader.units)[0]

    def parrot(self) -> Markup:
        """Draw the parrot at the strength that runs."""
        return instruments.parrot(self._value(), *self._shown())

    def gravity(self) -> Markup:
        """Draw the float in a tank's wash."""
        return instruments.gravity_float(self._value(), *self._shown())

    def load(self) -> Markup:
        """Draw the platform scale at the last load."""
        return instruments.load_dial(self._scaled(Unit.TONNE), self._usual(3, Unit.TONNE), *self._shown())

    def cane(self) -> Markup:
        """Draw cane beside a staff of days since its last cut."""
        days = self._value()
        shown = "" if days is None else number(days, 0, self._words)
        return instruments.cane_staff(days, 400, shown, self._words.ngettext("day", "days", int(days or 0)))

    def juice(self) -> Markup:
        """Draw the juice that a tonne of cane gives."""
        kg, of = self._scaled(Unit.KG), self._words.gettext("1 tonne")
        return instruments.juice_tank(kg, self._usual(700, Unit.KG), of, *self._shown())

    def cask(self) -> Markup:
        """Draw an average cask cut across: its level, its rod, and what the angels took."""
        volume, filled = self._scaled(Unit.L), self._scaled(Unit.L, 1)
        if volume is None or filled is None:
            usual = self._usual(200, Unit.L)
            return vessels.cask_cut(None, usual, top_of_scale(usual / 10, 1))
        angels = self._shown(2)[0]
        return vessels.cask_cut(
            min(volume, filled),
            filled,
            top_of_scale(filled / 10, 1),
            *self._shown(),
            angels,
            self._words.gettext("to the angels") if angels else "",
        )

    def bottle(self) -> Markup:
        """Draw what went into a bottle: spirit from the cask, and water above it."""
        water, words = self._value(), self._words
        if water is None:
            return vessels.bottle_fill(None)
        water = min(1.0, max(0.0, water))
        shares = percent(1 - water, 0, words), percent(water, 0, words)
        return vessels.bottle_fill(1 - water, *shares, (words.gettext("spirit"), words.gettext("water")))

    def floats(self) -> Markup:
        """Draw the strength at the outlet and that of the hearts of today side by side."""
        names = self._words.gettext("At the outlet"), self._words.gettext("Hearts today")
        both = [(self._value(place), self._shown(place)[0]) for place in (0, 1)]
        return instruments.two_floats(both[0], both[1], names)

    def glass(self) -> Markup:
        """Draw a sample in a tasting glass with its standard drinks."""
        volume_ml, drinks = self._value(1), self._value()
        share = None if volume_ml is None else min(1.0, volume_ml / vessels.BOWL_ML)
        return vessels.glass_drinks(share, drinks, *self._shown())

    def route(self) -> Markup:
        """Draw the walk with its groups."""
        numbers = [number(i + 1, 0, self._words) for i in range(self._stops)]
        return vessels.route_map(numbers, [(place, letter) for letter, place in self._groups])


DRAWN: Mapping[str, Callable[[Dial], Markup]] = {
    "welcome-house": Dial.route,
    "cane-field": Dial.cane,
    "harvest-yard": Dial.load,
    "mill": Dial.juice,
    "fermentation": Dial.gravity,
    "still-house": Dial.parrot,
    "cask-store": Dial.cask,
    "bottling": Dial.bottle,
    "laboratory": Dial.floats,
    "tasting-room": Dial.glass,
}
"""The instrument of each stop that has a plate."""


def explain(slug: str, reader: PageReader, stops: int, groups_on_walk: GroupsOnWalk) -> Explanation | None:
    """Return the plate of a stop with its instrument, or None for a stop without one.

    `stops` is the number of stops of the walk.
    """
    shown, words = PLATES.get(slug), reader.words
    if shown is None:
        return None
    walk = slug == "welcome-house"
    groups = [group for group in groups_on_walk(reader.figures) if group[1] < stops] if walk else []
    names = {key: words.gettext(name) for key, name in shown.parts.items()}
    figures = [_stated(reader, name) for name in shown.figures]
    shown_figures = figures if any(one and one.text.value for one in figures) else figures[:1]
    known = {figure.text.sentence: figure for figure in shown_figures if figure is not None}
    instrument = DRAWN[slug](Dial(reader, figures, stops, groups))
    return Explanation(
        title=words.gettext(shown.title),
        drawing=draw_plate(slug, names, words.gettext(shown.shows)),
        parts=[Part(letter, name) for letter, _, name in plate_parts(slug, names)],
        heading=words.gettext(shown.heading),
        instrument=instrument,
        figures=list(known.values()),
        note=_where(groups, words) if walk else "",
    )


def _stated(reader: PageReader, name: str) -> StatedFigure | None:
    """Return a figure, of several tanks that with the newest value; None where the house has none of it."""
    spec = reader.figures.specs.get(name)
    if spec is None:
        return None
    if not spec.of:
        return reader.stated(name)
    each = reader.stated_each(name)
    return max(each, key=_newness, default=None)


def _newness(stated: StatedFigure) -> tuple[bool, float]:
    as_of = stated.figure.as_of
    return stated.figure.value is not None, as_of.timestamp() if as_of else 0.0


def _where(groups: Groups, words: Words) -> str:
    """Return in words where the groups are."""
    if not groups:
        return words.gettext("By the plan of the day no group is on the walk now.")
    each = [
        words.gettext(_AT if place == int(place) else _ON_THE_WAY, letter=letter, n=math.ceil(place) + 1)
        for letter, place in groups
    ]
    return words.gettext("By the plan of the day: {groups}.", groups=joined(each, words))


_AT, _ON_THE_WAY = N_("group {letter} at stop {n}"), N_("group {letter} on the way to stop {n}")
