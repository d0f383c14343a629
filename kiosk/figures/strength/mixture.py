"""Mixtures of ethanol and water: density and strength, by mass and by volume, and their expansion.

Everything follows from the general formula of OIML R 22 (1975), valid from
-20 °C to 40 °C above the mixture's freezing point, and from its inverse.

Source: OIML, International Recommendation R 22, International Alcoholometric
Tables, 1975, general formula and its table of numerical coefficients; the same
formula stands in the annex of Council Directive 76/766/EEC.
With p the mass fraction of ethanol and d = t - 20 in °C, the density in kg/m³ is

    sum A[k] p^k  +  sum B[k] d^(k+1)  +  sum over i, k of C[i][k] p^(k+1) d^(i+1)

counted from 0. A test at 20 °C or at p = 0 cannot detect an error in C.
"""

from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from kiosk.figures.errors import Bounds, FigureError, not_negative, within
from kiosk.figures.numeric import root

A: tuple[float, ...] = (
    998.20123,
    -192.9769495,
    389.1238958,
    -1668.103923,
    13522.15441,
    -88292.78388,
    306287.4042,
    -613838.1234,
    747017.2998,
    -547846.1354,
    223446.0334,
    -39032.85426,
)

B: tuple[float, ...] = (
    -0.20618513,
    -0.0052682542,
    3.6130013e-05,
    -3.8957702e-07,
    7.169354e-09,
    -9.9739231e-11,
)

C: tuple[tuple[float, ...], ...] = (
    (
        0.1693443461530087,
        -10.46914743455169,
        71.96353469546523,
        -704.7478054272792,
        3924.090430035045,
        -12101.64659068747,
        22486.46550400788,
        -26055.62982188164,
        18523.73922069467,
        -7420.201433430137,
        1285.617841998974,
    ),
    (
        -0.0119301300505701,
        0.2517399633803461,
        -2.170575700536993,
        13.53034988843029,
        -50.29988758547014,
        109.635566657757,
        -142.2753946421155,
        108.043594285623,
        -44.14153236817392,
        7.442971530188783,
    ),
    (
        -0.0006802995733503803,
        0.01876837790289664,
        -0.2002561813734156,
        1.02299296671922,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -0.5411227621436812,
    ),
    (4.075376675622027e-06, -8.76305857347111e-06, 6.515031360099368e-06, -1.51578483698721e-06),
    (-2.788074354782409e-08, 1.345612883493354e-08),
)

# Freezing points: mass fraction of ethanol and °C, lowest strength first.
# Source: Lange's Handbook of Chemistry, 15th ed., table 5.13, ethyl alcohol-water
# mixtures (the first point is water itself).
FREEZING: tuple[tuple[float, float], ...] = (
    (0.0, 0.0),
    (0.025, -1.0),
    (0.048, -2.0),
    (0.068, -3.0),
    (0.113, -5.0),
    (0.138, -6.1),
    (0.164, -7.5),
    (0.175, -8.7),
    (0.188, -9.4),
    (0.203, -10.6),
    (0.221, -12.2),
    (0.242, -14.0),
    (0.267, -16.0),
    (0.299, -18.9),
    (0.338, -23.6),
)


COLDEST_C = -20.0
HOTTEST_C = 40.0
ABV_REFERENCE_C = 20.0
PROOF_REFERENCE_C = (60.0 - 32.0) / 1.8
"""60 °F, the reference of US proof and of US volumes (27 CFR 30.11)."""

# How far a density may pass an end of the range before it is an error and not
# the last bits of a float: 1e-6 kg/m3, a thousandth of what any meter shows.
_SLACK = 1e-9


class _Line(NamedTuple):
    """The formula at one temperature: density as a polynomial of the mass fraction, and its ends."""

    coefficients: tuple[float, ...]  # highest power first
    weakest: float  # mass fraction of the weakest mixture that is liquid
    densest: float
    lightest: float


