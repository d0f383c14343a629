"""The cuts of a still run: the strength now, and the volume and alcohol of each cut.

A reading gives the strength at the parrot, corrected to 20 °C, at a volume collected
since the run began, and the cut into which the spirit runs from then on.
Strength is interpolated linearly between two readings.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from kiosk.figures.errors import Bounds, FigureError, Need, not_negative, within
from kiosk.figures.strength.instruments import AS_READ, Certificate
from kiosk.figures.strength.instruments import reading_abv_percent as true_abv_percent
from kiosk.figures.strength.mixture import abv_percent as abv_of_mass_fraction
from kiosk.figures.strength.mixture import density, mass_fraction_of_abv

HEARTS = "hearts"
CUTS = ("low_wines", "heads", HEARTS, "tails")
"""The cuts in the order of the runs: the one of a wash run, then the three of a spirit run."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading at the parrot, its strength corrected.

    `cut` is the one into which the spirit runs from this reading on: low_wines, heads, hearts
    or tails. `collected_l` are the litres at 20 °C run off since the run began.
    `abv_percent` is % vol at 20 °C, corrected (`strength.reading_abv_percent`); `as_read` says
    that it is not, as the temperature is not known.
    """

    at: datetime
    cut: str
    collected_l: float
    abv_percent: float
    as_read: bool = False


@dataclass(frozen=True, slots=True)
class Cut:
    """The spirit of one cut: litres at 20 °C once mixed, % vol at 20 °C, litres of pure alcohol."""

    volume_l: float
    abv_percent: float
    pure_alcohol_l: float


@dataclass(frozen=True, slots=True)
class AsRead:
    """One reading at the parrot as recorded, before correction.

    `cut` and `collected_l` as in `Reading`; `scale` is an `Instrument` value, `reading`
    in its unit, `temperature_c` of the spirit in the parrot.
    """

    at: datetime
    cut: str
    collected_l: float
    scale: str
    reading: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Now:
    """A run at its latest reading: the reading, each cut so far, and the rate of flow.

    `pure_alcohol_l` of all cuts together; `litres_per_h` between the last two readings,
    None while there is no time between them.
    """

    latest: Reading
    cuts: dict[str, Cut]
    pure_alcohol_l: float
    litres_per_h: float | None


def corrected(readings: Iterable[AsRead], certificate: Certificate = AS_READ) -> list[Reading]:
    """Return recorded readings with the true strength of each, in the same order.

    `readings` as recorded; `certificate` has the corrections of the instrument that they were
    taken with. Raises FigureError as `reading_abv_percent`. Source: OIML R 22 (1975).
    """
    return [
        Reading(
            r.at, r.cut, r.collected_l, true_abv_percent(r.scale, r.reading, r.temperature_c, certificate)
        )
        for r in readings
    ]


def _in_order(readings: Iterable[Reading]) -> list[Reading]:
    ordered = sorted(readings, key=lambda reading: reading.at)
    if not ordered:
        raise FigureError("readings", 0, Need.ONE_READING, "too_few")
    for reading in ordered:
        not_negative("collected_l", reading.collected_l, "L")
        within("abv_percent", reading.abv_percent, 0.0, 100.0, "% vol")
    for before, after in pairwise(ordered):
        if after.collected_l < before.collected_l:
            raise FigureError("collected_l", after.collected_l, Bounds(before.collected_l, unit="L"))
    return ordered


def run_now(readings: Iterable[Reading]) -> Reading:
    """Return the latest of a run's readings.

    `readings` may come in any order; their strengths are corrected already.
    Raises FigureError `too_few` when there is none, `out_of_range` for a
    strength beyond 0 to 100 % vol or a collected volume that falls.
    """
    return _in_order(readings)[-1]


def run_so_far(readings: Iterable[Reading]) -> Now:
    """Return a run's latest reading, its cuts so far, their pure alcohol and the rate of flow.

    `readings` of one run, in any order. Raises FigureError as `run_now`.
    Source: as `cuts`.
    """
    ordered = _in_order(readings)
    held = cuts(ordered)
    return Now(ordered[-1], held, sum(cut.pure_alcohol_l for cut in held.values()), _pace(ordered))


def _pace(ordered: list[Reading]) -> float | None:
    if len(ordered) < 2 or ordered[-1].at == ordered[-2].at:
        return None
    before, last = ordered[-2:]
    return (last.collected_l - before.collected_l) / ((last.at - before.at) / timedelta(hours=1))


def _masses(low: Reading, high: Reading) -> tuple[float, float]:
    """Return the kg of spirit and of ethanol that ran between two readings, by trapezoid."""
    litres = high.collected_l - low.collected_l
    densities = [density(mass_fraction_of_abv(r.abv_percent), 20.0) for r in (low, high)]
    ethanol = density(1.0, 20.0) * (low.abv_percent + high.abv_percent) / 200.0
    return litres * sum(densities) / 2000.0, litres * ethanol / 1000.0


def _cut(mass_kg: float, ethanol_kg: float) -> Cut:
    p = min(ethanol_kg / mass_kg, 1.0)
    return Cut(
        volume_l=1000.0 * mass_kg / density(p, 20.0),
        abv_percent=abv_of_mass_fraction(p),
        pure_alcohol_l=1000.0 * ethanol_kg / density(1.0, 20.0),
    )


def cuts(readings: Iterable[Reading]) -> dict[str, Cut]:
    """Return the volume, strength and pure alcohol of every cut of a run so far, by the cut's name.

    `readings` of one run, in any order. What runs between two readings belongs
    to the cut of the earlier one. Masses of spirit and of ethanol are summed by
    the trapezoid over collected volume and the strength taken from their ratio,
    so that the mixture weighs what ran in: its volume is smaller than the sum by
    the contraction. What ran before the first reading counts at that reading's
    strength and cut.
    Raises FigureError as `run_now`. Source: OIML R 22 (1975) for density.
    """
    ordered = _in_order(readings)
    first = ordered[0]
    start = Reading(first.at, first.cut, 0.0, first.abv_percent)
    sums: dict[str, tuple[float, float]] = {}
    for low, high in pairwise([start, *ordered]):
        mass, ethanol = _masses(low, high)
        had_mass, had_ethanol = sums.get(low.cut, (0.0, 0.0))
        sums[low.cut] = had_mass + mass, had_ethanol + ethanol
    return {name: _cut(mass, ethanol) for name, (mass, ethanol) in sums.items() if mass > 0.0}


STEADY_MINUTES, READ_WITHIN = 60.0, 0.5
"""The most minutes over which a strength is carried on, and % vol within which a hydrometer at the parrot
is read (common practice)."""


def next_abv_percent(readings: Sequence[Reading], at: datetime) -> tuple[float, float] | None:
    """Return the lowest and the highest % vol at 20 °C that a reading at `at` should show.

    `readings` of one run, in the order of time. The strength goes on falling as it did between the last
    four readings of the cut that runs, at the slowest and at the fastest of these rates, and is read
    within `READ_WITHIN`. None while the cut has one reading, and long after the last.
    """
    same = [one for one in readings if one.cut == readings[-1].cut][-4:]
    minutes = (at - same[-1].at).total_seconds() / 60 if same else math.inf
    if len(same) < 2 or not 0 <= minutes <= STEADY_MINUTES:
        return None
    falls = [
        60 * (first.abv_percent - second.abv_percent) / (second.at - first.at).total_seconds()
        for first, second in pairwise(same)
        if second.at > first.at
    ]
    if not falls:
        return None
    last = same[-1].abv_percent
    low, high = (min(max(last - fall * minutes, 0.0), 100.0) for fall in (max(falls), min(falls)))
    return max(low - READ_WITHIN, 0.0), min(high + READ_WITHIN, 100.0)


def hearts(readings: Iterable[Reading]) -> Cut:
    """Return the hearts of a run: their volume, strength and pure alcohol, as `cuts` does.

    `readings` of one run, in any order. Raises FigureError `too_few` while no
    hearts have run between two readings, else as `run_now`.
    """
    cut = cuts(readings).get(HEARTS)
    if cut is None:
        raise FigureError("readings", HEARTS, Need.HEARTS_BETWEEN_READINGS, "too_few")
    return cut
