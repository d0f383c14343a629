"""Later entries that correct a pour; the pour itself stays as it was recorded."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from kiosk.entries.entries import Answer, EntryKind, EntryOrigin, RawEntry, read_code, read_key, read_whole
from kiosk.entries.errors import Malformed
from kiosk.figures.drinks import Offer, Server, decide, tighten
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.rows import lock_guests
from kiosk.store.tables.tasting import pour_marks
from kiosk.tasting.errors import TastingError
from kiosk.tasting.room.pouring import Glass, lock_glasses
from kiosk.tasting.rules.pour_context import lock_and_read_context
from kiosk.words.catalogs import N_


class TooLate(TastingError):
    """A pour can only be voided right after it was entered."""

    status = 409
    message = N_(
        "An entry can be undone for {seconds} seconds. If it was poured and not served, record that instead."
    )


@dataclass(frozen=True, slots=True)
class CorrectionEntry:
    """A correction as it was sent: the pour, what kind, and the guest to whom a pour is reassigned."""

    origin: EntryOrigin
    pour_key: str
    kind: str
    guest_id: int | None = None


CORRECTION_KINDS = frozenset({"void", "not_served", "cleared", "reassign", "unfinished", "finished"})
UNDO = timedelta(seconds=20)
ON_THE_WAY = timedelta(seconds=3)
"""How long an entry made within the 20 seconds may take to arrive."""


def record_correction(session: Session, site: Site, entry: CorrectionEntry, now: datetime) -> Answer:
    """Record a correction of a pour and return its answer.

    The session is a write transaction that has not read yet; it locks the glass and its guests. A
    void is accepted for 20 seconds after its entry. A glass moved to a guest over their limit is
    recorded, with the reasons as its flag. Raises UnknownPour, TooLate, Malformed, NoSuchRow for
    an unknown guest, and KeyConflict.
    """
    if entry.kind not in CORRECTION_KINDS or (entry.kind == "reassign") != (entry.guest_id is not None):
        raise Malformed(part="kind")
    (glass,) = lock_glasses(session, [entry.pour_key])
    lock_guests(session, glass.guests if entry.guest_id is None else glass.guests | {entry.guest_id})
    at = entry.origin.at(now)
    recorded = any(mark.key == entry.origin.key for mark in glass.marks)
    if entry.kind == "void" and not recorded and at - glass.pour.at > UNDO + ON_THE_WAY:
        raise TooLate(seconds=int(UNDO.total_seconds()))
    values = {"pour_key": entry.pour_key, "kind": entry.kind, "guest_id": entry.guest_id}
    ledgers.append(session, pour_marks, entry.origin.values(at, now) | values, ignoring={"at", "device_id"})
    reasons = () if entry.guest_id is None else _reasons_after_move(session, site, glass, entry.guest_id, at)
    return Answer(entry.origin.key, "corrected", reasons=reasons, guest_id=glass.pour.guest_id, at=at)


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
    return CorrectionEntry(origin, read_key(row, "pour"), read_code(row, "kind", 12), guest)


CORRECTIONS = EntryKind("pour_marks", _parse, record_correction)
