"""The entries of the tasting room: pours, glasses poured before a guest is seated, and corrections."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    CODE,
    KEY,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_flag,
    read_key,
    read_whole,
)
from kiosk.entries.errors import Malformed
from kiosk.site.settings import Site
from kiosk.tasting.room.corrections import CorrectionEntry, record_correction
from kiosk.tasting.room.pouring import PourEntry, PresetEntry, pour
from kiosk.tasting.room.preset_glasses import PresetGlassesEntry, record_preset_glass, seat_or_clear

MOST_UL = 2_000_000  # two litres: more than any glass, less than any overflow
MOST_GLASSES = 500  # that one entry clears: a full table of a long flight


def _parse_pour(row: RawEntry, origin: EntryOrigin) -> PourEntry | PresetEntry:
    glass = (read_code(row, "product", 40), read_whole(row, "volume_ul", MOST_UL))
    flags = (read_flag(row, "neat"), read_flag(row, "asked"))
    if row.get("seat") is None:
        return PourEntry(origin, read_whole(row, "guest"), *glass, *flags)
    seat = read_code(row, "seat", 20)
    if not CODE.fullmatch(seat):
        raise Malformed(part="seat")
    return PresetEntry(origin, read_whole(row, "tour"), seat, *glass, *flags)


def _record_pour(session: Session, site: Site, entry: PourEntry | PresetEntry, now: datetime) -> Answer:
    if isinstance(entry, PresetEntry):
        return record_preset_glass(session, site, entry, now)
    return pour(session, site, entry, now)


def _parse_correction(row: RawEntry, origin: EntryOrigin) -> CorrectionEntry | PresetGlassesEntry:
    kind = read_code(row, "kind", 12)
    guest = read_whole(row, "guest") if row.get("guest") is not None else None
    if "pours" in row:
        return PresetGlassesEntry(origin, kind, _keys(row, "pours"), guest, read_flag(row, "asked"))
    return CorrectionEntry(origin, read_key(row, "pour"), kind, guest)


def _record_correction(
    session: Session, site: Site, entry: CorrectionEntry | PresetGlassesEntry, now: datetime
) -> Answer:
    if isinstance(entry, PresetGlassesEntry):
        return seat_or_clear(session, site, entry, now)
    return record_correction(session, site, entry, now)


def _keys(row: RawEntry, name: str) -> tuple[str, ...]:
    value = row.get(name)
    sent = value if isinstance(value, list) else []
    keys = [key for key in sent if isinstance(key, str) and KEY.fullmatch(key)]
    if not 0 < len(sent) <= MOST_GLASSES or len(set(keys)) != len(sent):
        raise Malformed(part=name)
    return tuple(keys)


ROOM_ENTRIES = (
    EntryKind("pours", _parse_pour, _record_pour),
    EntryKind("pour_marks", _parse_correction, _record_correction),
)
