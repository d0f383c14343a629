"""Numbers, shares, dates, times and lists as text in the reader's locale, and numbers read from text.

Halves round up by the decimal digits as written, not by the binary ones. A value a little above
zero is never written as zero. What is left of an allowance can be rounded down, what
was served rounded up.

CLDR writes times with a narrow no-break space (U+202F) that many typefaces
lack; it is replaced by the ordinary no-break space everywhere.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from datetime import time as time_of_day
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal, localcontext
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from babel import Locale
from babel.dates import format_date, format_skeleton, format_time
from babel.lists import format_list
from babel.numbers import NumberFormatError, format_currency, format_decimal, format_percent, parse_decimal

from kiosk.figures.strength.quantities import rounded_share
from kiosk.words.catalogs import N_, Words

Number = int | float | Decimal | Fraction


class Rounding(StrEnum):
    """The direction in which the last digit is rounded."""

    HALF_UP = ROUND_HALF_UP  # halves away from zero
    UP = ROUND_CEILING
    DOWN = ROUND_FLOOR


class NumberFault(ValueError):
    """A text is not a number as the reader's locale writes it."""

    status = 400
    code = "not_a_number"
    message = N_("“{text}” is not a number that can be read here. Write it like {example}.")

    def __init__(self, text: str, example: str) -> None:
        super().__init__(f"not a number: {text!r}")
        self.facts: Mapping[str, object] = {"text": text, "example": example}


def exact(value: Number) -> Decimal:
    """Return a number as the decimal with the same digits; a fraction to 28 digits."""
    if isinstance(value, Decimal):
        return value
    if isinstance(value, Fraction):
        return Decimal(value.numerator) / Decimal(value.denominator)
    return Decimal(repr(value))


MOST_DIGITS = 60
"""The longest number that is read, in signs: no amount has more, and sums of more would overflow."""
WIDE = Context(prec=400)
"""Digits enough for the largest float: a refusal names what was typed."""


def rounded(value: Number, digits: int, rounding: Rounding = Rounding.HALF_UP) -> Decimal:
    """Return `value` rounded to `digits` decimals, never as minus zero."""
    result = exact(value).quantize(Decimal(1).scaleb(-digits), rounding=rounding.value, context=WIDE)
    return abs(result) if result == 0 else result


def number(value: Number, digits: int, words: Words, rounding: Rounding = Rounding.HALF_UP) -> str:
    """Return `value` as text with `digits` decimals in the reader's locale.

    A value above zero that rounds to zero is written as its bound: "<0.1".
    """
    shown = rounded(value, digits, rounding)
    if shown == 0 and exact(value) > 0 and rounding is not Rounding.DOWN:
        return "<" + _written(Decimal(1).scaleb(-digits), digits, words)
    return _written(shown, digits, words)


def plain_number(value: Number, words: Words) -> str:
    """Return a number as text with all its decimals, in the reader's locale."""
    digits = exact(value).normalize().as_tuple().exponent
    return _written(exact(value), max(0, -digits) if isinstance(digits, int) else 0, words)


def money(value: Decimal, currency: str, words: Words) -> str:
    """Return a price in the reader's locale, "$38.00" or "38,00 €", with all its digits."""
    return _safe(format_currency(value, currency, locale=words.locale, decimal_quantization=False))


def percent(share: Number, digits: int, words: Words, rounding: Rounding = Rounding.HALF_UP) -> str:
    """Return a share of 0..1 in per cent with `digits` decimals in the reader's locale: "6.2%", "6,2 %".

    Where rounding half up would give one more digit before the point, up to two decimals are added:
    "9.96%", never "10.0%". A share too small to show is written as its bound, "<0.1%", unless rounded down.
    """
    value, half_up = exact(share) * 100, rounding is Rounding.HALF_UP
    shown = rounded_share(exact(share), digits) if half_up else rounded(value, digits, rounding)
    hidden = shown == 0 and value > 0 and rounding is not Rounding.DOWN
    return _percent_text(Decimal(1).scaleb(-digits) if hidden else shown, hidden, words)


def percents(shares: Sequence[Number], digits: int, words: Words) -> list[str]:
    """Return the shares of one whole in per cent so that what is written adds up to their sum, as 100%.

    Each is rounded down, and what is missing is given to the largest remainders. Where a part would be
    written as the whole beside others, up to two decimals are added.
    """
    values, whole = [exact(share) * 100 for share in shares], rounded(sum(map(exact, shares)) * 100, digits)
    for decimals in range(digits, digits + 3):
        step = Decimal(1).scaleb(-decimals)
        shown = [value.quantize(step, rounding=ROUND_FLOOR) for value in values]
        by_remainder = sorted(range(len(values)), key=lambda n: shown[n] - values[n])
        for n in by_remainder[: max(int((whole - sum(shown)) / step), 0)]:
            shown[n] += step
        if not any(value < whole == written for value, written in zip(values, shown, strict=True)):
            break
    hidden = [value > 0 == written for value, written in zip(values, shown, strict=True)]
    return [_percent_text(step if h else one, h, words) for h, one in zip(hidden, shown, strict=True)]


