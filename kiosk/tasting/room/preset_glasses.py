"""Pre-poured glasses: poured at a seat before the group comes, then served to its guest, or cleared.

A pre-poured glass counts for no guest. The rules decide when a guest is seated at it, for the whole
seat or glass by glass as the policy says. The glasses of a seat are served in one instant, so that
no gap between pours is asked of them.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    CODE,
    KEY,
    SERVERS,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_flag,
    read_whole,
)
from kiosk.entries.errors import EntryError, GuestOfAnotherTour, Malformed
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
from kiosk.tasting.room.pouring import (
    OTHER_DAY,
    Glass,
    PresetEntry,
    as_mixed,
    asks_if_asked,
    demand_volume,
    lock_glasses,
    parse_glass,
    pour_values,
    refusal_values,
)
from kiosk.tasting.room.room import PresetGlass, RoomView
from kiosk.tasting.room.tiles import Tile
from kiosk.tasting.rules.policy import NO_POLICY, in_force, policy_of_day
from kiosk.tasting.rules.pour_context import PourContext, lock_and_read_context, server_with_permits
from kiosk.words.catalogs import N_


class PresetGlassesTaken(TastingError):
    """A pre-poured glass is served or cleared already: either happens once."""

    status = 409
    message = N_("These glasses are already served or removed. Open the page again to see what is left.")


@dataclass(frozen=True, slots=True)
class PresetGlassesEntry:
    """Pre-poured glasses as they were sent: a guest is seated at them, or they are cleared."""

    origin: EntryOrigin
    kind: str
    pours: tuple[str, ...]
    guest_id: int | None = None
    asked: bool = True
    tour_id: int | None = None  # on which the glasses have to be, where one is named


WITHOUT = frozenset({ServiceState.NO_ALCOHOL, ServiceState.UNDER_AGE})
"""States in which a guest is served only what has no alcohol; the rest of the seat is cleared unasked."""


def record_preset_glass(session: Session, site: Site, entry: PresetEntry, now: datetime) -> Answer:
    """Record a glass that is poured at a seat before its guest comes; the open bottle's level falls.

    Refused for reasons against the glass, the room or the server. The session is a write
    transaction. Raises Malformed for an unknown tour, UnknownProduct, KeyConflict.
    """
    entry = as_mixed(site, entry)
    room = session.scalar(select(tours.c.room).where(tours.c.id == entry.tour_id))
    if room is None:
        raise Malformed(part="tour")
    at = (now if entry.asked else entry.origin.at(now)).astimezone(UTC)
    proposed = offer(site, approved(session, site, room, at), entry.product, entry.volume_ul, neat=entry.neat)
    demand_volume(proposed)
    version, day = in_force(session, site), site.service_day(at)
    reasons: tuple[str, ...] = () if version or proposed.free else (NO_POLICY,)
    rules, here = policy_of_day(session, site, room, day), Room(room, *site.day_bounds(day), site.zone)
    reasons += against_pouring(
        rules,
        server_with_permits(session, rules, entry.origin.server, day),
        here,
        proposed,
    )
    known = session.scalar(select(pours.c.key).where(pours.c.key == entry.origin.key))
    if reasons and entry.asked and known is None:
        return Answer(entry.origin.key, "refused", reasons=reasons, at=at)
    bottle_id = open_bottle(session, room, from_bottle(site, entry.product), at)
    values = pour_values(site, entry, proposed, version.key if version else None, at, now)
    values |= {"seat": entry.seat, "tour_id": entry.tour_id, "bottle_id": bottle_id}
    ledgers.append(session, pours, values, ignoring=_IGNORED)
    return Answer(entry.origin.key, "preset", at=at)


_IGNORED = {"at", "device_id", "bottle_id", "abv_e2", "server_checked", "policy_key", "clock_ms"}


def seat_or_clear(session: Session, site: Site, entry: PresetGlassesEntry, now: datetime) -> Answer:
    """Serve the glasses of a seat to the guest seated there, or clear them as poured and not served.

    Raises Malformed, GuestOfAnotherTour, PresetGlassesTaken, UnknownPour, NoSuchRow for an unknown guest.
    """
    if entry.kind not in ("seated", "cleared") or (entry.kind == "seated") != (entry.guest_id is not None):
        raise Malformed(part="kind")
    glasses = lock_glasses(session, entry.pours)
    if any(glass.pour.guest_id is not None for glass in glasses):
        raise Malformed(part="pours")
    if entry.tour_id is not None and any(glass.pour.visit != entry.tour_id for glass in glasses):
        raise GuestOfAnotherTour()
    at = (now if entry.asked else entry.origin.at(now)).astimezone(UTC)
    if entry.guest_id is not None:
        return _seat(session, site, entry, entry.guest_id, glasses, at, now)
    for n, glass in enumerate(glasses):
        if glass.fate is Fate.PRESET:  # one that was served meanwhile stays served
            _mark(session, entry, n, "cleared", at, now)
    return Answer(entry.origin.key, "cleared", at=at)


def _seat(
    session: Session,
    site: Site,
    entry: PresetGlassesEntry,
    guest_id: int,
    glasses: Sequence[Glass],
    at: datetime,
    now: datetime,
) -> Answer:
    context = lock_and_read_context(session, site, guest_id, entry.origin.key, at)
    if context.recorded_in or any(glass.fate is not Fate.PRESET for glass in glasses):
        return _answer_before(session, entry, guest_id, glasses)
    if any(glass.pour.visit != context.tour_id for glass in glasses):
        raise Malformed(part="pours")
    decided = list(_decided(session, site, entry, context, glasses, at))
    reasons = tuple(dict.fromkeys(reason for one in decided for reason in one))
    without = context.guest.state in WITHOUT
    if reasons and entry.asked and not without and site.policy.mat == "whole":
        first = next(n for n, one in enumerate(decided) if one)
        _refuse(session, entry, context, entry.origin.key, glasses[first], reasons, now)
        return Answer(entry.origin.key, "refused", reasons=reasons, guest_id=guest_id, at=at)
    for n, against in enumerate(decided):
        served = not against or not entry.asked
        _mark(session, entry, n, "seated" if served else "cleared", at, now)
        if not served and not without:
            _refuse(session, entry, context, key_within(entry.origin.key, n), glasses[n], against, now)
    return Answer(entry.origin.key, "seated", reasons=reasons, guest_id=guest_id, at=at)


def _decided(
    session: Session,
    site: Site,
    entry: PresetGlassesEntry,
    context: PourContext,
    glasses: Sequence[Glass],
    at: datetime,
) -> Iterator[tuple[str, ...]]:
    """Yield the reasons against each glass, beside those of the seat that were served before it."""
    rules, day = tighten(site.policy, context.restrictions), site.service_day(at)
    at_hand = approved(session, site, context.room.id, at)
    pourer = server_with_permits(session, rules, entry.origin.server, day)
    outside = (() if context.policy_key else (NO_POLICY,)) + (() if context.of_today else (OTHER_DAY,))
    had = list(context.served)
    for glass in glasses:
        pour = glass.pour
        named = offer(site, at_hand, pour.recipe or pour.product, pour.volume_ul)
        proposed = replace(named, abv_e2=pour.abv_e2, neat=pour.neat)
        against = decide(rules, context.guest, had, pourer, context.room, at, proposed).reasons
        against = () if proposed.free else (*outside, *against)
        yield against
        if not against or not entry.asked:
            what = (pour.product, pour.volume_ul, pour.abv_e2, pour.neat)
            had.append(Served(pour.key, at, entry.guest_id or 0, pour.visit, *what, preset=True))


def _mark(
    session: Session, entry: PresetGlassesEntry, n: int, kind: str, at: datetime, now: datetime
) -> None:
    values = {
        **entry.origin.values(at, now),
        "key": key_within(entry.origin.key, n),
        "pour_key": entry.pours[n],
        "kind": kind,
        "guest_id": entry.guest_id if kind == "seated" else None,
        "server_checked": entry.origin.checked,
    }
    ledgers.append(session, pour_marks, values, ignoring={"server_checked"})


def _refuse(
    session: Session,
    entry: PresetGlassesEntry,
    context: PourContext,
    key: str,
    glass: Glass,
    reasons: tuple[str, ...],
    now: datetime,
) -> None:
    pour = glass.pour
    values = refusal_values(entry.origin, context, pour.recipe or pour.product, pour.volume_ul, reasons, now)
    ledgers.append(session, refusals, values | {"key": key, "guest_id": entry.guest_id})


def _answer_before(
    session: Session, entry: PresetGlassesEntry, guest_id: int, glasses: Sequence[Glass]
) -> Answer:
    """Return the answer that an entry got before. Raises PresetGlassesTaken for glasses of another entry."""
    own = {key_within(entry.origin.key, n): n for n in range(len(glasses))}
    r = refusals.c
    refused = session.execute(
        select(r.reasons, r.guest_id, r.at).where(r.key.in_([entry.origin.key, *own]))
    ).all()
    marks = [mark for glass in glasses for mark in glass.marks if mark.key in own]
    guests = {mark.guest_id for mark in marks if mark.guest_id} | {row.guest_id for row in refused}
    if guests - {guest_id} or not (marks or refused):
        raise PresetGlassesTaken()
    reasons = tuple(dict.fromkeys(reason for row in refused for reason in row.reasons))
    at = marks[0].at if marks else refused[0].at
    outcome = "seated" if marks else "refused"
    return Answer(entry.origin.key, outcome, reasons=reasons, guest_id=guest_id, at=at)


MOST_SEATS = 60


class TooManySeats(EntryError):
    """Glasses are poured for no more seats than the largest table has."""

    status = 422
    message = N_("Nothing was poured: seat {last} is not there. Allowed: seats 1 to {most}.")


WHOLE_FLIGHT = "flight"


def glasses_by_seat(view: RoomView) -> dict[str, list[PresetGlass]]:
    """Return the pre-poured glasses by their seat, in the order of the seats' names."""
    by_seat: dict[str, list[PresetGlass]] = defaultdict(list)
    for glass in view.preset_glasses:
        by_seat[glass.seat].append(glass)
    return dict(sorted(by_seat.items(), key=lambda item: (len(item[0]), item[0])))


