"""A tour's room: its guests by the ledgers, in a fixed number of queries; which bottles run low."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import BindParameter, ColumnElement, Row, Select, bindparam, func, null, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.entries.typed_in import typed_in
from kiosk.figures.drinks import (
    Room,
    Served,
    Server,
    ServiceState,
    born_on_or_before,
    counted,
    start_and_finish,
)
from kiosk.figures.service.bottles import Fate, by_pour
from kiosk.figures.service.doubles import RecordedGlass, possible_doubles
from kiosk.site.settings import Site
from kiosk.store.errors import NoSuchRow
from kiosk.store.rows import versions
from kiosk.store.tables.tasting import bottle_entries, day_restrictions, policies, pour_marks, pours, refusals
from kiosk.store.tables.tours import bookings, guests, marks, steps, tours
from kiosk.tasting.approvals.approvals import approved
from kiosk.tasting.bottles.shelf import open_products, pour_of, read_pours, shelf, still_open
from kiosk.tasting.flights.planning import items
from kiosk.tasting.room.corrections import UNDO
from kiosk.tasting.room.tiles import (
    GuestRecords,
    RoomContext,
    Sample,
    Tile,
    offers,
    other_samples,
    samples_left,
    tile,
)
from kiosk.tasting.rules.judging import starts_and_finishes
from kiosk.tasting.rules.policy import in_force, policy_of_day
from kiosk.tasting.rules.pour_context import server_with_permits


@dataclass(frozen=True, slots=True)
class PresetGlass:
    """A pre-poured glass at a seat, of which no guest is served yet."""

    key: str
    seat: str
    glass: str  # a recipe's name, else the product's
    volume_ul: int


@dataclass(frozen=True, slots=True)
class RoomView:
    """The room of a tour: its guests' tiles in order of their numbers, and what may be poured.

    `tour` is its row; `records` are what each guest's tile was made of, by their id.
    """

    tour: Row[Any]
    tiles: tuple[Tile, ...]
    born_on_or_before: date
    preset_glasses: tuple[PresetGlass, ...]
    context: RoomContext
    records: Mapping[int, GuestRecords]
    poured_by: Mapping[str, int | None]  # by keys of pours

    def tile(self, guest_id: int) -> Tile:
        """Return one guest's tile. Raises NoSuchRow for a guest of another tour."""
        for one in self.tiles:
            if one.guest_id == guest_id:
                return one
        raise NoSuchRow(guests.name, guest_id)

    def others(self, guest_id: int) -> tuple[Sample, ...]:
        """Return what else the room may pour, decided for one guest."""
        return other_samples(self.context, self.records[guest_id])


def room(
    session: Session,
    site: Site,
    tour_id: int,
    now: datetime,
    by: int | None = None,
    device_id: int | None = None,
    *,
    other_days: bool = True,
) -> RoomView:
    """Return a tour's room, decided for the server `by` on a device where given.

    Names and needs are those of the tour's own day, or of `other_days` too. Raises NoSuchRow for an
    unknown tour.
    """
    tour = tour_of_room(session, tour_id)
    now = now.astimezone(UTC)  # sums on a local clock go wrong where the clock is changed
    day = site.service_day(now)
    at_hand = approved(session, site, tour.room, now)
    rules = policy_of_day(session, site, tour.room, day)
    glasses = _glasses(session, tour_id, by, device_id)
    served = glasses.served
    around = RoomContext(
        site,
        now,
        Room(tour.room, *site.day_bounds(day), site.zone),
        rules,
        server_with_permits(session, rules, by, day) if by is not None else Server(),
        items(session, site, tour.flight_id),
        at_hand,
        in_force(session, site) is not None,
        start_and_finish(starts_and_finishes(session, [tour_id])[tour_id]),
        offers(site, rules, at_hand, open_products(session, tour.room, now)),
        glasses.undo_until,
        typed_in(session, [one.key for each in served.values() for one in each if not one.checked]),
        glasses.doubles,
    )
    marked = marks_by_guest(session, select(guests.c.id).where(guests.c.tour_id == tour_id))
    names = other_days or site.service_day(tour.starts_at) == day
    people = session.execute(_people(tour_id, names))
    records = {row.id: GuestRecords(row, marked[row.id], served[row.id]) for row in people}
    tiles = tuple(tile(around, one) for one in records.values())
    born = born_on_or_before(day, site.policy.guest_age)
    return RoomView(tour, tiles, born, glasses.preset, around, records, glasses.by)


