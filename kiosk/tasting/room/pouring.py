"""Glasses on record, held so that two later words about one never cross.

One entry for a pour: read under the guest's lock, decide, append, in one write transaction.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import Answer, EntryOrigin
from kiosk.figures.drinks import Offer, Server, decide, tighten
from kiosk.figures.service.allowance import NOT_APPROVED
from kiosk.figures.service.bottles import Fate, fate
from kiosk.figures.service.servings import Pour, PourMark
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.errors import KeyConflict
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.tasting.approvals.approvals import UnknownProduct, from_bottle, offer, strongest, was_approved
from kiosk.tasting.bottles.shelf import POUR
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules.policy import NO_POLICY
from kiosk.tasting.rules.standing import Standing, lock_and_read_guest, server
from kiosk.words.catalogs import N_


class UnknownPour(TastingError):
    """A correction speaks of a pour that is not on record."""

    status = 404
    message = N_("There is no such pour to correct.")
    held_as = "unknown_pour"


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
class Glass:
    """A pour with every later word about it."""

    pour: Pour
    marks: tuple[PourMark, ...]

    @property
    def guests(self) -> set[int]:
        """Everybody before whom this glass stands or stood by the ledgers."""
        named = (self.pour.guest_id, *(mark.guest_id for mark in self.marks))
        return {guest for guest in named if guest is not None}

    @property
    def fate(self) -> Fate:
        """What became of it."""
        return fate(self.pour, self.marks)


def lock_glasses(session: Session, keys: Sequence[str]) -> list[Glass]:
    """Hold pours until the transaction ends, in the order of their keys, and return them as asked for.

    Whoever needs guests' locks too takes them afterwards: glasses first, guests second.
    Raises UnknownPour.
    """
    wanted = select(*POUR).where(pours.c.key.in_(keys)).order_by(pours.c.key)
    found = {row.key: Pour(*row) for row in session.execute(wanted.with_for_update())}
    if not found or not found.keys() >= set(keys):
        raise UnknownPour()
    told: dict[str, list[PourMark]] = defaultdict(list)
    c = pour_marks.c
    corrections = select(c.key, c.at, c.pour_key, c.kind, c.guest_id).where(c.pour_key.in_(keys))
    for row in session.execute(corrections):
        told[row.pour_key].append(PourMark(*row))
    return [Glass(found[key], tuple(told[key])) for key in keys]


AnyPour = TypeVar("AnyPour", PourEntry, PresetEntry)

OTHER_DAY = "other_day"
"""The reason against a pour for a guest whose number was another service day's."""


def pour(session: Session, site: Site, asked: PourEntry, now: datetime) -> Answer:
    """Serve or refuse an asked pour, or record one that was poured already.

    The session is a write transaction that has not read yet. The same key gets
    the stored answer; with another body it raises KeyConflict. Raises NoSuchRow
    for an unknown guest and UnknownProduct.
    """
    now = now.astimezone(UTC)  # sums on a local clock go wrong where the clock is changed
    asked = as_mixed(site, asked)
    at = asked.origin.at(now).astimezone(UTC) if not asked.asked else now
    standing = lock_and_read_guest(
        session, site, asked.guest_id, asked.origin.key, at, from_bottle(site, asked.product)
    )
    if standing.known:
        return _stored(session, asked, standing.known)
    at_hand = strongest(site, standing.approved, at)
    try:
        proposed = offer(site, at_hand, asked.product, asked.volume_ul, neat=asked.neat)
    except UnknownProduct:  # an experiment that is no product is known by its approval alone
        if asked.asked and was_approved(session, asked.product):
            return _refused(session, asked, standing, (NOT_APPROVED,), now)
        raise
    pourer = server(session, site.policy, asked.origin.pourer(asked=asked.asked), site.service_day(at))
    reasons = _reasons(site, standing, asked, pourer, proposed, at)
    if reasons and asked.asked:
        return _refused(session, asked, standing, reasons, now)
    ledgers.append(session, pours, _pour(site, asked, standing, proposed, at, now), ignoring={"bottle_id"})
    return Answer(asked.origin.key, "poured", reasons=reasons, guest_id=asked.guest_id, at=at)


def _reasons(
    site: Site, standing: Standing, asked: PourEntry, pourer: Server, proposed: Offer, at: datetime
) -> tuple[str, ...]:
    # A fact is judged by what came before it; an ask by everything that is known.
    before = [s for s in standing.served if asked.asked or s.at <= at]
    rules = tighten(site.policy, [one for one in standing.restrictions if asked.asked or one.at <= at])
    decided = decide(rules, standing.guest, before, pourer, standing.room, at, proposed)
    if proposed.free:
        return ()
    outside = [] if standing.policy_key else [NO_POLICY]
    outside += [] if standing.of_today else [OTHER_DAY]
    return (*outside, *decided.reasons)


def as_mixed(site: Site, asked: AnyPour) -> AnyPour:
    """Return an entry as its glass is: a recipe without a bottle in it is not measured."""
    recipe = site.recipes.get(asked.product)
    return asked if recipe is None or recipe.product else replace(asked, volume_ul=0)


def _pour(
    site: Site, asked: PourEntry, standing: Standing, proposed: Offer, at: datetime, now: datetime
) -> Mapping[str, object]:
    return {
        **asked.origin.values(at, now),
        "guest_id": asked.guest_id,
        "tour_id": standing.tour_id,
        "bottle_id": standing.bottle_id,
        "product": proposed.product,
        "volume_ul": asked.volume_ul,
        "abv_e2": proposed.abv_e2,
        "neat": proposed.neat,
        "recipe": asked.product if asked.product in site.recipes else None,
        "asked": asked.asked,
        "server_checked": asked.origin.checked,
        "policy_key": standing.policy_key or "",
        "clock_ms": asked.origin.clock_ms(now),
    }


def _refused(
    session: Session, asked: PourEntry, standing: Standing, reasons: tuple[str, ...], now: datetime
) -> Answer:
    values = {
        **asked.origin.values(now, now),
        "guest_id": asked.guest_id,
        "product": asked.product,
        "volume_ul": asked.volume_ul,
        "reasons": list(reasons),
        "policy_key": standing.policy_key or "",
    }
    ledgers.append(session, refusals, values)
    return Answer(asked.origin.key, "refused", reasons=reasons, guest_id=asked.guest_id, at=now)


def _stored(session: Session, asked: PourEntry, ledger: str) -> Answer:
    """Return the answer that stands under this key, or raise KeyConflict.

    Only what was asked is ever refused: a glass told under a refused key is another entry.
    """
    table = pours if ledger == "pours" else refusals
    row = session.execute(select(table).where(table.c.key == asked.origin.key)).mappings().one()
    mixed = bool(row.get("recipe"))  # whether it is neat is the recipe's to say
    sent = {
        "by": asked.origin.by,
        "guest_id": asked.guest_id,
        "product": asked.product,
        "volume_ul": asked.volume_ul,
        "asked": asked.asked,
        **({"neat": asked.neat} if table is pours and not mixed else {}),
    }
    stands = {"asked": True, **row, "product": row.get("recipe") or row["product"]}
    other = [name for name, value in sent.items() if stands[name] != value]
    if other:
        raise KeyConflict(table.name, asked.origin.key, other)
    reasons = () if table is pours else tuple(row["reasons"])
    outcome = "poured" if table is pours else "refused"
    return Answer(asked.origin.key, outcome, reasons=reasons, guest_id=row["guest_id"], at=row["at"])
