"""A filling of a cask, its gauges, and the events between them.

Amounts are litres at 20 °C: of pure alcohol, and of bulk volume. Of a gauge and an event at the
same instant the gauge comes first. `gauging` has the uncertainty of gauges.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

YEAR = timedelta(days=365.25)

GAUGE_UNCERTAINTY = 0.0062
"""Relative standard uncertainty of a gauge's pure alcohol when nothing better is
known: 1 L in 190 L and 0.2 in 62 % vol, added as squares (common practice)."""


Group = tuple[str, int]
"""A wood and a fill number, by which soakage is pooled."""


class Measure(StrEnum):
    """The amount that is followed: pure alcohol or bulk volume."""

    ALCOHOL = "alcohol"
    VOLUME = "volume"


class How(StrEnum):
    """How the volume of a gauge was measured; the value is what records store."""

    DIP = "dip"
    WEIGHT = "weight"
    EMPTIED = "emptied"  # drawn out and measured in a vessel


class EventKind(StrEnum):
    """The kind of an event of a fill; the value is what records store."""

    SAMPLE = "sample"
    LEAK = "leak"
    TRANSFER = "transfer"  # drawn into another batch
    DUMP = "dump"  # all that was left was drawn
    TOPPING = "topping"  # spirit added; the amounts are what came in
    MOVE = "move"  # to another store
    RETIRED = "retired"


@dataclass(frozen=True, slots=True)
class Gauge:
    """A measurement of a fill: litres at 20 °C and litres of pure alcohol in them.

    `relative_uncertainty` is one standard uncertainty of the pure alcohol as a
    share of it, `volume_uncertainty` that of the volume (None: the same share).
    `gauging.gauged` sets both by how the gauge was taken.
    """

    at: datetime
    volume20_l: float
    alcohol_l: float
    relative_uncertainty: float = GAUGE_UNCERTAINTY
    volume_uncertainty: float | None = None

    def amount(self, measure: Measure) -> float:
        """Return the content in litres of `measure`."""
        return self.alcohol_l if measure is Measure.ALCOHOL else self.volume20_l

    def uncertainty(self, measure: Measure) -> float:
        """Return one standard uncertainty as a share of the amount of `measure`."""
        if measure is Measure.ALCOHOL or self.volume_uncertainty is None:
            return self.relative_uncertainty
        return self.volume_uncertainty

    def uncertainty_l(self, measure: Measure) -> float:
        """Return one standard uncertainty of the amount, in litres of `measure`."""
        return self.uncertainty(measure) * self.amount(measure)


@dataclass(frozen=True, slots=True)
class Event:
    """A draw, addition, loss or move; amounts are litres, None when not measured.

    A dump of unknown amount took all that was there. An interval with a leak of unknown
    amount is not used in the fit, and its loss beyond the store's rate is not
    evaporation. The amounts of a topping were added. `store` is the new
    store of a move.
    """

    kind: EventKind
    at: datetime
    volume20_l: float | None = None
    alcohol_l: float | None = None
    store: str = ""

    def amount(self, measure: Measure) -> float | None:
        """Return the litres of `measure` drawn (of a topping: added); None when not measured."""
        return self.alcohol_l if measure is Measure.ALCOHOL else self.volume20_l


@dataclass(frozen=True, slots=True)
class Fill:
    """One filling of a cask: `store` is where it was filled, later ones are moves.

    The first gauge is what was put in. `emptied_at` closes the fill: a dump, or
    transfers after the last gauge, say what came out. `wood` and `number` (1: the
    cask's first filling) determine soakage; "" or 0 when not known, and then
    it is not separated from evaporation. `cask` names the vessel ("": this fill alone):
    fills of one cask are not independent. `topped` fills go on from the fill before in the same
    cask: neither is the cask filled anew, nor does its wood drink again.
    """

    code: str
    store: str
    filled_at: datetime
    gauges: tuple[Gauge, ...] = ()
    events: tuple[Event, ...] = ()
    emptied_at: datetime | None = None
    wood: str = ""
    number: int = 0
    cask: str = ""
    topped: bool = False

    @property
    def group(self) -> Group | None:
        """The wood and fill number by which soakage is pooled; None when not known or topped."""
        return (self.wood, self.number) if self.wood and self.number > 0 and not self.topped else None

    def gauges_until(self, at: datetime) -> list[Gauge]:
        """Return the gauges taken up to `at`, earliest first."""
        return sorted((g for g in self.gauges if g.at <= at), key=lambda g: g.at)

    def events_between(self, start: datetime, end: datetime) -> list[Event]:
        """Return the events from `start` (included: a gauge comes first) to before `end`, in order."""
        return [e for e in self.events_since(start, end) if e.at < end]

    def events_since(self, start: datetime, end: datetime) -> list[Event]:
        """Return the events from `start` to `end`, both included, in order."""
        if not self.events:  # most casks of a large store
            return []
        return sorted((e for e in self.events if start <= e.at <= end), key=lambda e: e.at)

    def store_at(self, at: datetime) -> str:
        """Return the store in which the cask lay at `at`."""
        if not self.events:
            return self.store
        moves = [e for e in self.events if e.kind is EventKind.MOVE and e.at <= at]
        return max(moves, key=lambda e: e.at).store if moves else self.store


def years(start: datetime, end: datetime) -> float:
    """Return the time from `start` to `end` in years of 365.25 days."""
    return (end - start) / YEAR