def _percent_text(shown: Decimal, below: bool, words: Words) -> str:
    """Return a number of per cent as text, after "<" where the value is `below` it."""
    mark = "<" if below else ""
    decimals = _decimals(-int(shown.as_tuple().exponent))
    pattern = words.locale.percent_formats[None].pattern.replace("0", f"0{decimals}", 1).split(";")[0]
    return mark + format_percent(shown / 100, format=pattern, locale=words.locale)


def parse_number(text: str, words: Words) -> Decimal:
    """Return the number written in `text` in the reader's locale. Raises NumberFault.

    A lone mark before fewer or more than three digits parts no thousands: "43,2" is 43.2 in any locale.
    Digits, the locale's marks and one leading sign only: no exponents, no "NaN".
    """
    plain = text.strip().replace("−", "-")
    try:
        if len(plain) > MOST_DIGITS or not re.fullmatch(r"[-+]?[0-9][0-9.,'\u00a0\u202f]*", plain, re.ASCII):
            raise NumberFormatError(plain)
        if re.fullmatch(r"[-+]?[0-9]+[.,]([0-9]{1,2}|[0-9]{4,})", plain, re.ASCII):
            return Decimal(plain.replace(",", "."))
        return parse_decimal(plain, locale=words.locale, strict=True)
    except NumberFormatError:
        raise NumberFault(text, _written(Decimal("1234.5"), 1, words)) from None


YEARS = range(1970, 10_000 - 1)  # a lost date is a date; at the ends of the calendar sums overflow


def parse_day(text: str) -> date | None:
    """Return the day that a browser's field or an address writes, "2026-06-14", or None where it is none."""
    try:
        on = date.fromisoformat(text)
    except ValueError:
        return None
    return on if on.year in YEARS else None


def _written(value: Decimal, digits: int, words: Words) -> str:
    return _written_in(words.locale, value, digits)


@lru_cache(maxsize=4096)
def _written_in(locale: Locale, value: Decimal, digits: int) -> str:
    pattern = locale.decimal_formats[None].pattern.split(";")[0]
    whole = pattern.split(".")[0]  # "#,##0": how this locale groups
    with localcontext(WIDE):
        return format_decimal(value, format=whole + _decimals(digits), locale=locale)


def _decimals(digits: int) -> str:
    return "." + "0" * digits if digits else ""


NARROW_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"


def day(d: date, words: Words, today: date | None = None) -> str:
    """Return a date in full, "June 14, 2026", without the year when it is that of `today`."""
    if today is not None and d.year == today.year:
        return _safe(format_skeleton("MMMMd", d, locale=words.locale))
    return _safe(format_date(d, "long", locale=words.locale))


def short_day(d: date, words: Words) -> str:
    """Return a day with its month in few letters and its year: "Jun 3, 2026", as a large date is read."""
    return _safe(format_skeleton("yMMMd", d, locale=words.locale))


def weekday(d: date, words: Words) -> str:
    """Return a date with its day of the week, short and without the year: "Sun, Jun 14"."""
    return _safe(format_skeleton("MMMEd", d, locale=words.locale))


def time(at: datetime, zone: tzinfo, words: Words) -> str:
    """Return the time of day of an instant in the time zone `zone`: "10:55 AM"."""
    return _time_in(words.locale, at.astimezone(zone).time().replace(second=0, microsecond=0, fold=0))


@lru_cache(maxsize=4096)
def _time_in(locale: Locale, at: time_of_day) -> str:
    return _safe(format_time(at, "short", locale=locale))


def moment(at: datetime, zone: tzinfo, words: Words, now: datetime) -> str:
    """Return an instant as its time when it is of today, else as day and time; `at` and `now` are aware."""
    on, today = at.astimezone(zone).date(), now.astimezone(zone).date()
    if on == today:
        return time(at, zone, words)
    return words.gettext("{day}, {time}", day=day(on, words, today), time=time(at, zone, words))


def age(seconds: float, words: Words) -> str:
    """Return a time of `seconds` ago as text, rounded down: "3 hours ago"."""
    minutes = max(0, int(seconds // 60))
    if minutes < 1:
        return words.gettext("just now")
    if minutes < 60:
        return words.ngettext("{n} minute ago", "{n} minutes ago", minutes)
    if minutes < 48 * 60:
        return words.ngettext("{n} hour ago", "{n} hours ago", minutes // 60)
    return words.ngettext("{n} day ago", "{n} days ago", minutes // (24 * 60))


def _safe(text: str) -> str:
    return text.replace(NARROW_SPACE, NO_BREAK_SPACE)


def joined(things: Sequence[str], words: Words) -> str:
    """Return `things` as one text, "a, b and c", in the reader's language."""
    return str(format_list(list(things), locale=words.locale))
