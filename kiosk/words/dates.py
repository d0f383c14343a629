"""Days, moments and ages as the reader says them.

CLDR writes times with a narrow no-break space (U+202F) that many typefaces
lack; it is replaced by the ordinary no-break space everywhere.
"""

from __future__ import annotations

from datetime import date, datetime, tzinfo

from babel.dates import format_date, format_skeleton, format_time

from kiosk.words.catalogs import Words

NARROW_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"


def day(d: date, words: Words, today: date | None = None) -> str:
    """Return a day in full: "June 14, 2026"; without the year in the year of `today`."""
    if today is not None and d.year == today.year:
        return _safe(format_skeleton("MMMMd", d, locale=words.locale))
    return _safe(format_date(d, "long", locale=words.locale))


def time(at: datetime, zone: tzinfo, words: Words) -> str:
    """Return the time of day of an instant on the clock of `zone`."""
    return _safe(format_time(at.astimezone(zone).time(), "short", locale=words.locale))


def moment(at: datetime, zone: tzinfo, words: Words, now: datetime) -> str:
    """Return the time for an instant of today, else day and time; both times aware."""
    on, today = at.astimezone(zone).date(), now.astimezone(zone).date()
    if on == today:
        return time(at, zone, words)
    return words.gettext("{day}, {time}", day=day(on, words, today), time=time(at, zone, words))


def age(seconds: float, words: Words) -> str:
    """Return how long ago something was, rounded down: "3 hours ago"."""
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
