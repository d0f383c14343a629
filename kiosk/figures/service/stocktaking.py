"""The balance of a shift for each product: opening stock, received, used, left, and the tolerance.

Volumes are mL at 20 °C. A difference counts as a finding only beyond the uncertainty of pouring,
weighing and filling, which `tolerance_ml` calculates.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

from kiosk.figures.errors import Bounds, FigureError, within
from kiosk.figures.service.bottles import REFERENCE_C, SCALE_HALF_DIVISION_G
from kiosk.figures.strength.mixture import density, mass_fraction_of_abv

CHECK_POURS = 10
"""A measure is checked by ten pours of water, weighed one by one."""

UNCHECKED_SPREAD_ML = 0.5
COVERAGE = 2.0
ROUNDING_ML = 0.5
"""Weights come in whole grams and balances are read in whole mL."""

FILL_TOLERANCES = ((1000, 0.015), (376, 0.02), (101, 0.03), (0, 0.045))
"""From which size in mL a bottle's content may differ by which share: 27 CFR 19.356(b)."""


@dataclass(frozen=True, slots=True)
class MeasureCheck:
    """The accuracy of a measure: the mean of its check, None until checked; `spread_ml` of single pours."""

    spread_ml: float = UNCHECKED_SPREAD_ML
    mean_ml: float | None = None

    @property
    def mean_uncertainty_ml(self) -> float:
        """Standard uncertainty of the mean of ten pours."""
        return self.spread_ml / sqrt(CHECK_POURS)


UNCHECKED = MeasureCheck()


def measure_check(weights_g: Sequence[float]) -> MeasureCheck:
    """Return the mean and spread of a measure, in mL, from ten pours of water weighed one by one.

    `weights_g` in g; the water is taken to have 20 °C: 10 degrees make 0.2 %. Raises FigureError `too_few`
    for another number of pours, `out_of_range` for a weight out of 0.5 to 500 g.
    """
    if len(weights_g) != CHECK_POURS:
        raise FigureError("weights_g", len(weights_g), Bounds(CHECK_POURS, CHECK_POURS), "too_few")
    water_g_ml = density(0.0, REFERENCE_C) / 1000.0
    poured = [within("weights_g", weight, 0.5, 500.0, "g") / water_g_ml for weight in weights_g]
    return MeasureCheck(stdev(poured), fmean(poured))


def fill_tolerance(size_ml: int) -> float:
    """Return the share by which a bottle of `size_ml` may lawfully differ. Source: 27 CFR 19.356(b)."""
    return next(share for least, share in FILL_TOLERANCES if size_ml >= least)


def tolerance_ml(
    pours: Iterable[tuple[int, MeasureCheck]],
    weighed: Iterable[float] = (),
    opened_ml: Iterable[int] = (),
) -> float:
    """Return the tolerance in mL of a shift's balance, within which it lies about 95 of 100 times.

    `pours` are the number of pours with each measure, and its check; `weighed` the density
    in g/mL of each bottle that was weighed at both ends; `opened_ml` the nominal size of
    each bottle opened.
    2 x sqrt(N s² + (N b)² + 2 W (w / density)² + K (f V / sqrt 3)²), w being half a division of the
    scale / sqrt 3: common practice in weighing stock.
    """
    w = SCALE_HALF_DIVISION_G / sqrt(3.0)
    variance = 0.0
    for n, check in pours:
        variance += n * check.spread_ml**2 + (n * check.mean_uncertainty_ml) ** 2
    variance += sum(2.0 * (w / density_g_ml) ** 2 for density_g_ml in weighed)
    variance += sum((fill_tolerance(size) * size) ** 2 / 3.0 for size in opened_ml)
    return COVERAGE * sqrt(variance)


def at_20_ml(volume_ml: float, abv_percent: float, temperature_c: float) -> float:
    """Return the volume in mL at 20 °C of `volume_ml` read at `temperature_c`.

    `abv_percent` is its strength in % vol. Source: OIML R 22.
    """
    p = mass_fraction_of_abv(abv_percent)
    return volume_ml * density(p, temperature_c) / density(p, REFERENCE_C)


@dataclass(frozen=True, slots=True)
class Balance:
    """The balance of one product over a shift in mL at 20 °C; `pours` is the number of pours."""

    opening_ml: float = 0.0
    received_ml: float = 0.0
    moved_out_ml: float = 0.0  # returned, or moved to another room
    served_ml: float = 0.0
    cleared_ml: float = 0.0
    preset_ml: float = 0.0
    spilt_ml: float = 0.0
    house_use_ml: float = 0.0
    closing_ml: float = 0.0
    pours: int = 0
    tolerance_ml: float = 0.0

    @property
    def used_ml(self) -> float:
        """The mL used by the stock: opening and received, less moved out and closing."""
        return self.opening_ml + self.received_ml - self.moved_out_ml - self.closing_ml

    @property
    def recorded_ml(self) -> float:
        """The mL used by the entries: served, cleared, preset, spilt, house use."""
        return self.served_ml + self.cleared_ml + self.preset_ml + self.spilt_ml + self.house_use_ml

    @property
    def difference_ml(self) -> float:
        """The mL short (above 0) or over (below 0)."""
        return self.used_ml - self.recorded_ml

    @property
    def over_pour_ml(self) -> float | None:
        """The mean mL by which each pour exceeded its measure; None without a pour."""
        return self.difference_ml / self.pours if self.pours else None

    @property
    def within(self) -> bool:
        """Whether the difference lies within the tolerance, plus half a mL of rounding."""
        return abs(self.difference_ml) <= self.tolerance_ml + ROUNDING_ML
