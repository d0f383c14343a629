"""The plan of a flight for a group: the tour it is for, how it fits the rules, and the bottles it needs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import Row, exists, func, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Offer, Plan, Room, Sample, ServicePolicy, Sitting, plan
from kiosk.figures.service.plan import WELCOME
from kiosk.site.settings import Site, WelcomeDrink
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tasting import approvals, pours
from kiosk.store.tables.tours import bookings, flights, guests, tours
from kiosk.tasting.approvals.approvals import Approved, UnknownProduct, allergens_in, approved, offer
from kiosk.tasting.bottles.shelf import shelf
from kiosk.tasting.bottles.stock import sealed
from kiosk.tasting.flights.planning import Item, flight_list, items, items_of_flights
from kiosk.tasting.rules.policy import in_force, policy_of_day

BOTTLE_ML = 750
"""The assumed size of a bottle in a room without bottles of the product: common practice."""

TALK_MINUTES = 2.0
"""The time of talk about one sample: common practice."""

MOST_GUESTS, MOST_SERVERS = 500, 20


@dataclass(frozen=True, slots=True)
class TastingSetup:
    """The group for which a flight is planned: guests, room, servers, and its times if they are known.

    `tour_starts` is the start of the tour before the tasting, at which a welcome drink may be served.
    """

    guests: int
    room: str
    begins: datetime | None = None
    servers: int = 1
    preset: bool = False
    tour_starts: datetime | None = None


@dataclass(frozen=True, slots=True)
class PlannedGlass:
    """A planned glass; `offer` is None for a product or recipe that the site does not know (any more)."""

    item: Item
    offer: Offer | None
    allergens: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BottlesNeeded:
    """A product's bottles for the group: needed in all, open, to open, and sealed in the room."""

    product: str
    needed: int
    open_ul: int
    to_open: int
    sealed: int

    @property
    def short(self) -> bool:
        """Whether fewer bottles are sealed in the room than must be opened."""
        return self.to_open > self.sealed


@dataclass(frozen=True, slots=True)
class FlightPlan:
    """A flight planned for a group; `plan` is None if a glass is not known or there are no samples."""

    flight: Any  # id, revision, name, names, archived
    glasses: tuple[PlannedGlass, ...]  # the welcome drink first, where there is one
    plan: Plan | None
    bottles: tuple[BottlesNeeded, ...]
    rules: ServicePolicy  # with the tighter limits of the day
    in_force: bool
    setup: TastingSetup

    @property
    def poured_ul(self) -> int:
        """The volume with alcohol that each guest is poured, the welcome drink counted, in µL."""
        return sum(one.item.volume_ul for one in self.glasses if one.offer and not one.offer.free)

    @property
    def tasting_glasses(self) -> int:
        """The number of glasses for the samples of all guests."""
        return self.setup.guests * len(self.samples)

    @property
    def welcome_glasses(self) -> int:
        """The number of glasses for the welcome drink of all guests."""
        return self.setup.guests if self.welcome else 0

    @property
    def welcome(self) -> PlannedGlass | None:
        """The welcome drink, or None."""
        return next((glass for glass in self.glasses if glass.item.pos == WELCOME), None)

    @property
    def samples(self) -> tuple[PlannedGlass, ...]:
        """The samples without the welcome drink."""
        return tuple(glass for glass in self.glasses if glass.item.pos != WELCOME)


def flight_row(session: Session, flight_id: int) -> Any:
    """Return a flight's id, revision, names and whether it is archived. Raises NoSuchRow."""
    f = flights.c
    query = select(f.id, f.revision, f.name, f.names, f.archived).where(f.id == flight_id)
    row = session.execute(query).one_or_none()
    if row is None:
        raise NoSuchRow(flights.name, flight_id)
    return row


def plan_of_flight(
    session: Session, site: Site, flight_id: int, setup: TastingSetup, now: datetime
) -> FlightPlan:
    """Return a flight planned for a group: glasses, fit to the rules, bottles. Raises NoSuchRow."""
    row = flight_row(session, flight_id)
    at_hand = approved(session, site, setup.room, now)
    glasses = tuple(_planned(site, at_hand, item) for item in items(session, site, flight_id))
    here = _RoomStock(session, site, setup.room, now)
    rules = policy_of_day(session, site, setup.room, site.service_day(setup.begins or now))
    fit = _fit(site, rules, glasses, setup, here)
    bottles = tuple(here.bottles(product, fit) for product in fit.bottles) if fit else ()
    return FlightPlan(row, glasses, fit, bottles, rules, in_force(session, site) is not None, setup)


def plans_of_flights(session: Session, site: Site, setup: TastingSetup, now: datetime) -> list[FlightPlan]:
    """Return every flight planned for a group, without its bottles, in the same queries however many."""
    at_hand, by_flight = approved(session, site, setup.room, now), items_of_flights(session, site)
    here, valid = _RoomStock(session, site, setup.room, now), in_force(session, site) is not None
    rules = policy_of_day(session, site, setup.room, site.service_day(setup.begins or now))
    plans = []
    for row in flight_list(session):
        glasses = tuple(_planned(site, at_hand, item) for item in by_flight[row.id])
        fit = _fit(site, rules, glasses, setup, here)
        plans.append(FlightPlan(row, glasses, fit, (), rules, valid, setup))
    return plans