def tour_of_room(session: Session, tour_id: int) -> Row[Any]:
    """Return the row of a tour. Raises NoSuchRow for an unknown one."""
    tour = session.execute(select(tours).where(tours.c.id == tour_id)).one_or_none()
    if tour is None:
        raise NoSuchRow(tours.name, tour_id)
    return tour


def _people(tour_id: int, names: bool) -> Select[Any]:
    b = bookings.c
    own = [one if names or not one.info.get("personal") else null().label(one.name) for one in guests.c]
    needs = {"lead_name": b.lead_name, "notes": b.notes}
    needs |= {"booked_access": b.access_needs, "booked_allergens": b.allergens}
    needs |= {"allergy_notes": b.allergy_notes}
    known = ((one if names else null()).label(name) for name, one in needs.items())
    people = select(*own, b.ticket, *known).join_from(guests, bookings, guests.c.booking_id == b.id)
    return people.where(guests.c.tour_id == tour_id).order_by(guests.c.number)


@dataclass(frozen=True, slots=True)
class BookingNeeds:
    """What a booking, or one guest of it, asked for: what those who serve its guests must know."""

    numbers: tuple[int, ...]
    name: str
    allergens: tuple[str, ...]
    allergy_notes: str
    access_needs: str
    notes: str


def booking_needs(view: RoomView) -> list[BookingNeeds]:
    """Return the bookings of a room that asked for something, with the numbers of their guests."""
    people: dict[int, list[Any]] = defaultdict(list)
    for one in view.records.values():
        people[one.row.booking_id].append(one.row)
    needs = []
    for party in people.values():
        own = [f"{row.number}: {row.access_needs}" for row in party if row.access_needs]
        access = "; ".join(filter(None, [party[0].booked_access, *own]))
        allergies = (tuple(party[0].booked_allergens or ()), party[0].allergy_notes or "")
        asked = (*allergies, access, party[0].notes or "")
        if any(asked):
            needs.append(BookingNeeds(tuple(row.number for row in party), party[0].lead_name or "", *asked))
    return needs


@dataclass(frozen=True, slots=True)
class _Glasses:
    served: Mapping[int, list[Served]]
    preset: tuple[PresetGlass, ...]
    undo_until: Mapping[str, datetime]
    doubles: Mapping[str, str]
    by: Mapping[str, int | None]


def _glasses(session: Session, tour_id: int, by: int | None, device_id: int | None) -> _Glasses:
    """Fold all that was poured for the guests of a tour, moved to them, or set out for the group.

    With them the keys of the pours that `by` recorded on this device, and until when each can be undone,
    and what two tablets may have recorded both.
    """
    p = pours.c
    origin = (p.by, p.device_id, p.recorded_at, p.asked, p.believed_at)
    rows, corrections = read_pours(session, _poured_for(tour_id), p.seat, *origin)
    poured = [pour_of(row) for row in rows.values()]
    served: dict[int, list[Served]] = defaultdict(list)
    for one in counted(poured, corrections):
        served[one.guest_id].append(one)
    confirmed = {mark.pour_key for mark in corrections if mark.kind == "confirmed"}
    doubles = possible_doubles(
        RecordedGlass(
            one.key, one.guest_id, one.glass, row.device_id, row.recorded_at, row.asked, row.believed_at
        )
        for each in served.values()
        for one in each
        if one.key not in confirmed
        for row in [rows[one.key]]
    )
    standing = [pour for pour, became in by_pour(poured, corrections) if became is Fate.PRESET]
    standing.sort(key=lambda pour: (pour.at, pour.key))
    own = (row for row in rows.values() if row.server_checked and (row.by, row.device_id) == (by, device_id))
    seats = (
        PresetGlass(one.key, rows[one.key].seat, one.recipe or one.product, one.volume_ul) for one in standing
    )
    undo_until = {row.key: row.recorded_at + UNDO for row in own}
    return _Glasses(served, tuple(seats), undo_until, doubles, {row.key: row.by for row in rows.values()})


