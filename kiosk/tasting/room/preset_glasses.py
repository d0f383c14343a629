"""Glasses set out before a group comes: poured at a seat, served when a guest sits down there, or cleared.

What is set out counts to nobody. A guest who sits down is served what stands there: the decision
is made then, for the whole seat or glass by glass as the policy says. The glasses of a
seat are served in one instant, so that no pause is asked between them.

A table before the group comes: which seats are set out, and what is still to be poured there.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import KEY, Answer, EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.drinks import Room, Served, ServiceState, against_pouring, decide, tighten
from kiosk.figures.service.bottles import Fate
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.ledgers import key_within, keys_within
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.store.tables.tours import bookings, tours
from kiosk.tasting.approvals.approvals import approved, from_bottle, offer
from kiosk.tasting.bottles.shelf import open_bottle
from kiosk.tasting.errors import TastingError
from kiosk.tasting.flights.planning import Item
from kiosk.tasting.room.pouring import OTHER_DAY, Glass, PresetEntry, as_mixed, lock_glasses
from kiosk.tasting.room.room import PresetGlass, RoomView
from kiosk.tasting.room.tiles import Tile
from kiosk.tasting.rules.day_restrictions import policy_of_day
from kiosk.tasting.rules.policy import NO_POLICY, in_force
from kiosk.tasting.rules.standing import Standing, lock_and_read_guest, server
from kiosk.words.catalogs import N_


class PresetGlassesTaken(TastingError):
    """Glasses that were set out are served or cleared once."""

    status = 409
    message = N_("These glasses are already served or removed. Open the page again to see what is left.")


@dataclass(frozen=True, slots=True)
class PresetGlassesEntry:
    """Glasses that are set out: a guest sits down at them (seated), or they are cleared."""

    origin: EntryOrigin
    kind: str
    pours: tuple[str, ...]
    guest_id: int | None = None
    asked: bool = True


WITHOUT = frozenset({ServiceState.NO_ALCOHOL, ServiceState.UNDER_AGE})
"""Who has what is free of alcohol at a seat, and the rest is cleared: no ask, so no refusal."""


def record_preset_glass(session: Session, site: Site, sent: PresetEntry, now: datetime) -> Answer:
    """Record a glass poured at a seat for nobody yet; the open bottle goes down.

    Refused for what stands against the glass, the room or whoever pours. The session is a
    write transaction. Raises Malformed for an unknown tour, UnknownProduct, KeyConflict.
    """
    sent = as_mixed(site, sent)
    room = session.scalar(select(tours.c.room).where(tours.c.id == sent.tour_id))
    if room is None:
        raise Malformed(part="tour")
    at = (now if sent.asked else sent.origin.at(now)).astimezone(UTC)
    proposed = offer(site, approved(session, site, room, at), sent.product, sent.volume_ul, neat=sent.neat)
    version, day = in_force(session, site), site.service_day(at)
    reasons: tuple[str, ...] = () if version or proposed.free else (NO_POLICY,)
    rules, here = policy_of_day(session, site, room, day), Room(room, *site.day_bounds(day), site.zone)
    reasons += against_pouring(
        rules, server(session, rules, sent.origin.pourer(asked=sent.asked), day), here, proposed
    )
    known = session.scalar(select(pours.c.key).where(pours.c.key == sent.origin.key))
    if reasons and sent.asked and known is None:
        return Answer(sent.origin.key, "refused", reasons=reasons, at=at)
    values = {
        **sent.origin.values(at, now),
        "seat": sent.seat,
        "tour_id": sent.tour_id,
        "bottle_id": open_bottle(session, room, from_bottle(site, sent.product), at),
        "product": proposed.product,
        "volume_ul": sent.volume_ul,
        "abv_e2": proposed.abv_e2,
        "neat": proposed.neat,
        "recipe": sent.product if sent.product in site.recipes else None,
        "asked": sent.asked,
        "server_checked": sent.origin.checked,
        "policy_key": version.key if version else "",
        "clock_ms": sent.origin.clock_ms(now),
    }
    ledgers.append(session, pours, values, ignoring=_IGNORED)
    return Answer(sent.origin.key, "preset", at=at)


_IGNORED = {"at", "device_id", "bottle_id", "abv_e2", "server_checked", "policy_key", "clock_ms"}


def seat_or_clear(session: Session, site: Site, sent: PresetGlassesEntry, now: datetime) -> Answer:
    """Serve the glasses of a seat to the guest who sits down there, or clear them: poured, not served.

    Raises Malformed, PresetGlassesTaken, UnknownPour, NoSuchRow for an unknown guest.
    """
    if sent.kind not in ("seated", "cleared") or (sent.kind == "seated") != (sent.guest_id is not None):
        raise Malformed(part="kind")
    glasses = lock_glasses(session, sent.pours)
    if any(glass.pour.guest_id is not None for glass in glasses):
        raise Malformed(part="pours")
    at = (now if sent.asked else sent.origin.at(now)).astimezone(UTC)
    if sent.guest_id is None:
        return _clear(session, sent, glasses, at, now)
    return _seat(session, site, sent, sent.guest_id, glasses, at, now)


def _clear(
    session: Session, sent: PresetGlassesEntry, glasses: Sequence[Glass], at: datetime, now: datetime
) -> Answer:
    """Clear what still stands there; a glass that was served meanwhile stays served."""
    for n, glass in enumerate(glasses):
        if glass.fate is Fate.PRESET:
            _mark(session, sent, n, "cleared", at, now)
    return Answer(sent.origin.key, "cleared", at=at)


def _seat(
    session: Session,
    site: Site,
    sent: PresetGlassesEntry,
    guest_id: int,
    glasses: Sequence[Glass],
    at: datetime,
    now: datetime,
) -> Answer:
    standing = lock_and_read_guest(session, site, guest_id, sent.origin.key, at)
    if standing.known or any(glass.fate is not Fate.PRESET for glass in glasses):
        return _stored(session, sent, guest_id, glasses)
    if any(glass.pour.visit != standing.tour_id for glass in glasses):
        raise Malformed(part="pours")
    decided = list(_decided(session, site, sent, standing, glasses, at))
    reasons = tuple(dict.fromkeys(reason for one in decided for reason in one))
    without = standing.guest.state in WITHOUT
    if reasons and sent.asked and not without and site.policy.mat == "whole":
        first = next(n for n, one in enumerate(decided) if one)
        _refuse(session, sent, standing, sent.origin.key, glasses[first], reasons, now)
        return Answer(sent.origin.key, "refused", reasons=reasons, guest_id=guest_id, at=at)
    for n, against in enumerate(decided):
        served = not against or not sent.asked
        _mark(session, sent, n, "seated" if served else "cleared", at, now)
        if not served and not without:
            _refuse(session, sent, standing, key_within(sent.origin.key, n), glasses[n], against, now)
    return Answer(sent.origin.key, "seated", reasons=reasons, guest_id=guest_id, at=at)


def _decided(
    session: Session,
    site: Site,
    sent: PresetGlassesEntry,
    standing: Standing,
    glasses: Sequence[Glass],
    at: datetime,
) -> Iterator[tuple[str, ...]]:
    """Yield the reasons against each glass, beside those of the seat that were served before it."""
    rules, day = tighten(site.policy, standing.restrictions), site.service_day(at)
    at_hand = approved(session, site, standing.room.id, at)
    pourer = server(session, rules, sent.origin.pourer(asked=sent.asked), day)
    outside = (() if standing.policy_key else (NO_POLICY,)) + (() if standing.of_today else (OTHER_DAY,))
    had = list(standing.served)
    for glass in glasses:
        pour = glass.pour
        named = offer(site, at_hand, pour.recipe or pour.product, pour.volume_ul)
        proposed = replace(named, abv_e2=pour.abv_e2, neat=pour.neat)
        against = decide(rules, standing.guest, had, pourer, standing.room, at, proposed).reasons
        against = () if proposed.free else (*outside, *against)
        yield against
        if not against or not sent.asked:
            what = (pour.product, pour.volume_ul, pour.abv_e2, pour.neat)
            had.append(Served(pour.key, at, sent.guest_id or 0, pour.visit, *what, preset=True))


def _mark(session: Session, sent: PresetGlassesEntry, n: int, kind: str, at: datetime, now: datetime) -> None:
    values = {
        **sent.origin.values(at, now),
        "key": key_within(sent.origin.key, n),
        "pour_key": sent.pours[n],
        "kind": kind,
        "guest_id": sent.guest_id if kind == "seated" else None,
    }
    ledgers.append(session, pour_marks, values)


def _refuse(
    session: Session,
    sent: PresetGlassesEntry,
    standing: Standing,
    key: str,
    glass: Glass,
    reasons: tuple[str, ...],
    now: datetime,
) -> None:
    values = {
        **sent.origin.values(now, now),
        "key": key,
        "guest_id": sent.guest_id,
        "product": glass.pour.recipe or glass.pour.product,
        "volume_ul": glass.pour.volume_ul,
        "reasons": list(reasons),
        "policy_key": standing.policy_key or "",
    }
    ledgers.append(session, refusals, values)


def _stored(session: Session, sent: PresetGlassesEntry, guest_id: int, glasses: Sequence[Glass]) -> Answer:
    """Return the answer that this act got before. Raises PresetGlassesTaken where another act took them."""
    own = {key_within(sent.origin.key, n): n for n in range(len(glasses))}
    r = refusals.c
    told = session.execute(
        select(r.reasons, r.guest_id, r.at).where(r.key.in_([sent.origin.key, *own]))
    ).all()
    marks = [mark for glass in glasses for mark in glass.marks if mark.key in own]
    guests = {mark.guest_id for mark in marks if mark.guest_id} | {row.guest_id for row in told}
    if guests - {guest_id} or not (marks or told):
        raise PresetGlassesTaken()
    reasons = tuple(dict.fromkeys(reason for row in told for reason in row.reasons))
    at = marks[0].at if marks else told[0].at
    outcome = "seated" if marks else "refused"
    return Answer(sent.origin.key, outcome, reasons=reasons, guest_id=guest_id, at=at)


MOST_SEATS = 60
WHOLE_FLIGHT = "flight"


@dataclass(frozen=True, slots=True)
class Seat:
    """The glasses that stand at a seat for nobody yet."""

    name: str
    glasses: tuple[PresetGlass, ...]


def seats(view: RoomView) -> list[Seat]:
    """Return what is set out, by place."""
    by_seat: dict[str, list[PresetGlass]] = defaultdict(list)
    for glass in view.preset_glasses:
        by_seat[glass.seat].append(glass)
    names = sorted(by_seat, key=lambda name: (len(name), name))
    return [Seat(name, tuple(by_seat[name])) for name in names]


def to_seat(view: RoomView) -> list[Tile]:
    """Return the guests who may sit down at a seat, those who had nothing yet first."""
    here = [tile for tile in view.tiles if not tile.gone]
    return sorted(here, key=lambda tile: (tile.samples > 0, tile.number))


def to_ask(view: RoomView) -> list[Tile]:
    """Return the guests who named an allergen that is in a glass set out: asked before they sit down."""
    standing = {glass.glass for glass in view.preset_glasses}
    return [
        tile
        for tile in to_seat(view)
        if any(
            one.allergens and one.product in standing
            for one in (tile.next, tile.alcohol_free, *view.others(tile.guest_id))
            if one
        )
    ]


def not_served(session: Session, key: str) -> list[str]:
    """Return the glasses that the act of seating a guest did not serve: they are taken away.

    `key` is the act's; nothing for one that is no act's.
    """
    if not KEY.fullmatch(key):
        return []
    p, m = pours.c, pour_marks.c
    found = select(func.coalesce(p.recipe, p.product)).join_from(pours, pour_marks, p.key == m.pour_key)
    cleared = found.where(m.key.between(*keys_within(key)), m.kind == "cleared")
    return list(session.scalars(cleared.order_by(m.key)))


def expected(session: Session, tour_id: int) -> int:
    """Return how many people are booked on a tour."""
    coming = select(func.coalesce(func.sum(bookings.c.size), 0))
    of_tour = coming.where(bookings.c.tour_id == tour_id, bookings.c.cancelled_at.is_(None))
    return int(session.execute(of_tour).scalar_one())


def chosen(view: RoomView, what: str) -> Sequence[Item]:
    """Return the samples of the flight that are meant: all of it, or the one at a position."""
    return [item for item in view.flight if what in (WHOLE_FLIGHT, str(item.pos))]


def rows(view: RoomView, key: str, what: str, first: int, last: int) -> Iterator[dict[str, object]]:
    """Yield the rows that set out some places, without what stands there already.

    Each has its own key within the act's, by place and position.
    """
    wanted, standing = chosen(view, what), Counter((glass.seat, glass.glass) for glass in view.preset_glasses)
    for seat in range(max(1, first), min(last, MOST_SEATS) + 1):
        for item in view.flight:
            standing[str(seat), item.glass] -= 1  # what is planned twice stands there twice
            if item in wanted and standing[str(seat), item.glass] < 0:
                yield {
                    "ledger": "pours",
                    "key": key_within(key, seat * 1000 + item.pos),
                    "tour": view.tour_id,
                    "seat": str(seat),
                    "product": item.glass,
                    "volume_ul": item.volume_ul,
                }
