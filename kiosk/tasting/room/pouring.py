"""Pours for guests: asked ones are decided and recorded under the guest's lock, poured ones recorded."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    KEY,
    SERVERS,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_flag,
    read_instant,
    read_whole,
)
from kiosk.entries.errors import GuestOfAnotherTour, Malformed
from kiosk.figures.drinks import Offer, Server, decide, tighten
from kiosk.figures.service.allowance import NOT_APPROVED
from kiosk.figures.service.bottles import Fate, fate
from kiosk.figures.service.servings import Pour, PourMark
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.errors import KeyConflict
from kiosk.store.ledgers import keys_within
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.tasting.approvals.approvals import UnknownProduct, from_bottle, offer, strongest, was_approved
from kiosk.tasting.bottles.shelf import POUR, pour_of
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules.policy import NO_POLICY
from kiosk.tasting.rules.pour_context import PourContext, lock_and_read_context, server_with_permits
from kiosk.words.catalogs import N_


class UnknownPour(TastingError):
    """A pour that is not on record."""

    status = 404
    message = N_("There is no such pour to correct.")
    held_as = "unknown_pour"


@dataclass(frozen=True, slots=True)
class Belief:
    """What a tablet showed of a guest as it poured: how many pours they had and samples they skipped.

    `as_of` is the server's time of the state that it showed.
    """

    count: int
    skipped: int
    as_of: datetime


@dataclass(frozen=True, slots=True)
class PourEntry:
    """A pour for a guest as it was sent. `asked`: the rules decide; else it was poured and is a fact.

    With a `tour_id` the guest has to be on that tour. What is asked on a `belief` that is no longer true
    is not recorded: the person is asked again.
    """

    origin: EntryOrigin
    guest_id: int
    product: str
    volume_ul: int
    neat: bool = True
    asked: bool = True
    tour_id: int | None = None
    belief: Belief | None = None


@dataclass(frozen=True, slots=True)
class PresetEntry:
    """A pre-poured glass as it was sent, at a seat of a tour's table."""

    origin: EntryOrigin
    tour_id: int
    seat: str
    product: str
    volume_ul: int
    neat: bool = True
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Glass:
    """A pour with its corrections; by whom, on which device and when it was recorded."""

    pour: Pour
    marks: tuple[PourMark, ...]
    by: int | None
    device_id: int | None
    recorded_at: datetime

    @property
    def guests(self) -> set[int]:
        """The ids of the guests who have or had this glass, by the ledgers."""
        named = (self.pour.guest_id, *(mark.guest_id for mark in self.marks))
        return {guest for guest in named if guest is not None}

    @property
    def fate(self) -> Fate:
        """What became of the glass."""
        return fate(self.pour, self.marks)


def lock_glasses(session: Session, keys: Sequence[str]) -> list[Glass]:
    """Lock pours until the transaction ends, and return them with their marks, in the order of `keys`.

    They are locked in the order of their keys, before any guest: so no two transactions wait for
    each other. Raises UnknownPour.
    """
    wanted = select(*POUR, pours.c.by, pours.c.device_id, pours.c.recorded_at)
    wanted = wanted.where(pours.c.key.in_(keys)).order_by(pours.c.key)
    locked = {row.key: row for row in session.execute(wanted.with_for_update())}
    if not locked or not locked.keys() >= set(keys):
        raise UnknownPour()
    pour_marks_of: dict[str, list[PourMark]] = defaultdict(list)
    c = pour_marks.c
    columns = (c.key, c.at, c.pour_key, c.kind, c.guest_id, c.server_checked)
    for row in session.execute(select(*columns).where(c.pour_key.in_(keys))):
        pour_marks_of[row.pour_key].append(PourMark(*row))
    return [Glass(pour_of(locked[key]), tuple(pour_marks_of[key]), *locked[key][len(POUR) :]) for key in keys]


AnyPour = TypeVar("AnyPour", PourEntry, PresetEntry)

OTHER_DAY = "other_day"
"""The reason against a pour for a guest whose number is of another service day."""


