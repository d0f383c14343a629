"""Texts for bottles and closings: amounts in the site's units, questions about weighings, the low warning."""

from collections.abc import Mapping
from fractions import Fraction

from kiosk.figures.drinks import FL_OZ_ML
from kiosk.figures.figure import Unit
from kiosk.figures.service.bottles import Finding
from kiosk.site.products import product_name
from kiosk.site.settings import Site, Units
from kiosk.tasting.room.room import Low
from kiosk.words import formats, units
from kiosk.words.catalogs import N_, Words

EMPTY_UL = 500
"""A bottle with less is shown as empty: levels are shown in whole mL."""
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


def volume(volume_ul: float, site: Site, words: Words) -> str:
    """Return whole mL, in which bottles are labeled and weighed; on a US site after the fluid ounces."""
    metric = str(units.amount(round(volume_ul / 1000), Unit.ML, 0, words, "metric"))
    if site.units is not Units.US:
        return metric
    ounces = formats.number(Fraction(round(volume_ul), 1000) / FL_OZ_ML, 1, words)
    return words.gettext("{ounces} fl oz ({metric})", ounces=ounces, metric=metric)


def tint_of(site: Site, product: str) -> str:
    """Return how the bottle of a product is drawn; clear for what the site does not list."""
    known = site.products.get(product)
    return known.tint if known else "clear"


def pure_alcohol(alcohol_ul: int, site: Site, words: Words) -> str:
    """Return an amount of pure alcohol in proof gallons or litres, by the site's units."""
    return str(units.amount(max(0, alcohol_ul) / 1_000_000, Unit.LPA, 3, words, site.units))


def running_low(low: Low, site: Site, words: Words) -> str:
    """Return the warning that a flight needs more of a product than its open bottles hold."""
    return words.gettext(
        N_("{product}: {level} open, {needs} still to pour. Have another bottle ready.")
        if low.level_ul >= EMPTY_UL
        else N_("{product}: no open bottle holds any, {needs} still to pour. Open one before the next pour."),
        product=product_name(site, low.product, words),
        level=volume(low.level_ul, site, words),
        needs=volume(low.needs_ul, site, words),
    )
