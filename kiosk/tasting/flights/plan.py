"""A flight looked at before the day: what `figures.plan` says of it, and what the room has for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Offer, Plan, Room, Sample, ServicePolicy, Sitting, plan
from kiosk.figures.service.plan import WELCOME
from kiosk.site.settings import Site, WelcomeDrink
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tasting import approvals
from kiosk.store.tables.tours import flights
from kiosk.tasting.allergens import in_glass
from kiosk.tasting.approvals.approvals import Approved, approved, offer
from kiosk.tasting.bottles.shelf import shelf
from kiosk.tasting.bottles.stock import sealed
from kiosk.tasting.errors import UnknownProduct
from kiosk.tasting.flights.planning import Item, items
from kiosk.tasting.rules.day_restrictions import policy_of_day
from kiosk.tasting.rules.policy import in_force

BOTTLE_ML = 750
"""What a bottle holds where the room has none to go by: common practice."""

TALK_MINUTES = 2.0
"""What is said about one sample: common practice."""


@dataclass(frozen=True, slots=True)
class Asked:
    """How a flight is looked at: for how many guests, where, from when if that is known, poured by how many.

    `tour_starts` is when the walk before it begins, at which a welcome drink may be served.
    """

    guests: int
    room: str
    begins: datetime | None = None
    servers: int = 1
    preset: bool = False
    tour_starts: datetime | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """One glass as it is planned; `offer` is None for what the site does not know (any more)."""

    item: Item
    offer: Offer | None
    allergens: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bottles:
    """A product's bottles for the group: all, what is open, what to open beside it, what stands sealed."""

    product: str
    needed: int
    open_ul: int
    to_open: int
    sealed: int


@dataclass(frozen=True, slots=True)
class FlightPlan:
    """A flight with all that is known of it; `plan` is None where a glass is not known, or there is none."""

    flight: Any  # id, revision, name, archived
    glasses: tuple[Planned, ...]  # the welcome drink first, where there is one
    plan: Plan | None
    bottles: tuple[Bottles, ...]
    rules: ServicePolicy  # with the words of a manager that tighten them for the day
    in_force: bool

    @property
    def welcome(self) -> Planned | None:
        """The welcome drink, if the flight has one."""
        return next((one for one in self.glasses if one.item.pos == WELCOME), None)

    @property
    def samples(self) -> tuple[Planned, ...]:
        """The samples without the welcome drink."""
        return tuple(one for one in self.glasses if one.item.pos != WELCOME)


def flight_row(session: Session, flight_id: int) -> Any:
    """Return id, revision, name and whether a flight is archived. Raises NoSuchRow."""
    f = flights.c
    found = session.execute(
        select(f.id, f.revision, f.name, f.archived).where(f.id == flight_id)
    ).one_or_none()
    if found is None:
        raise NoSuchRow(flights.name, flight_id)
    return found


def look(session: Session, site: Site, flight_id: int, asked: Asked, now: datetime) -> FlightPlan:
    """Return what is known of a flight before the day. Raises NoSuchRow."""
    row = flight_row(session, flight_id)
    at_hand = approved(session, site, asked.room, now)
    glasses = tuple(_planned(site, at_hand, one) for one in items(session, site, flight_id))
    here = _Here(session, site, asked.room, now)
    known = [here.sample(one) for one in glasses if one.item.pos != WELCOME and one.offer]
    whole = bool(known) and all(one.offer for one in glasses)
    welcome = next((here.sample(one) for one in glasses if one.item.pos == WELCOME and one.offer), None)
    rules = policy_of_day(session, site, asked.room, site.service_day(asked.begins or now))
    found = _plan(site, rules, known, welcome, asked, here.open_ul) if whole else None
    bottles = [here.bottles(product, found) for product in found.bottles] if found else []
    return FlightPlan(row, glasses, found, tuple(bottles), rules, in_force(session, site) is not None)


def _plan(
    site: Site,
    rules: ServicePolicy,
    samples: Sequence[Sample],
    welcome: Sample | None,
    asked: Asked,
    open_ul: Mapping[str, int],
) -> Plan:
    return plan(
        samples,
        rules,
        drink=site.standard_drink,
        measures_ul=[measure.volume_ul for measure in site.measures],
        welcome=welcome,
        sitting=_sitting(site, asked),
        guests=asked.guests,
        open_ul=open_ul,
    )


def _sitting(site: Site, asked: Asked) -> Sitting | None:
    if asked.begins is None:
        return None
    bounds = site.day_bounds(site.service_day(asked.begins))
    on_arrival = site.welcome_drink is not WelcomeDrink.AFTER
    return Sitting(
        Room(asked.room, *bounds, site.zone),
        asked.begins,
        servers=asked.servers,
        talk_minutes=TALK_MINUTES,
        preset=asked.preset,
        tour_started_at=asked.tour_starts or asked.begins,
        tour_ended_at=asked.begins,
        welcome_at=asked.tour_starts if on_arrival else None,
    )


def _planned(site: Site, at_hand: Mapping[str, Approved], item: Item) -> Planned:
    try:
        proposed = offer(site, at_hand, item.glass, item.volume_ul)
    except UnknownProduct:
        return Planned(item, None, ())
    return Planned(item, proposed, in_glass(site, item.glass))


class _Here:
    """What a room has open and sealed, by product."""

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

    def sample(self, one: Planned) -> Sample:
        """Return a glass as the figures plan it."""
        assert one.offer is not None  # the caller has left out what is not known
        product = self.site.products.get(one.item.product)
        return Sample(
            one.offer,
            product.sugar_g_per_l if product else None,
            self.size_ml.get(one.item.product, BOTTLE_ML) * 1000,
            fixed=one.item.recipe is not None,
        )

    def bottles(self, product: str, found: Plan) -> Bottles:
        """Return a product's bottles for the group."""
        return Bottles(
            product,
            found.bottles[product],
            self.open_ul[product],
            found.to_open[product],
            self.sealed[product],
        )
