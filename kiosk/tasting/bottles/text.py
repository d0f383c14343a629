"""Bottles and closings as text: amounts in the site's units, findings as questions, products by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from kiosk.figures.drinks import FL_OZ_ML
from kiosk.figures.figure import Unit
from kiosk.figures.service.bottles import Finding
from kiosk.site.settings import Site, Units
from kiosk.tasting.bottles.shelf import BottleOnShelf
from kiosk.tasting.room.room import Low
from kiosk.tasting.room.text import product_name
from kiosk.words import formats, units
from kiosk.words.catalogs import N_, Words

FINDINGS: Mapping[str, str] = {
    Finding.RISES: N_("Heavier than before: wrong bottle, wrong tare or refilled?"),
    Finding.BELOW_EMPTY: N_("Lighter than the empty bottle: wrong bottle or wrong tare?"),
}
STOCK_KINDS: Mapping[str, str] = {
    "received": N_("Received, with its paperwork number"),
    "counted": N_("Counted"),
    "returned": N_("Returned"),
    "moved": N_("Moved to another room"),
}
NEARLY_EMPTY = 0.2


@dataclass(frozen=True, slots=True)
class ShownBottle:
    """An open bottle as text."""

    bottle: BottleOnShelf
    name: str
    level: str
    level_ml: int
    low: bool
    too_old: bool  # past the time at which it is poured away
    tare: str
    weighable: bool
    findings: tuple[str, ...]


def volume(volume_ul: float, site: Site, words: Words) -> str:
    """Return whole mL, in which bottles are labeled and weighed; on a US site after the fluid ounces."""
    metric = str(units.amount(round(volume_ul / 1000), Unit.ML, 0, words, "metric"))
    if site.units is not Units.US:
        return metric
    ounces = formats.number(Fraction(round(volume_ul), 1000) / FL_OZ_ML, 1, words)
    return words.gettext("{ounces} fl oz ({metric})", ounces=ounces, metric=metric)


def ml(volume_ul: int, words: Words) -> str:
    """Return whole mL for a table's column that names its unit."""
    return formats.number(round(volume_ul / 1000), 0, words)


def pure_alcohol(alcohol_ul: int, site: Site, words: Words) -> str:
    """Return what was used as proof gallons, or as litres of pure alcohol."""
    return str(units.amount(max(0, alcohol_ul) / 1_000_000, Unit.LPA, 3, words, site.units))


def bottle(one: BottleOnShelf, site: Site, words: Words, now: datetime) -> ShownBottle:
    """Return a bottle in the reader's words."""
    told = one.account()
    return ShownBottle(
        bottle=one,
        name=product_name(site, one.product, words),
        level=volume(told.level_ul, site, words),
        level_ml=round(told.level_ul / 1000),
        low=told.level_ul < NEARLY_EMPTY * told.size_ul,
        too_old=one.discard_at is not None and one.discard_at <= now,
        tare="" if told.tare_g is None else formats.number(told.tare_g, 0, words),
        weighable=one.density_g_ml is not None and told.tare_g is not None,
        findings=tuple(sorted({words.gettext(FINDINGS[finding]) for finding in told.findings.values()})),
    )


def running_low(one: Low, site: Site, words: Words) -> str:
    """Return the warning before a flight needs more than is open."""
    return words.gettext(
        "{product}: {level} open, {needs} still to pour. Have another bottle ready.",
        product=product_name(site, one.product, words),
        level=volume(one.level_ul, site, words),
        needs=volume(one.needs_ul, site, words),
    )
