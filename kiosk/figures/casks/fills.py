"""A filling of a cask and what was measured of it and done to it.

Amounts are litres at 20 °C: of pure alcohol, and of bulk volume. At the same
instant a gauge is taken before an event. How sure a gauge is by the way that
it was taken, and whether two of them agree, is told in `gauging`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

YEAR = timedelta(days=365.25)

GAUGE_UNCERTAINTY = 0.0062
"""Relative standard uncertainty of a gauge's pure alcohol when nothing better is
known: 1 L in 190 L and 0.2 in 62 % vol, added as squares (common practice)."""


Group = tuple[str, int]
"""A wood and a fill number: what is pooled to tell how much new wood drinks."""


class Measure(StrEnum):
    """What is being followed."""

    ALCOHOL = "alcohol"
    VOLUME = "volume"


class How(StrEnum):
    """How a gauge's volume was found; the value is what records store."""

    DIP = "dip"
    WEIGHT = "weight"
    EMPTIED = "emptied"  # drawn out and measured in a vessel


class EventKind(StrEnum):
    """What happened to a fill besides waiting; the value is what records store."""

    SAMPLE = "sample"
    LEAK = "leak"
    TRANSFER = "transfer"  # drawn into another batch
    DUMP = "dump"  # everything that was left was drawn out
    TOPPING = "topping"  # spirit added; the amounts are what came in
    MOVE = "move"  # to another store
    RETIRED = "retired"


@dataclass(frozen=True, slots=True)
class Gauge:
    """A measurement of a fill: litres at 20 °C and litres of pure alcohol in them.

    `relative_uncertainty` is one standard uncertainty of the pure alcohol as a
    share of it, `volume_uncertainty` that of the volume (None: the same share).
    `gauging.gauged` finds both from how the gauge was taken.
    """

    at: datetime
    volume20_l: float
    alcohol_l: float
    relative_uncertainty: float = GAUGE_UNCERTAINTY
    volume_uncertainty: float | None = None

    def amount(self, measure: Measure) -> float:
        """Return what was there, in litres of that measure."""
        return self.alcohol_l if measure is Measure.ALCOHOL else self.volume20_l

    def uncertainty(self, measure: Measure) -> float:
        """Return one standard uncertainty as a share of the amount of that measure."""
        if measure is Measure.ALCOHOL or self.volume_uncertainty is None:
            return self.relative_uncertainty
        return self.volume_uncertainty

    def uncertainty_l(self, measure: Measure) -> float:
        """Return one standard uncertainty of the amount, in litres of that measure."""
        return self.uncertainty(measure) * self.amount(measure)


@dataclass(frozen=True, slots=True)
class Event:
    """Something taken, added, lost or moved; amounts are litres, None when nobody measured.

    A dump of unknown amount took all that was there. A leak of unknown amount
    takes its interval out of the fit, and out of what is called evaporation all
    beyond the store's rate. A topping brings its amounts in. `store` is the new
    store of a move.
    """

    kind: EventKind
    at: datetime
    volume20_l: float | None = None
    alcohol_l: float | None = None
    store: str = ""

    def amount(self, measure: Measure) -> float | None:
        """Return what went (of a topping: what came), in litres of that measure; None when not measured."""
        return self.alcohol_l if measure is Measure.ALCOHOL else self.volume20_l


@dataclass(frozen=True, slots=True)
class Fill:
    """One filling of a cask: `store` is where it was filled, later ones are moves.

    The first gauge is what was put in. `emptied_at` closes the fill: a dump, or
    transfers after the last gauge, say what came out. `wood` and `number` (1: the
    cask's first filling) say which wood drank; "" or 0 when not known, and then
    what it drank is not told apart. `cask` names the vessel ("": this fill alone),
    so that fills of one cask are one witness.
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

    @property
    def group(self) -> Group | None:
        """Return the wood and fill number that soakage is pooled by; None when not known."""
        return (self.wood, self.number) if self.wood and self.number > 0 else None

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
        """Return the store it lay in at a moment."""
        if not self.events:
            return self.store
        moves = [e for e in self.events if e.kind is EventKind.MOVE and e.at <= at]
        return max(moves, key=lambda e: e.at).store if moves else self.store


def years(start: datetime, end: datetime) -> float:
    """Return the time from `start` to `end` in years of 365.25 days."""
    return (end - start) / YEAR
