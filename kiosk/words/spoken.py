"""Numbers rounded for the ear: "almost 190", "about one in 16", "2 hours"."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from kiosk.words.catalogs import Words
from kiosk.words.numbers import number

SMALL = 20  # below this the ear keeps the number itself


def by_ear(value: Decimal, words: Words) -> str:
    """Return a number to two figures, saying on which side of it the truth lies."""
    near = _near(value)
    told = number(near, 0 if near == near.to_integral_value() else 1, words)
    if near == value:
        return told
    if abs(near - value) * 100 < abs(value) or abs(value) < SMALL:
        return words.gettext("about {number}", number=told)
    if abs(value) < abs(near):
        return words.gettext("almost {number}", number=told)
    return words.gettext("a little over {number}", number=told)


def share_by_ear(share: Decimal, words: Words) -> str:
    """Return a share of 0..1 as "about one in ten" says it, or in whole per cent above a half."""
    if Decimal("0.005") < share <= Decimal("0.5"):
        parts = (1 / share).quantize(Decimal(1), ROUND_HALF_UP)
        return words.gettext("about one part in {n}", n=number(parts, 0, words))
    return words.gettext("{number} percent", number=by_ear(share * 100, words))


def hours_by_ear(hours: Decimal, words: Words) -> str:
    """Return a span as one says it: in minutes below two hours less a quarter, in hours, in days."""
    if hours < Decimal("1.75"):
        minutes = max(_whole(hours * 12), 1) * 5
        return words.ngettext("{n} minute", "{n} minutes", minutes)
    if hours < 36:
        return words.ngettext("{n} hour", "{n} hours", _whole(hours))
    return words.ngettext("{n} day", "{n} days", _whole(hours / 24))


def _whole(value: Decimal) -> int:
    return int(value.quantize(Decimal(1), ROUND_HALF_UP))


def _near(value: Decimal) -> Decimal:
    if abs(value) < SMALL and value == value.to_integral_value():
        return value
    if value == 0:
        return value
    places = value.adjusted() - 1  # two figures
    return value.quantize(Decimal(1).scaleb(places), ROUND_HALF_UP)
