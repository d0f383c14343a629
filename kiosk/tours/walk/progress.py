"""Where the groups of a day are: their steps and plans read from the records, in one query for all."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.tours import progress as figures
from kiosk.figures.tours.progress import Progress, Step
from kiosk.figures.tours.routes import Stop
from kiosk.site.settings import Site
from kiosk.store.tables.tours import steps
from kiosk.tours.route import planned_route


def progress(session: Session, site: Site, tours: Sequence[Any], now: datetime) -> dict[int, Progress]:
    """Return how far each tour is, by its id, in one query; `tours` are rows like those of `day_tours`.

    A canceled tour is left out.
    """
    planned = [tour for tour in tours if tour.cancelled_at is None]
    taken = steps_of(session, [tour.id for tour in planned])
    house = house_route(site)
    return {
        tour.id: figures.progress(
            house, planned_route(house, tour.plan), tour.starts_at, taken.get(tour.id, ()), now, people(tour)
        )
        for tour in planned
    }


def people(tour: Any) -> int:
    """Return how many people a tour has: those checked in, before that those booked."""
    return int(tour.guests or tour.booked)


def house_route(site: Site) -> tuple[Stop, ...]:
    """Return the house's route with the times of its stops."""
    return tuple(
        Stop(stop.slug, stop.minutes, walk_minutes=stop.walk_minutes, holds=stop.holds) for stop in site.route
    )


def tour_route(site: Site, tour: Any) -> tuple[Stop, ...]:
    """Return a tour's own route: the house's, or as its plan has shortened it."""
    return planned_route(house_route(site), tour.plan)


def plan_of(route: Sequence[Stop]) -> dict[str, object]:
    """Return a route as the plan of a tour keeps it."""
    return {"stops": [{"slug": stop.slug, "minutes": stop.minutes} for stop in route]}


def steps_of(session: Session, tour_ids: Collection[int]) -> Mapping[int, list[Step]]:
    """Return the steps of some tours in the order of their times, by the tour's id."""
    s = steps.c
    by_tour: dict[int, list[Step]] = defaultdict(list)
    taken = select(s.tour_id, s.kind, s.at, s.stop, s.count).where(s.tour_id.in_(tour_ids))
    for tour_id, *step in session.execute(taken.order_by(s.at, s.recorded_at, s.key)):
        by_tour[tour_id].append(Step(*step))
    return by_tour