def pour(session: Session, site: Site, entry: PourEntry, now: datetime) -> Answer:
    """Decide an asked pour and record it or its refusal; record one that was already poured.

    The session is a write transaction that has not read yet. The same key gets
    the stored answer; with another body it raises KeyConflict. A pour that was refused and is told all the
    same was poured before its tablet heard the answer: it is recorded. Where the guest had or skipped
    something that the tablet did not know of, an asked pour is answered `changed` and nothing is
    recorded. Raises NoSuchRow for an unknown guest, GuestOfAnotherTour, UnknownProduct, and
    Malformed for no spirit at all.
    """
    now = now.astimezone(UTC)  # sums on a local clock go wrong where the clock is changed
    entry = as_mixed(site, entry)
    at = entry.origin.at(now).astimezone(UTC) if not entry.asked else now
    context = lock_and_read_context(
        session, site, entry.guest_id, entry.origin.key, at, from_bottle(site, entry.product)
    )
    if entry.tour_id not in (None, context.tour_id):
        raise GuestOfAnotherTour()
    if context.recorded_in:
        before = _answer_before(session, entry, context.recorded_in)
        if before.outcome == "poured" or entry.asked:
            return before
    if entry.asked and entry.belief and _is_outdated(entry.belief, context):
        return Answer(entry.origin.key, "changed", 409, guest_id=entry.guest_id, at=now)
    at_hand = strongest(site, context.approved, at)
    try:
        proposed = offer(site, at_hand, entry.product, entry.volume_ul, neat=entry.neat)
    except UnknownProduct:  # an experiment that is no product is known by its approval alone
        if entry.asked and was_approved(session, entry.product):
            return _refuse(session, entry, context, (NOT_APPROVED,), now)
        raise
    demand_volume(proposed)
    pourer = server_with_permits(session, site.policy, entry.origin.server, site.service_day(at))
    reasons = _reasons(site, context, entry, pourer, proposed, at)
    if reasons and entry.asked:
        return _refuse(session, entry, context, reasons, now)
    values = pour_values(site, entry, proposed, context.policy_key, at, now)
    values |= {"guest_id": entry.guest_id, "tour_id": context.tour_id, "bottle_id": context.bottle_id}
    values |= {"believed_at": entry.belief.as_of if entry.belief else None}
    ledgers.append(session, pours, values, ignoring={"bottle_id"})
    return Answer(entry.origin.key, "poured", reasons=reasons, guest_id=entry.guest_id, at=at)


def _is_outdated(belief: Belief, context: PourContext) -> bool:
    return (belief.count, belief.skipped) != (len(context.served), context.skipped)


def _reasons(
    site: Site, context: PourContext, entry: PourEntry, pourer: Server, proposed: Offer, at: datetime
) -> tuple[str, ...]:
    # A fact is judged by what came before it; an ask by everything that is known.
    before = [s for s in context.served if entry.asked or s.at <= at]
    rules = tighten(site.policy, [one for one in context.restrictions if entry.asked or one.at <= at])
    decided = decide(rules, context.guest, before, pourer, context.room, at, proposed)
    if proposed.free:
        return ()
    outside = [] if context.policy_key else [NO_POLICY]
    outside += [] if context.of_today else [OTHER_DAY]
    return (*outside, *decided.reasons)


def as_mixed(site: Site, entry: AnyPour) -> AnyPour:
    """Return an entry with volume 0 where its recipe takes nothing from a bottle, else the entry itself."""
    recipe = site.recipes.get(entry.product)
    return entry if recipe is None or recipe.product else replace(entry, volume_ul=0)


def demand_volume(proposed: Offer) -> None:
    """Raise Malformed for a glass of a spirit with nothing in it: it would count against no limit."""
    if proposed.volume_ul == 0 and proposed.abv_e2 > 0:
        raise Malformed(part="volume_ul")


def pour_values(
    site: Site,
    entry: PourEntry | PresetEntry,
    proposed: Offer,
    policy_key: str | None,
    at: datetime,
    now: datetime,
) -> dict[str, object]:
    """Return what the ledger of pours keeps of every glass, whether a guest has it or a seat."""
    return {
        **entry.origin.values(at, now),
        "product": proposed.product,
        "volume_ul": entry.volume_ul,
        "abv_e2": proposed.abv_e2,
        "neat": proposed.neat,
        "recipe": entry.product if entry.product in site.recipes else None,
        "asked": entry.asked,
        "server_checked": entry.origin.checked,
        "policy_key": policy_key or "",
        "clock_ms": entry.origin.clock_ms(now),
    }