def guests_to_seat(view: RoomView) -> list[Tile]:
    """Return the guests who may be seated, those who had no sample yet first."""
    here = [tile for tile in view.tiles if not tile.gone]
    return sorted(here, key=lambda tile: (tile.samples > 0, tile.number))


def guests_to_ask(view: RoomView) -> list[Tile]:
    """Return the guests who named an allergen that a pre-poured glass contains."""
    preset = {glass.glass for glass in view.preset_glasses}
    return [
        tile
        for tile in guests_to_seat(view)
        if any(
            one.allergens and one.product in preset
            for one in (tile.next, tile.alcohol_free, *view.others(tile.guest_id))
            if one
        )
    ]


def glasses_not_served(session: Session, key: str) -> list[str]:
    """Return the products of the glasses that were cleared when a guest was seated, by that entry's key.

    Empty for any other key.
    """
    if not KEY.fullmatch(key):
        return []
    p, m = pours.c, pour_marks.c
    glasses = select(func.coalesce(p.recipe, p.product)).join_from(pours, pour_marks, p.key == m.pour_key)
    cleared = glasses.where(m.key.between(*keys_within(key)), m.kind == "cleared")
    return list(session.scalars(cleared.order_by(m.key)))


def people_booked(session: Session, tour_id: int) -> int:
    """Return how many people are booked on a tour."""
    coming = select(func.coalesce(func.sum(bookings.c.size), 0))
    of_tour = coming.where(bookings.c.tour_id == tour_id, bookings.c.cancelled_at.is_(None))
    return int(session.execute(of_tour).scalar_one())


