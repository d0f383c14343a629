"""Later entries that correct a pour; the pour itself stays as it was recorded."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    SERVERS,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_key,
    read_whole,
)
from kiosk.entries.errors import GuestOfAnotherTour, Malformed
from kiosk.entries.guest_marks import IGNORED
from kiosk.figures.drinks import Offer, Server, decide, tighten
from kiosk.figures.service.bottles import Fate
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.ledgers import append_all, key_within, keys_within
from kiosk.store.rows import lock_guests
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.tasting.errors import TastingError
from kiosk.tasting.room.pouring import Glass, lock_glasses
from kiosk.tasting.rules.pour_context import lock_and_read_context
from kiosk.words.catalogs import N_


class ReasonMissing(TastingError):
    """Only the person who made an entry takes it back without a reason, and only right after it."""

    message = N_(
        "Say why: without a reason only the person who made the entry can undo it, on the same tablet and "
        "within {minutes} minutes."
    )


@dataclass(frozen=True, slots=True)
class CorrectionEntry:
    """A correction as it was sent: the pour, what kind, the guest to whom a pour is reassigned, and why.

    With a `tour_id` the glass has to be of that tour.
    """

    origin: EntryOrigin
    pour_key: str
    kind: str
    guest_id: int | None = None
    reason: str | None = None
    tour_id: int | None = None


@dataclass(frozen=True, slots=True)
class RoundCorrection:
    """The glasses of a round that were not served in the end, as it was sent: all of one act, and why."""

    origin: EntryOrigin
    act: str
    kind: str
    reason: str | None = None


GIVING_BACK = frozenset({"void", "not_served", "cleared", "reassign"})
"""Corrections after which a guest may be served more."""
CORRECTION_KINDS = GIVING_BACK | {"unfinished", "finished", "confirmed"}
"""Confirmed says of a possible double that both glasses were poured."""
OF_ROUNDS = frozenset({"void", "not_served"})
UNDO = timedelta(minutes=2)
"""How long after it was recorded, by the server's clock, a pour is undone without a reason."""
REASONS: Mapping[str, str] = {
    "wrong_guest": N_("Wrong guest"),
    "wrong_sample": N_("Wrong sample or size"),
    "entered_twice": N_("Entered twice"),
    "not_taken": N_("The guest did not take it"),
    "spilled": N_("Spilled, or the glass broke"),
    "nothing_poured": N_("Nothing was poured"),
}


def record_correction(session: Session, site: Site, entry: CorrectionEntry, now: datetime) -> Answer:
    """Record a correction of a pour and return its answer.

    The session is a write transaction that has not read yet; it locks the glass and its guests. What
    gives a pour back happens now, whatever time was sent, and needs a reason, save the undo of its own
    maker. A glass moved to a guest over their limit is recorded, with the reasons as its flag. Raises
    UnknownPour, ReasonMissing, GuestOfAnotherTour, Malformed, NoSuchRow for an unknown guest, and
    KeyConflict.
    """
    if entry.kind not in CORRECTION_KINDS or (entry.kind == "reassign") != (entry.guest_id is not None):
        raise Malformed(part="kind")
    (glass,) = lock_glasses(session, [entry.pour_key])
    guests = lock_guests(session, glass.guests if entry.guest_id is None else glass.guests | {entry.guest_id})
    gives_back = entry.kind in GIVING_BACK
    at = now if gives_back else entry.origin.at(now)
    if all(mark.key != entry.origin.key for mark in glass.marks):
        _demand_tour(entry, glass, {guest: row["tour_id"] for guest, row in guests.items()})
        if gives_back and entry.reason is None and not _own_undo(entry, glass, now):
            raise ReasonMissing(minutes=int(UNDO.total_seconds() / 60))
    values = {"pour_key": entry.pour_key, "kind": entry.kind, "guest_id": entry.guest_id}
    values |= {"reason": entry.reason, "server_checked": entry.origin.checked}
    ledgers.append(session, pour_marks, entry.origin.values(at, now) | values, ignoring=IGNORED)
    reasons = () if entry.guest_id is None else _reasons_after_move(session, site, glass, entry.guest_id, at)
    return Answer(entry.origin.key, "corrected", reasons=reasons, guest_id=glass.pour.guest_id, at=at)


