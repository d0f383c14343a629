"""The demo's tables read with `csv`, and what their readings mean by the printed formulas.

Nothing of the house is used: strengths come from the formula as solved by scipy in
test_independent_paths.py, gravities from the cubic as solved by numpy.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache

import numpy as np
from scipy.optimize import brentq

from kiosk.figures.figure import Figure
from kiosk.site.shipped import shipped
from tests.outside.test_independent_paths import abv_of_fraction, fraction_of_abv, rho, solved_in_glass

RECORDS = shipped("demo_site") / "records"
NOW = datetime.fromisoformat("2026-04-16 11:05")
"""Some minutes after the last reading of the files, on the estate's own clock: four hours behind UTC."""
DAY_BEGINS = NOW.replace(hour=5)
YEAR_BEGINS = datetime.fromisoformat("2026-01-01 05:00")
YEAR_H = 365.25 * 24

Line = dict[str, str]
Figures = dict[tuple[str, str], Figure]
Value = Callable[..., float]


@cache
def table(name: str) -> list[Line]:
    """Read a table of the demo."""
    with (RECORDS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def at(text: str) -> datetime:
    """Read a time on the estate's own clock."""
    return datetime.fromisoformat(text)


def hours(start: datetime, end: datetime) -> float:
    """Return the hours between two times."""
    return (end - start) / timedelta(hours=1)


def strength(line: Line) -> float:
    """Return the mass fraction that an instrument's reading means."""
    reading, celsius = float(line["reading"]), float(line["temperature_c"])
    if line["scale"] == "density_meter":
        return fraction_of_abv(reading)
    return solved_in_glass(reading, 20.0, celsius)


def abv(line: Line) -> float:
    """Return the % vol that an instrument's reading means."""
    return abv_of_fraction(strength(line))


def alcohol_l(line: Line, tare_kg: float = 0.0) -> tuple[float, float]:
    """Return the litres of pure alcohol and of spirit, at 20 °C, that a gauge means."""
    p = strength(line)
    if line.get("gross_kg"):
        shown = float(line["gross_kg"]) - tare_kg
        litres = 1000 * shown * (1 - 1.2 / 8000) / (1 - 1.2 / rho(p, 20.0)) / rho(p, 20.0)
    else:
        litres = float(line["volume_l"]) * rho(p, float(line["volume_temperature_c"])) / rho(p, 20.0)
    return litres * abv_of_fraction(p) / 100, litres


def gravity_of_brix(degrees: float) -> float:
    """Solve the sugar tables' cubic."""
    cubic = np.polynomial.Polynomial([-669.5622 - degrees, 1262.7794, -775.6821, 182.4601])
    return float(brentq(cubic, 0.9, 1.25))


def brix_of_gravity(gravity: float) -> float:
    """Return the cubic itself."""
    return float(np.polynomial.Polynomial([-669.5622, 1262.7794, -775.6821, 182.4601])(gravity))


def juice_kg(load: Line) -> float:
    """Return what a load's juice weighs."""
    return float(load["juice_l"]) * gravity_of_brix(float(load["brix"])) * 0.9982
