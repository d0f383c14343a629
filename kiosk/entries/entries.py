"""The entries that tablets send, read and checked, and the answers they get.

Nothing in an entry is believed about the rules.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from kiosk.site.settings import Site
from kiosk.tasting.errors import Malformed
from kiosk.words import errors, reasons
from kiosk.words.catalogs import N_, Words

KEY = re.compile(r"[0-9a-f]{32}")
CODE = re.compile(r"[a-z0-9][a-z0-9_.-]*")
"""What a detail may be: a ledger is for ever, so nothing that somebody wrote by hand goes into one."""
YEARS = range(1970, 10_000 - 1)  # a lost date is a date; at the ends of the calendar sums overflow
MOST_UL = 2_000_000  # two litres: more than any glass, less than any overflow
HELD = N_("Kept for a person to look at: it could not be matched with what is on record.")


@dataclass(frozen=True, slots=True)
class EntryOrigin:
    """What every entry carries: who claims it, from where, and when it is said to have happened.

    `checked` says whether the server itself had seen that person's PIN on that
    device this shift, `here` whether they are signed in on it now. `happened_at`
    is None for 'now'.
    """

    key: str
    by: int | None
    device_id: int | None
    checked: bool = False
    happened_at: datetime | None = None
    here: bool = False

    def pourer(self, *, asked: bool) -> int | None:
        """Return who pours: whoever is named, but asked for nobody whom the server did not see here.

        Else anybody could pour on the permit of a colleague who is elsewhere.
        """
        return self.by if self.checked or not asked else None

    def at(self, now: datetime) -> datetime:
        """Return when it happened: never later than now."""
        return min(now, self.happened_at or now)

    def values(self, at: datetime, now: datetime) -> dict[str, object]:
        """Return what every ledger keeps of an entry that happened `at` and is recorded `now`."""
        return {
            "key": self.key,
            "at": at,
            "recorded_at": now,
            "by": self.by,
            "device_id": self.device_id,
        }

    def clock_ms(self, now: datetime) -> int:
        """Return how far the time that was told lies behind the server's, in milliseconds."""
        return round((now - (self.happened_at or now)).total_seconds() * 1000)


@dataclass(frozen=True, slots=True)
class PourEntry:
    """A pour for a guest. `asked`: may this be served? Otherwise it was, and is a fact."""

    origin: EntryOrigin
    guest_id: int
    product: str
    volume_ul: int
    neat: bool = True
    asked: bool = True


@dataclass(frozen=True, slots=True)
class PresetEntry:
    """A glass poured at a seat of a tour's table, for nobody yet."""

    origin: EntryOrigin
    tour_id: int
    seat: str
    product: str
    volume_ul: int
    neat: bool = True
    asked: bool = True


@dataclass(frozen=True, slots=True)
class PresetGlassesEntry:
    """Glasses that are set out: a guest sits down at them (seated), or they are cleared."""

    origin: EntryOrigin
    kind: str
    pours: tuple[str, ...]
    guest_id: int | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """A mark about a guest."""

    origin: EntryOrigin
    guest_id: int
    kind: str
    detail: str | None = None