def refusal_values(
    origin: EntryOrigin,
    context: PourContext,
    product: str,
    volume_ul: int,
    reasons: Sequence[str],
    now: datetime,
) -> dict[str, object]:
    """Return what the ledger of refusals keeps of a glass that was not poured."""
    return {
        **origin.values(now, now),
        "product": product,
        "volume_ul": volume_ul,
        "reasons": list(reasons),
        "policy_key": context.policy_key or "",
    }


def _refuse(
    session: Session, entry: PourEntry, context: PourContext, reasons: tuple[str, ...], now: datetime
) -> Answer:
    values = refusal_values(entry.origin, context, entry.product, entry.volume_ul, reasons, now)
    ledgers.append(session, refusals, values | {"guest_id": entry.guest_id})
    return Answer(entry.origin.key, "refused", reasons=reasons, guest_id=entry.guest_id, at=now)


def _answer_before(session: Session, entry: PourEntry, ledger: str) -> Answer:
    """Return the answer on record under an entry's key. Raises KeyConflict where the entry differs.

    A granted pour may be sent again as a fact: its tablet had not received the answer.
    """
    table = pours if ledger == "pours" else refusals
    row = session.execute(select(table).where(table.c.key == entry.origin.key)).mappings().one()
    mixed = bool(row.get("recipe"))  # whether it is neat is the recipe's to say
    sent = {
        "by": entry.origin.by,
        "guest_id": entry.guest_id,
        "product": entry.product,
        "volume_ul": entry.volume_ul,
        **({"asked": True} if entry.asked else {}),
        **({"neat": entry.neat} if table is pours and not mixed else {}),
    }
    stored = {"asked": True, **row, "product": row.get("recipe") or row["product"]}
    other = [name for name, value in sent.items() if stored[name] != value]
    if other:
        raise KeyConflict(table.name, entry.origin.key, other)
    reasons = () if table is pours else tuple(row["reasons"])
    outcome = "poured" if table is pours else "refused"
    return Answer(entry.origin.key, outcome, reasons=reasons, guest_id=row["guest_id"], at=row["at"])


def stored_answer(session: Session, key: str) -> Answer | None:
    """Return the answer that a pour got, by the entry's key; None for a key of no pour.

    For a seat of which some glasses were refused it is the refusal, with every reason.
    """
    if not KEY.fullmatch(key):
        return None
    r = refusals.c
    of_act = select(r.reasons, r.guest_id, r.at).where(r.key.between(*keys_within(key))).order_by(r.key)
    refused = session.execute(of_act).all()
    if refused:
        first, against = refused[0], dict.fromkeys(reason for row in refused for reason in row.reasons)
        return Answer(key, "refused", reasons=tuple(against), guest_id=first.guest_id, at=first.at)
    poured = session.execute(select(pours.c.guest_id, pours.c.at).where(pours.c.key == key)).one_or_none()
    return Answer(key, "poured", guest_id=poured.guest_id, at=poured.at) if poured else None


MOST_UL = 2_000_000  # two litres: more than any glass, less than any overflow


def parse_glass(row: RawEntry) -> tuple[str, int, bool, bool]:
    """Return product, volume, whether it is neat and whether it is asked for. Raises Malformed."""
    volume_ul = read_whole(row, "volume_ul", MOST_UL)
    return read_code(row, "product", 40), volume_ul, read_flag(row, "neat"), read_flag(row, "asked")


def _parse(row: RawEntry, origin: EntryOrigin) -> PourEntry:
    tour_id = read_whole(row, "tour") if row.get("tour") is not None else None
    return PourEntry(origin, read_whole(row, "guest"), *parse_glass(row), tour_id, _parse_belief(row))


def _parse_belief(row: RawEntry) -> Belief | None:
    """Return the part `believed` of an entry; None where it is left out. Raises Malformed."""
    sent = row.get("believed")
    if sent is None:
        return None
    if not isinstance(sent, Mapping):
        raise Malformed(part="believed")
    as_of = read_instant(sent, "as_of")
    if as_of is None:
        raise Malformed(part="as_of")
    return Belief(read_whole(sent, "count"), read_whole(sent, "skipped"), as_of)


def asks_if_asked(entry: Any) -> Collection[str]:
    """Return the roles that may ask for a glass now; none for one that was poured already."""
    return SERVERS if entry.asked else ()


POURS = EntryKind("pours", SERVERS, asks_if_asked, _parse, pour)
