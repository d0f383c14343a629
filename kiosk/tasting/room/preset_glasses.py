"""Glasses set out before a group comes: poured at a place, served when a guest sits down there, or cleared.

What is set out counts to nobody. A guest who sits down is served the mat: the decision
is made then, for the whole mat or glass by glass as the policy says. The glasses of a
mat are served in one instant, so that no pause is asked between them.

A table before the group comes: which places are set out, and what is still to be poured there.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import KEY, Answer, PresetEntry, PresetGlassesEntry
from kiosk.figures.drinks import Room, Served, ServiceState, against_pouring, decide, tighten
from kiosk.figures.service.bottles import Fate
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.ledgers import key_within, keys_within
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.store.tables.tours import parties, tours
from kiosk.tasting.approvals.approvals import from_bottle, offer, released
from kiosk.tasting.bottles.shelf import open_bottle
from kiosk.tasting.errors import Malformed, MatTaken
from kiosk.tasting.flights.planning import Item
from kiosk.tasting.room.pouring import OTHER_DAY, Glass, as_mixed, lock_glasses
from kiosk.tasting.room.room import RoomView, SetOut
from kiosk.tasting.room.tiles import Tile
from kiosk.tasting.rules.day_restrictions import policy_of_day
from kiosk.tasting.rules.policy import NO_POLICY, in_force
from kiosk.tasting.rules.standing import Standing, lock_and_read_guest, server

WITHOUT = frozenset({ServiceState.NONE_TODAY, ServiceState.UNDER_AGE})
"""Who has what is free of alcohol on a mat, and the rest is cleared: no ask, so no refusal."""


def set_out(session: Session, site: Site, sent: PresetEntry, now: datetime) -> Answer:
    """Record a glass poured at a place for nobody yet; the open bottle goes down.

    Refused for what stands against the glass, the room or whoever pours. The session is a
    write transaction. Raises Malformed for an unknown tour, UnknownProduct, KeyConflict.
    """
    sent = as_mixed(site, sent)
    room = session.scalar(select(tours.c.room).where(tours.c.id == sent.tour_id))
    if room is None:
        raise Malformed(part="tour")
    at = (now if sent.asked else sent.tap.at(now)).astimezone(UTC)
    proposed = offer(site, released(session, site, room, at), sent.product, sent.volume_ul, neat=sent.neat)
    version, day = in_force(session, site), site.service_day(at)
    reasons: tuple[str, ...] = () if version or proposed.free else (NO_POLICY,)
    rules, here = policy_of_day(session, site, room, day), Room(room, *site.day_bounds(day), site.zone)
    reasons += against_pouring(
        rules, server(session, rules, sent.tap.pourer(asked=sent.asked), day), here, proposed
    )
    known = session.scalar(select(pours.c.key).where(pours.c.key == sent.tap.key))
    if reasons and sent.asked and known is None:
        return Answer(sent.tap.key, "refused", reasons=reasons, at=at)
    values = {
        **sent.tap.values(at, now),
        "place": sent.place,
        "tour_id": sent.tour_id,
        "bottle_id": open_bottle(session, room, from_bottle(site, sent.product), at),
        "product": proposed.product,
        "volume_ul": sent.volume_ul,
        "abv_e2": proposed.abv_e2,
        "neat": proposed.neat,
        "recipe": sent.product if sent.product in site.recipes else None,
        "asked": sent.asked,
        "server_checked": sent.tap.checked,
        "policy_key": version.key if version else "",
        "clock_ms": sent.tap.clock_ms(now),
    }
    ledgers.append(session, pours, values, found_here=_FOUND_HERE)
    return Answer(sent.tap.key, "set_out", at=at)


_FOUND_HERE = {"at", "device_id", "bottle_id", "abv_e2", "server_checked", "policy_key", "clock_ms"}


def seat_or_clear(session: Session, site: Site, sent: PresetGlassesEntry, now: datetime) -> Answer:
    """Serve a mat to the guest who sits down at it, or clear it: poured, not served.

    Raises Malformed, MatTaken, UnknownPour, NoSuchRow for an unknown guest.
    """
    if sent.kind not in ("seated", "cleared") or (sent.kind == "seated") != (sent.guest_id is not None):
        raise Malformed(part="kind")
    glasses = lock_glasses(session, sent.pours)
    if any(glass.pour.guest_id is not None for glass in glasses):
        raise Malformed(part="pours")
    at = (now if sent.asked else sent.tap.at(now)).astimezone(UTC)
    if sent.guest_id is None:
        return _clear(session, sent, glasses, at, now)
    return _seat(session, site, sent, sent.guest_id, glasses, at, now)


def _clear(
    session: Session, sent: PresetGlassesEntry, glasses: Sequence[Glass], at: datetime, now: datetime
) -> Answer:
    """Clear what still stands there; a glass that was served meanwhile stays served."""
    for n, glass in enumerate(glasses):
        if glass.fate is Fate.SET_OUT:
            _mark(session, sent, n, "cleared", at, now)
    return Answer(sent.tap.key, "cleared", at=at)


def _seat(
    session: Session,
    site: Site,
    sent: PresetGlassesEntry,
    guest_id: int,
    glasses: Sequence[Glass],
    at: datetime,
    now: datetime,
) -> Answer:
    standing = lock_and_read_guest(session, site, guest_id, sent.tap.key, at)
    if standing.known or any(glass.fate is not Fate.SET_OUT for glass in glasses):
        return _stored(session, sent, guest_id, glasses)
    if any(glass.pour.visit != standing.tour_id for glass in glasses):
        raise Malformed(part="pours")
    decided = list(_decided(session, site, sent, standing, glasses, at))
    reasons = tuple(dict.fromkeys(reason for one in decided for reason in one))
    without = standing.guest.state in WITHOUT
    if reasons and sent.asked and not without and site.policy.mat == "whole":
        first = next(n for n, one in enumerate(decided) if one)
        _refuse(session, sent, standing, sent.tap.key, glasses[first], reasons, now)
        return Answer(sent.tap.key, "refused", reasons=reasons, guest_id=guest_id, at=at)
    for n, against in enumerate(decided):
        served = not against or not sent.asked
        _mark(session, sent, n, "seated" if served else "cleared", at, now)
        if not served and not without:
            _refuse(session, sent, standing, key_within(sent.tap.key, n), glasses[n], against, now)
    return Answer(sent.tap.key, "seated", reasons=reasons, guest_id=guest_id, at=at)


def _decided(
    session: Session,
    site: Site,
    sent: PresetGlassesEntry,
    standing: Standing,
    glasses: Sequence[Glass],
    at: datetime,
) -> Iterator[tuple[str, ...]]:
    """Yield the reasons against each glass, beside those of the mat that were served before it."""
    rules, day = tighten(site.policy, standing.words), site.service_day(at)
    at_hand = released(session, site, standing.room.id, at)
    pourer = server(session, rules, sent.tap.pourer(asked=sent.asked), day)
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
            had.append(Served(pour.key, at, sent.guest_id or 0, pour.visit, *what, set_out=True))


def _mark(session: Session, sent: PresetGlassesEntry, n: int, kind: str, at: datetime, now: datetime) -> None:
    values = {
        **sent.tap.values(at, now),
        "key": key_within(sent.tap.key, n),
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
        **sent.tap.values(now, now),
        "key": key,
        "guest_id": sent.guest_id,
        "product": glass.pour.recipe or glass.pour.product,
        "volume_ul": glass.pour.volume_ul,
        "reasons": list(reasons),
        "policy_key": standing.policy_key or "",
    }
    ledgers.append(session, refusals, values)


def _stored(session: Session, sent: PresetGlassesEntry, guest_id: int, glasses: Sequence[Glass]) -> Answer:
    """Return the answer that this act got before. Raises MatTaken where another act took the mat."""
    own = {key_within(sent.tap.key, n): n for n in range(len(glasses))}
    r = refusals.c
    told = session.execute(select(r.reasons, r.guest_id, r.at).where(r.key.in_([sent.tap.key, *own]))).all()
    marks = [mark for glass in glasses for mark in glass.marks if mark.key in own]
    guests = {mark.guest_id for mark in marks if mark.guest_id} | {row.guest_id for row in told}
    if guests - {guest_id} or not (marks or told):
        raise MatTaken()
    reasons = tuple(dict.fromkeys(reason for row in told for reason in row.reasons))
    at = marks[0].at if marks else told[0].at
    outcome = "seated" if marks else "refused"
    return Answer(sent.tap.key, outcome, reasons=reasons, guest_id=guest_id, at=at)


MOST_PLACES = 60
WHOLE_FLIGHT = "flight"


@dataclass(frozen=True, slots=True)
class Mat:
    """The glasses that stand at a place for nobody yet."""

    place: str
    glasses: tuple[SetOut, ...]


def mats(view: RoomView) -> list[Mat]:
    """Return what is set out, by place."""
    by_place: dict[str, list[SetOut]] = defaultdict(list)
    for glass in view.set_out:
        by_place[glass.place].append(glass)
    places = sorted(by_place, key=lambda place: (len(place), place))
    return [Mat(place, tuple(by_place[place])) for place in places]


def to_seat(view: RoomView) -> list[Tile]:
    """Return the guests who may sit down at a mat, those who had nothing yet first."""
    here = [tile for tile in view.tiles if not tile.gone]
    return sorted(here, key=lambda tile: (tile.samples > 0, tile.number))


def to_ask(view: RoomView) -> list[Tile]:
    """Return the guests who named an allergen that is in a glass set out: asked before they sit down."""
    standing = {glass.glass for glass in view.set_out}
    return [
        tile
        for tile in to_seat(view)
        if any(
            one.allergens and one.product in standing
            for one in (tile.next, tile.alcohol_free, *tile.others)
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
    coming = select(func.coalesce(func.sum(parties.c.size), 0))
    of_tour = coming.where(parties.c.tour_id == tour_id, parties.c.cancelled_at.is_(None))
    return int(session.execute(of_tour).scalar_one())


def chosen(view: RoomView, what: str) -> Sequence[Item]:
    """Return the samples of the flight that are meant: all of it, or the one at a position."""
    return [item for item in view.flight if what in (WHOLE_FLIGHT, str(item.pos))]


def rows(view: RoomView, key: str, what: str, first: int, last: int) -> Iterator[dict[str, object]]:
    """Yield the rows that set out some places, without what stands there already.

    Each has its own key within the act's, by place and position.
    """
    wanted, standing = chosen(view, what), Counter((glass.place, glass.glass) for glass in view.set_out)
    for place in range(max(1, first), min(last, MOST_PLACES) + 1):
        for item in view.flight:
            standing[str(place), item.glass] -= 1  # what is planned twice stands there twice
            if item in wanted and standing[str(place), item.glass] < 0:
                yield {
                    "ledger": "pours",
                    "key": key_within(key, place * 1000 + item.pos),
                    "tour": view.tour_id,
                    "place": str(place),
                    "product": item.glass,
                    "volume_ul": item.volume_ul,
                }