@dataclass(frozen=True, slots=True)
class CorrectionEntry:
    """A later word about a pour."""

    origin: EntryOrigin
    pour_key: str
    kind: str
    guest_id: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an entry.

    `outcome`: poured, preset, seated, cleared, refused, marked, corrected, held, rejected. For a fact
    that went over a limit it is poured, with the reasons as its flag.
    """

    key: str
    outcome: str
    status: int = 200
    reasons: tuple[str, ...] = ()
    guest_id: int | None = None
    at: datetime | None = None
    error: str = ""
    message: str = ""
    facts: Mapping[str, object] = field(default_factory=dict)


def sentence(answer: Answer, site: Site, words: Words) -> str:
    """Return what became of an entry, for whoever sent it."""
    if answer.outcome == "held":
        return words.gettext(HELD)
    if answer.outcome == "rejected":
        facts = {name: errors.fact_text(value, words) for name, value in answer.facts.items()}
        return words.gettext(answer.message, **facts)
    if answer.reasons:
        why = " ".join(reasons.for_staff(code, site.policy, words) for code in answer.reasons)
        if answer.outcome != "refused":
            return words.gettext("Recorded, and flagged for the manager. {why}", why=why)
        return why
    return words.gettext("Recorded.")


Entry = PourEntry | PresetEntry | PresetGlassesEntry | MarkEntry | CorrectionEntry
MOST_GLASSES = 500
"""So many glasses one act clears: a full table of a long flight."""


FORMER_NAMES: Mapping[str, Mapping[str, str]] = {
    "pours": {"place": "seat"},
    "marks": {
        "document": "id_check",
        "none_today": "no_alcohol",
        "drinks_today": "no_alcohol_lifted",
        "stopped": "service_stopped",
        "lifted": "service_resumed",
    },
    "pour_marks": {"mis_tap": "void", "to_guest": "reassign", "left": "unfinished", "emptied": "finished"},
}
"""Parts of a pour and kinds of marks by their names before migration 0014: a tablet's queue may hold
entries from before the upgrade. The version after this one reads them no more."""


def with_present_names(row: Mapping[str, object]) -> Mapping[str, object]:
    """Return a posted row with the present names for the former ones."""
    ledger, kind = row.get("ledger"), row.get("kind")
    former = FORMER_NAMES.get(ledger, {}) if isinstance(ledger, str) else {}
    if ledger == "pours":
        return {former.get(part, part): value for part, value in row.items()}
    return {**row, "kind": former[kind]} if isinstance(kind, str) and kind in former else row


def parse_entry(
    row: Mapping[str, object], *, device_id: int | None, by: int | None, checked: bool, here: bool = False
) -> Entry:
    """Return one posted row as an entry. Raises Malformed."""
    origin = EntryOrigin(_key(row, "key"), by, device_id, checked, happened_at(row), here)
    match row.get("ledger"):
        case "pours":
            return _pour(row, origin)
        case "marks":
            detail = _code(row, "detail", 80) if row.get("detail") is not None else None
            if detail is not None and not CODE.fullmatch(detail):
                raise Malformed(part="detail")
            return MarkEntry(origin, _whole(row, "guest"), _code(row, "kind", 20), detail)
        case "pour_marks":
            guest = _whole(row, "guest") if row.get("guest") is not None else None
            if "pours" in row:
                return PresetGlassesEntry(
                    origin, _code(row, "kind", 12), _keys(row, "pours"), guest, _flag(row, "asked")
                )
            return CorrectionEntry(origin, _key(row, "pour"), _code(row, "kind", 12), guest)
    raise Malformed(part="ledger")


def _pour(row: Mapping[str, object], origin: EntryOrigin) -> PourEntry | PresetEntry:
    glass = (_code(row, "product", 40), _whole(row, "volume_ul", MOST_UL))
    flags = (_flag(row, "neat"), _flag(row, "asked"))
    if row.get("seat") is not None:
        seat = _code(row, "seat", 20)
        if not CODE.fullmatch(seat):
            raise Malformed(part="seat")
        return PresetEntry(origin, _whole(row, "tour"), seat, *glass, *flags)
    return PourEntry(origin, _whole(row, "guest"), *glass, *flags)


def _keys(row: Mapping[str, object], name: str) -> tuple[str, ...]:
    value = row.get(name)
    found = value if isinstance(value, list) else []
    keys = [key for key in found if isinstance(key, str) and KEY.fullmatch(key)]
    if not 0 < len(found) <= MOST_GLASSES or len(set(keys)) != len(found):
        raise Malformed(part=name)
    return tuple(keys)


def claimed_by(row: Mapping[str, object]) -> int | None:
    """Return the person that a row claims, or None where it claims nobody. Raises Malformed."""
    return _whole(row, "by") if row.get("by") is not None else None


def _key(row: Mapping[str, object], name: str) -> str:
    value = row.get(name)
    if not isinstance(value, str) or not KEY.fullmatch(value):
        raise Malformed(part=name)
    return value


def _whole(row: Mapping[str, object], name: str, most: int = 2**31 - 1) -> int:
    value = row.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
        raise Malformed(part=name)
    return value


def _code(row: Mapping[str, object], name: str, longest: int) -> str:
    value = row.get(name)
    if not isinstance(value, str) or not 0 < len(value) <= longest or not value.isprintable():
        raise Malformed(part=name)
    return value


def _flag(row: Mapping[str, object], name: str) -> bool:
    value = row.get(name, True)
    if not isinstance(value, bool):
        raise Malformed(part=name)
    return value


def happened_at(row: Mapping[str, object]) -> datetime | None:
    """Return when a row says that it happened, or None for now. Raises Malformed."""
    value = row.get("at")
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None or at.year not in YEARS:
        raise Malformed(part="at")
    return at
