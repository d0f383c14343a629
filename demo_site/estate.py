"""The estate's books, and what a hand with an instrument reads.

What is truly there is told apart from what is read: a strength is read off a
glass at a temperature, to the mark that the glass has.
"""

from __future__ import annotations

import random
import tomllib
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path

from kiosk.figures import strength
from kiosk.figures.errors import FigureError

SEED = 1606
CLOCK = tomllib.loads((Path(__file__).parent / "clock.toml").read_text(encoding="utf-8"))
NOW = CLOCK["shows"].replace(tzinfo=None)  # by the estate's own clock


@dataclass
class Spirit:
    """What is in a receiver or a cask: litres at 20 °C and litres of pure alcohol."""

    volume_l: float
    alcohol_l: float

    @property
    def abv(self) -> float:
        return 100 * self.alcohol_l / self.volume_l


@dataclass
class Kept:
    """Hearts that wait in steel: what is left in a receiver, in litres of pure alcohol."""

    at: datetime
    receiver: str
    plot: str
    left_l: float


@dataclass
class Filled:
    """A fill as it truly goes, beside the records of it."""

    code: str
    cask: str
    store: str
    at: datetime
    spirit: Spirit
    loss: tuple[float, float]
    soakage: float
    how: str
    moved: tuple[datetime, tuple[float, float]] | None = None  # when, and what the other store takes
    emptied_at: datetime | None = None
    taken: list[tuple[datetime, float]] = field(default_factory=list)  # litres drawn or leaked


class Estate:
    """The estate's books and the dice that stand for weather, wood and hands."""

    def __init__(self) -> None:
        self.dice = random.Random(SEED)
        self.rows: dict[str, list[dict[str, object]]] = defaultdict(list)
        self.feints: dict[str, list[tuple[str, Spirit]]] = {}  # by the field that they are kept apart for
        self.kept: list[Kept] = []
        self.fills: list[Filled] = []
        self.tare_kg: dict[str, float] = {}
        self.empty_casks: list[str] = []
        self.times_filled: dict[str, int] = defaultdict(int)

    def write(self, file: str, **cells: object) -> None:
        self.rows[file].append(cells)

    def around(self, middle: float, spread: float) -> float:
        return self.dice.gauss(middle, spread)

    def draw(self, source: tuple[str, str], to: tuple[str, str], at: datetime, **amount: float) -> None:
        given = {name: round(value, 3) for name, value in amount.items()}
        (from_kind, from_code), (to_kind, to_code) = source, to
        ends = {"from_kind": from_kind, "from": from_code, "to_kind": to_kind, "to": to_code}
        self.write("draws", **ends, at=at, **given)

    def take(
        self, kept: list[Kept], alcohol_l: float, to: tuple[str, str], at: datetime, abv: float | None = None
    ) -> float:
        """Draw up to `alcohol_l` out of kept hearts, the first of them first; return what was drawn.

        Where the draw is measured by volume too, `abv` is its strength in the receiving vessel.
        """
        wanted_l = alcohol_l
        for one in kept:
            drawn_l = min(one.left_l, wanted_l)
            if drawn_l < 0.5:
                continue
            volume = {} if abv is None else {"volume_l": 100 * drawn_l / abv}
            self.draw(("receiver", one.receiver), to, at, alcohol_l=drawn_l, **volume)
            one.left_l -= drawn_l
            wanted_l -= drawn_l
        self.kept = [one for one in self.kept if one.left_l >= 0.5]
        return alcohol_l - wanted_l

    def read(self, abv: float, scale: str = "glass_abv20") -> tuple[dict[str, object], float]:
        """Read a strength off an instrument: the cells, and the strength that they tell."""
        temperature_c = round(self.around(28.5, 1.2) * 2) / 2
        low, high = 0.0, 100.0
        for _ in range(40):
            middle = (low + high) / 2
            try:
                too_low = strength.reading_abv_percent(scale, middle, temperature_c) < abv
            except FigureError:  # warm water reads above nothing: no strength reads so low, or so high
                too_low = middle < 50
            low, high = (middle, high) if too_low else (low, middle)
        reading = round(high, 2 if scale == "density_meter" else 1)
        told = strength.reading_abv_percent(scale, reading, temperature_c)
        return {"scale": scale, "reading": reading, "temperature_c": temperature_c}, told

    def gauge(self, spirit: Spirit, scale: str = "glass_abv20") -> tuple[dict[str, object], Spirit]:
        """Measure a vessel by its dip and a hydrometer: the cells, and what they tell."""
        cells, abv = self.read(spirit.abv, scale)
        at_c = cells["temperature_c"]
        dip_l = round(strength.volume_at(spirit.volume_l, abv, 20.0, at_c), 1)
        volume_l = strength.volume_at(dip_l, abv, at_c, 20.0)
        told = Spirit(volume_l, strength.pure_alcohol_l(volume_l, abv))
        return {"volume_l": dip_l, "volume_temperature_c": at_c, **cells}, told


def at_time(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute))