def _fit(
    site: Site,
    rules: ServicePolicy,
    glasses: Sequence[PlannedGlass],
    setup: TastingSetup,
    here: _RoomStock,
) -> Plan | None:
    """Return how a flight fits the rules, or None if a glass is not known or there are no samples."""
    samples = {glass.item.pos: here.sample(glass) for glass in glasses if glass.offer}
    welcome = samples.pop(WELCOME, None)
    if not samples or not all(glass.offer for glass in glasses):
        return None
    return plan(
        list(samples.values()),
        rules,
        drink=site.standard_drink,
        measures_ul=[measure.volume_ul for measure in site.measures],
        welcome=welcome,
        sitting=_sitting(site, setup),
        guests=setup.guests,
        open_ul=here.open_ul,
    )


def _sitting(site: Site, setup: TastingSetup) -> Sitting | None:
    if setup.begins is None:
        return None
    bounds = site.day_bounds(site.service_day(setup.begins))
    on_arrival = site.welcome_drink is not WelcomeDrink.AFTER
    return Sitting(
        Room(setup.room, *bounds, site.zone),
        setup.begins,
        servers=setup.servers,
        talk_minutes=TALK_MINUTES,
        preset=setup.preset,
        tour_started_at=setup.tour_starts or setup.begins,
        tour_ended_at=setup.begins,
        welcome_at=setup.tour_starts if on_arrival else None,
    )


def _planned(site: Site, at_hand: Mapping[str, Approved], item: Item) -> PlannedGlass:
    try:
        proposed = offer(site, at_hand, item.glass, item.volume_ul)
    except UnknownProduct:
        return PlannedGlass(item, None, ())
    return PlannedGlass(item, proposed, allergens_in(site, item.glass))


class _RoomStock:
    """The open and sealed bottles of a room, by product."""

    def __init__(self, session: Session, site: Site, room: str, now: datetime) -> None:
        self.site = site
        self.open_ul: Counter[str] = Counter()
        self.sealed: Counter[str] = Counter()
        self.size_ml: dict[str, int] = {}
        products = dict(session.execute(select(approvals.c.id, approvals.c.product)).all())
        for (approval_id, size_ml), stock in sealed(session, room, now).items():
            self.sealed[products[approval_id]] += stock.bottles
            self.size_ml[products[approval_id]] = size_ml
        for bottle in shelf(session, site, room):
            self.open_ul[bottle.product] += bottle.account().level_ul
            self.size_ml[bottle.product] = bottle.size_ml

    def sample(self, one: PlannedGlass) -> Sample:
        """Return a glass as the figures take it."""
        assert one.offer is not None  # the caller leaves out glasses that are not known
        product = self.site.products.get(one.item.product)
        return Sample(
            one.offer,
            product.sugar_g_per_l if product else None,
            self.size_ml.get(one.item.product, BOTTLE_ML) * 1000,
            fixed=one.item.recipe is not None,
        )

    def bottles(self, product: str, fit: Plan) -> BottlesNeeded:
        """Return a product's bottles for the group."""
        need, to_open = fit.bottles[product], fit.to_open[product]
        return BottlesNeeded(product, need, self.open_ul[product], to_open, self.sealed[product])


def upcoming_tours(session: Session, site: Site, now: datetime) -> Sequence[Row[Any]]:
    """Return the tours from today's service day on that are not cancelled, in order of their start.

    Each is its row with the number of people `booked`, and whether anything was `poured` for it already.
    """
    t = tours.c
    coming = (bookings.c.tour_id == t.id, bookings.c.cancelled_at.is_(None))
    people = select(func.coalesce(func.sum(bookings.c.size), 0)).where(*coming).correlate(tours)
    poured = exists().where(pours.c.tour_id == t.id).correlate(tours)
    today, _ = site.day_bounds(site.service_day(now))
    query = select(tours, people.label("booked"), poured.label("poured"))
    query = query.where(t.starts_at >= today, t.cancelled_at.is_(None))
    return session.execute(query.order_by(t.starts_at, t.letter)).all()


def tasting_setup(
    site: Site,
    tour: Row[Any] | None,
    room: str,
    *,
    guests: int | None = None,
    begins: time | None = None,
    servers: int | None = None,
    preset: bool = False,
    now: datetime,
) -> TastingSetup:
    """Return the group for which a flight is planned: a tour's guests, room and times unless given here.

    A tour's tasting begins when the route, as planned, reaches its last stop. Numbers out of range are
    replaced by the nearest one allowed.
    """
    starts = tour.starts_at if tour else None
    usual = (tour.booked if tour else 0) or (site.route[-1].holds if site.route else 1)
    at = _tasting_begins(site, starts) if starts else None
    if begins is not None:
        at = datetime.combine(site.service_day(starts or now), begins, site.zone)
    return TastingSetup(
        guests=min(max(guests or usual, 1), MOST_GUESTS),
        room=tour.room if tour else room,
        begins=at,
        servers=min(max(servers or 1, 1), MOST_SERVERS),
        preset=preset,
        tour_starts=starts,
    )


def _tasting_begins(site: Site, starts_at: datetime) -> datetime:
    minutes = sum(stop.minutes + stop.walk_minutes for stop in site.route[:-1])
    last = site.route[-1].walk_minutes if site.route else 0
    return starts_at + timedelta(minutes=minutes + last)


def allergens_named(session: Session, tour_id: int) -> list[tuple[int, list[str]]]:
    """Return the allergens that each guest of a tour named, by guest number."""
    g = guests.c
    query = select(g.number, g.allergens).where(g.tour_id == tour_id, g.allergens.is_not(None))
    return [(number, list(codes)) for number, codes in session.execute(query.order_by(g.number))]
