"""The form of a pattern of tours, read into a pattern and shown again as it was typed."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time

from kiosk.site.settings import Site
from kiosk.tours.calendar.patterns import (
    LINES,
    NO_DATE,
    NO_DAYS,
    NO_HOURS,
    NO_LANGUAGE,
    NO_LINE,
    Pattern,
    PatternLine,
)
from kiosk.tours.planning.forms import choice, plain, whole
from kiosk.tours.planning.tours import TourDraft, TourFaults
from kiosk.words.errors import Fault
from kiosk.words.formats import parse_day

SHARED = ("first", "last", "guide", "flight", "room", "places", "may_lead")
_HOUR = re.compile(r"([01]?\d|2[0-3])(?:[:.h]([0-5]\d))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class TypedPattern:
    """What the form of a pattern shows: its texts by field, and the weekdays ticked in each line."""

    texts: Mapping[str, str]
    weekdays: Mapping[int, Sequence[str]]


def typed_pattern(form: Mapping[str, str], ticked: Mapping[int, Sequence[str]]) -> TypedPattern:
    """Return what was typed and ticked."""
    lines = [f"{name}-{n}" for n in range(1, LINES + 1) for name in ("hours", "language")]
    texts = {name: plain(form.get(name, ""))[:200] for name in (*SHARED, *lines)}
    return TypedPattern(texts, {n: [plain(day)[:2] for day in days] for n, days in ticked.items()})


def blank_pattern(site: Site, first: date) -> TypedPattern:
    """Return an empty form from a day on."""
    lines = {f"language-{n}": site.codes[0] for n in range(1, LINES + 1)}
    texts = {**dict.fromkeys(SHARED, ""), **lines, "first": first.isoformat(), "room": site.rooms[0]}
    return TypedPattern(texts, {})


def parse_pattern(typed: TypedPattern, site: Site, today: date) -> Pattern:
    """Return the pattern that was typed. Raises TourFaults for days and hours that cannot be read."""
    texts = typed.texts
    faults: dict[str, Fault] = {}
    days = {name: parse_day(texts[name]) for name in ("first", "last")}
    for name, day in days.items():
        if day is None:
            last = today.replace(month=12, day=31)
            faults[name] = (NO_DATE, {"typed": texts[name], "first": today, "last": last})
    lines = []
    for n in range(1, LINES + 1):
        line, wrong = _line(typed, n, site)
        faults |= {f"{name}-{n}": fault for name, fault in wrong.items()}
        lines += [line] if line else []
    if not lines and not faults:
        faults["hours-1"] = (NO_LINE, {})
    if faults:
        raise TourFaults(faults)
    assert days["first"] is not None
    assert days["last"] is not None
    languages = tuple(dict.fromkeys(line.language for line in lines))
    return Pattern(days["first"], days["last"], tuple(lines), _draft(texts, languages))


def _draft(texts: Mapping[str, str], languages: tuple[str, ...]) -> TourDraft:
    return TourDraft(
        starts_at=None,
        languages=languages,
        guide_id=choice(texts["guide"]),
        flight_id=choice(texts["flight"]),
        room=texts["room"],
        places=whole(texts["places"]),
        typed=texts,
        may_lead=bool(texts["may_lead"]),
    )


def _line(typed: TypedPattern, n: int, site: Site) -> tuple[PatternLine | None, dict[str, Fault]]:
    """Return a line and what is wrong in it; neither for an empty one."""
    hours, language = typed.texts[f"hours-{n}"], typed.texts[f"language-{n}"]
    weekdays = frozenset(int(day) for day in typed.weekdays.get(n, ()) if day in "0123456" and day)
    if not hours and not weekdays:
        return None, {}
    faults: dict[str, Fault] = {}
    times = parse_hours(hours)
    if not weekdays:
        faults["days"] = (NO_DAYS, {})
    if not times:
        faults["hours"] = (NO_HOURS, {"typed": hours})
    if language not in site.codes:
        faults["language"] = (NO_LANGUAGE, {"allowed": site.codes})
    return PatternLine(weekdays, times, language), faults


def parse_hours(text: str) -> tuple[time, ...]:
    """Return the times of a list such as "10:00, 14:30", in order; empty where one cannot be read."""
    matches = [_HOUR.fullmatch(word) for word in re.split(r"[,;\s]+", text.strip()) if word]
    if not all(matches):
        return ()
    return tuple(sorted({time(int(m[1]), int(m[2] or 0)) for m in matches if m}))