@lru_cache(maxsize=1024)
def _line(temperature_c: float) -> _Line:
    """Return the formula at one temperature as a polynomial of the mass fraction alone."""
    within("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    d = temperature_c - 20.0
    folded = list(A)
    folded[0] += sum(b * d ** (k + 1) for k, b in enumerate(B))
    for i, row in enumerate(C):
        power = d ** (i + 1)
        for k, c in enumerate(row):
            folded[k + 1] += c * power
    coefficients = tuple(reversed(folded))
    weakest = _freezing_mass_fraction(temperature_c)
    densest, lightest = (_density_and_slope(coefficients, p)[0] for p in (weakest, 1.0))
    return _Line(coefficients, weakest, densest, lightest)


def _density_and_slope(coefficients: tuple[float, ...], p: float) -> tuple[float, float]:
    value = slope = 0.0
    for c in coefficients:
        slope = slope * p + value
        value = value * p + c
    return value, slope


def _freezing_mass_fraction(temperature_c: float) -> float:
    """Return the weakest mixture that is still liquid, 0 from 0 °C up."""
    for (p, t), (p_next, t_next) in pairwise(FREEZING):
        if temperature_c >= t:
            return p
        if temperature_c >= t_next:
            return p + (p_next - p) * (t - temperature_c) / (t - t_next)
    raise AssertionError("the freezing table reaches below COLDEST_C")


def density(mass_fraction: float, temperature_c: float) -> float:
    """Return the density of an ethanol-water mixture in kg/m³.

    `mass_fraction` 0 to 1 by mass; `temperature_c` -20 to 40 °C.
    Raises FigureError `out_of_range`, or `freezing` where ice would form.
    Source: OIML R 22 (1975), general formula; freezing line from Lange's Handbook
    of Chemistry, 15th ed., table 5.13, straight between its points.

    >>> round(density(0.31, 13.0), 2)
    956.42
    """
    within("mass_fraction", mass_fraction, 0.0, 1.0)
    line = _line(temperature_c)
    if mass_fraction < line.weakest:
        raise FigureError("mass_fraction", mass_fraction, Bounds(round(line.weakest, 3), 1), "freezing")
    return _density_and_slope(line.coefficients, mass_fraction)[0]


def mass_fraction(density_kg_m3: float, temperature_c: float) -> float:
    """Return the mass fraction of ethanol in a mixture from its density: the inverse of `density`.

    `density_kg_m3` in kg/m³, in vacuum; `temperature_c` -20 to 40 °C.
    Raises FigureError `out_of_range` (temperature), `above_pure`, `holds_sugar`
    (0 °C and above) or `freezing` (below 0 °C, denser than anything liquid).
    Source: OIML R 22 (1975); density falls all the way as strength rises over
    the whole range, so the answer is unique.

    >>> round(mass_fraction(848.4, 20.0), 4)
    0.7796
    """
    coefficients, weakest, densest, lightest = _line(temperature_c)
    if lightest < density_kg_m3 < densest:
        ends = densest, lightest
        return root(lambda p: _density_and_slope(coefficients, p), density_kg_m3, weakest, 1.0, ends)
    allowed = Bounds(round(lightest, 3), round(densest, 3), "kg/m³")
    if not density_kg_m3 >= lightest * (1.0 - _SLACK):
        raise FigureError("density_kg_m3", density_kg_m3, allowed, "above_pure")
    if density_kg_m3 > densest * (1.0 + _SLACK):
        reason = "holds_sugar" if temperature_c >= 0.0 else "freezing"
        raise FigureError("density_kg_m3", density_kg_m3, allowed, reason)
    return 1.0 if density_kg_m3 <= lightest else weakest


def abv_percent(mass_fraction: float, reference_c: float = ABV_REFERENCE_C) -> float:
    """Return the strength in % vol of a mass fraction of ethanol, both volumes at `reference_c`.

    `mass_fraction` 0 to 1; `reference_c` -20 to 40 °C, usually 20.
    Raises FigureError as `density`. Source: OIML R 22 (1975), q = p rho(p) / rho(1).

    >>> round(abv_percent(0.333), 2)
    40.0
    """
    return 100.0 * mass_fraction * density(mass_fraction, reference_c) / density(1.0, reference_c)


def mass_fraction_of_abv(abv_percent: float, reference_c: float = ABV_REFERENCE_C) -> float:
    """Return the mass fraction of ethanol from a strength in % vol: the inverse of `abv_percent`.

    `abv_percent` 0 to 100 % vol; `reference_c` 0 to 40 °C.
    Raises FigureError `out_of_range`. Source: OIML R 22 (1975).

    >>> round(mass_fraction_of_abv(40.0), 5)
    0.333
    """
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    within("reference_c", reference_c, 0.0, HOTTEST_C, "°C")
    coefficients, _, _, ethanol = _line(reference_c)

    def concentration(p: float) -> tuple[float, float]:
        value, slope = _density_and_slope(coefficients, p)
        return p * value, value + p * slope

    return root(concentration, abv_percent / 100.0 * ethanol, 0.0, 1.0, (0.0, ethanol))


def volume_at(volume_l: float, abv_percent: float, from_c: float, to_c: float) -> float:
    """Return the volume at `to_c`, in litres, of a spirit whose volume was read at `from_c`.

    `volume_l` 0 or more, read at `from_c`; `abv_percent` at 20 °C; temperatures
    -20 to 40 °C. Raises FigureError as `density`. Source: OIML R 22 (1975).
    The measure's own expansion is left out.

    >>> round(volume_at(1000.0, 63.0, 30.0, 20.0))
    991
    """
    not_negative("volume_l", volume_l, "L")
    p = mass_fraction_of_abv(abv_percent)
    return volume_l * density(p, from_c) / density(p, to_c)