def correct_round(session: Session, _site: Site, entry: RoundCorrection, now: datetime) -> Answer:
    """Record one correction for all glasses of a round that still count, and return its answer.

    The session is a write transaction that has not read yet; it locks the glasses and their guests. The
    key of each correction lies within that of the entry. Raises UnknownPour, ReasonMissing and Malformed.
    """
    if entry.kind not in OF_ROUNDS:
        raise Malformed(part="kind")
    keys = session.scalars(select(pours.c.key).where(pours.c.key.between(*keys_within(entry.act)))).all()
    glasses = [one for one in lock_glasses(session, keys) if one.fate is Fate.SERVED]
    lock_guests(session, frozenset[int]().union(*(glass.guests for glass in glasses)))
    if entry.reason is None and not all(_own_undo(entry, glass, now) for glass in glasses):
        raise ReasonMissing(minutes=int(UNDO.total_seconds() / 60))
    same = {**entry.origin.values(now, now), "kind": entry.kind, "guest_id": None, "reason": entry.reason}
    same |= {"server_checked": entry.origin.checked}
    rows = [
        {
            **same,
            "key": key_within(entry.origin.key, int(glass.pour.key[24:], 16)),
            "pour_key": glass.pour.key,
        }
        for glass in glasses
    ]
    append_all(session, pour_marks, rows)
    return Answer(entry.origin.key, "corrected", at=now)


def _demand_tour(entry: CorrectionEntry, glass: Glass, tour_of: Mapping[int, int]) -> None:
    """Raise GuestOfAnotherTour where the tour named, or the guest who gets a glass, is not the glass's."""
    own = {glass.pour.visit, *(tour_of[guest] for guest in glass.guests)}
    asked = {entry.tour_id, tour_of.get(entry.guest_id or 0)} - {None}
    if not asked <= own:
        raise GuestOfAnotherTour()


def _own_undo(entry: CorrectionEntry | RoundCorrection, glass: Glass, now: datetime) -> bool:
    """Return whether a pour is voided by its own maker, on the same device and right after it."""
    origin, checked = entry.origin, glass.pour.checked
    own = checked and (origin.by, origin.device_id) == (glass.by, glass.device_id)
    return entry.kind == "void" and own and now - glass.recorded_at <= UNDO


def _reasons_after_move(
    session: Session, site: Site, glass: Glass, guest_id: int, at: datetime
) -> tuple[str, ...]:
    """Return the reasons against a glass for the guest it is moved to, after all that they had."""
    context = lock_and_read_context(session, site, guest_id, "", at)
    had = [one for one in context.served if one.key != glass.pour.key]
    what = Offer(glass.pour.product, glass.pour.volume_ul, glass.pour.abv_e2, glass.pour.neat)
    rules = tighten(site.policy, context.restrictions)
    return decide(rules, context.guest, had, Server(), context.room, at, what).reasons


def _parse(row: RawEntry, origin: EntryOrigin) -> CorrectionEntry:
    guest = read_whole(row, "guest") if row.get("guest") is not None else None
    tour_id = read_whole(row, "tour") if row.get("tour") is not None else None
    kind = read_code(row, "kind", 12)
    return CorrectionEntry(origin, read_key(row, "pour"), kind, guest, _reason(row), tour_id)


def _parse_round(row: RawEntry, origin: EntryOrigin) -> RoundCorrection:
    return RoundCorrection(origin, read_key(row, "round"), read_code(row, "kind", 12), _reason(row))


def _reason(row: RawEntry) -> str | None:
    reason = read_code(row, "reason", 20) if row.get("reason") else None
    if reason is not None and reason not in REASONS:
        raise Malformed(part="reason")
    return reason


def _asks(entry: CorrectionEntry | RoundCorrection) -> Collection[str]:
    # Bar and guides too: who stands there sees what became of a glass, and the closing counts it.
    return SERVERS if entry.kind in GIVING_BACK else ()


ROUND_CORRECTIONS = EntryKind("pour_marks", SERVERS, _asks, _parse_round, correct_round, part="round")
CORRECTIONS = EntryKind("pour_marks", SERVERS, _asks, _parse, record_correction)