def preset_entries(view: RoomView, key: str, what: str, first: int, last: int) -> Iterator[dict[str, object]]:
    """Yield entries that pour samples of the flight at the seats `first` to `last`, where they lack.

    `what` is "flight" for all of them, or the position of one. Each entry has its own key within `key`,
    by seat and position. Raises TooManySeats.
    """
    if last > MOST_SEATS:
        raise TooManySeats(last=last, most=MOST_SEATS)
    wanted = [item for item in view.context.flight if what in (WHOLE_FLIGHT, str(item.pos))]
    spare = Counter((glass.seat, glass.glass) for glass in view.preset_glasses)
    for seat in range(max(1, first), last + 1):
        for item in view.context.flight:
            spare[str(seat), item.glass] -= 1  # what is planned twice stands there twice
            if item in wanted and spare[str(seat), item.glass] < 0:
                yield {
                    "ledger": "pours",
                    "key": key_within(key, seat * 1000 + item.pos),
                    "tour": view.tour.id,
                    "seat": str(seat),
                    "product": item.glass,
                    "volume_ul": item.volume_ul,
                }


MOST_GLASSES = 500  # that one entry clears: a full table of a long flight


def _parse_preset(row: RawEntry, origin: EntryOrigin) -> PresetEntry:
    glass, seat = parse_glass(row), read_code(row, "seat", 20)
    if not CODE.fullmatch(seat):
        raise Malformed(part="seat")
    return PresetEntry(origin, read_whole(row, "tour"), seat, *glass)


def _parse_seating(row: RawEntry, origin: EntryOrigin) -> PresetGlassesEntry:
    kind, sent = read_code(row, "kind", 12), row.get("pours")
    guest = read_whole(row, "guest") if row.get("guest") is not None else None
    glasses = sent if isinstance(sent, list) else []
    keys = {key: None for key in glasses if isinstance(key, str) and KEY.fullmatch(key)}
    if not 0 < len(glasses) <= MOST_GLASSES or len(keys) != len(glasses):
        raise Malformed(part="pours")
    tour_id = read_whole(row, "tour") if row.get("tour") is not None else None
    return PresetGlassesEntry(origin, kind, tuple(keys), guest, read_flag(row, "asked"), tour_id)


PRESETS = EntryKind("pours", SERVERS, asks_if_asked, _parse_preset, record_preset_glass, part="seat")
SEATINGS = EntryKind("pour_marks", SERVERS, asks_if_asked, _parse_seating, seat_or_clear, part="pours")