def _poured_for(tour_id: int | BindParameter[int]) -> ColumnElement[bool]:
    """Select the pours for the guests of a tour, moved to them, or set out at its table."""
    p, c = pours.c, pour_marks.c
    here = select(guests.c.id).where(guests.c.tour_id == tour_id)
    moved_here = select(c.pour_key).where(c.guest_id.in_(here))
    for_nobody = (p.tour_id == tour_id) & p.seat.is_not(None)
    return p.guest_id.in_(here) | p.key.in_(moved_here) | for_nobody


TO_SERVE = frozenset({ServiceState.MAY_BE_SERVED, ServiceState.NOT_CHECKED})


@dataclass(frozen=True, slots=True)
class Low:
    """A product of which the open bottles hold less than the flight still needs."""

    product: str
    level_ul: int
    needs_ul: int


def bottles_running_low(session: Session, site: Site, view: RoomView) -> list[Low]:
    """Return the products of which the open bottles hold less than a tour's flight still needs.

    The need is of what each guest who is there and may be served has neither had nor declined, less the
    pre-poured glasses that wait. Empty where the room has no bottles on record.
    """
    here = shelf(session, site, view.tour.room)
    if not here:
        return []
    level_ul: Counter[str] = Counter()
    for bottle in here:
        level_ul[bottle.product] += bottle.account().level_ul
    products = {item.glass: item.product for item in view.context.flight}
    needs: Counter[str] = Counter()
    for one in view.tiles:
        if not one.gone and one.state in TO_SERVE:
            for item in samples_left(view.context, view.records[one.guest_id]):
                needs[item.product] += item.volume_ul
    for glass in view.preset_glasses:
        needs[products.get(glass.glass, glass.glass)] -= glass.volume_ul
    return [Low(product, level_ul[product], ul) for product, ul in needs.items() if ul > level_ul[product]]


STEP_S = 15
"""So long a room that nobody writes to is taken to show the same: ages of pours, waits, opening hours."""
_SUBJECTS = ("tours", "guests", "flights", "approvals", "bottles", "staff")


def room_version(session: Session, site: Site, tour_id: int, now: datetime) -> tuple[object, ...]:
    """Return what differs after every write that changes what a tour's room shows, and after `STEP_S`.

    Rows are known by the counts of their subjects. Ledgers only grow: they are known by how many
    entries they have of the tour, of its guests, and of the bottles open in its room.
    """
    rows = versions(session)
    asked = {"tour_id": tour_id, "day": site.service_day(now)}
    ledgers = session.connection().execute(_LEDGERS, asked).one()
    step = int(now.timestamp()) // STEP_S
    return (*(rows.get(subject, 0) for subject in _SUBJECTS), *ledgers, step)


def _ledgers() -> Select[Any]:
    """One query of how many entries each ledger has that a room may show."""
    tour_id: BindParameter[int] = bindparam("tour_id")
    here = select(guests.c.id).where(guests.c.tour_id == tour_id)
    room = select(tours.c.room).where(tours.c.id == tour_id).scalar_subquery()
    open_here = still_open(room)
    poured = or_(_poured_for(tour_id), pours.c.tour_id == tour_id, pours.c.bottle_id.in_(open_here))
    entries = (
        select(marks.c.key).where(marks.c.guest_id.in_(here)),
        select(pours.c.key).where(poured),
        select(pour_marks.c.key).where(pour_marks.c.pour_key.in_(select(pours.c.key).where(poured))),
        select(refusals.c.key).where(refusals.c.guest_id.in_(here)),
        select(steps.c.key).where(steps.c.tour_id == tour_id),
        select(policies.c.key),
        select(day_restrictions.c.key).where(day_restrictions.c.day == bindparam("day")),
        open_here,
        select(bottle_entries.c.key).where(bottle_entries.c.bottle_id.in_(open_here)),
    )
    counts = (select(func.count()).select_from(one.subquery()).scalar_subquery() for one in entries)
    return select(*counts)


_LEDGERS = _ledgers()
