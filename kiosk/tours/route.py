"""The route of a tour: the stops of the site with what their settings allow, and what is planned for it."""

from collections.abc import Mapping, Sequence
from typing import Any

from kiosk.figures.tours.progress import with_plan
from kiosk.figures.tours.routes import Stop
from kiosk.site.content.stops import Stop as StopSettings
from kiosk.site.settings import Site

TASTING = "tasting-room"
"""The stop at which the flight is poured."""


def site_route(site: Site, stops: Mapping[str, StopSettings]) -> tuple[Stop, ...]:
    """Return the stops of the site's route with their times and capacities, and how far each may be cut."""
    return tuple(
        Stop(
            one.slug,
            one.minutes,
            walk_minutes=one.walk_minutes,
            holds=one.holds,
            least_minutes=min(stops[one.slug].least_minutes, one.minutes) if one.slug in stops else None,
            may_be_dropped=one.slug in stops and stops[one.slug].may_be_dropped,
            after=stops[one.slug].after if one.slug in stops else (),
        )
        for one in site.route
    )


def planned_route(route: Sequence[Stop], plan: Mapping[str, Any] | None) -> tuple[Stop, ...]:
    """Return the route as the `plan` of a tour has shortened it; all of it where there is none."""
    stops = (plan or {}).get("stops")
    if stops is None:
        return tuple(route)
    return with_plan(route, [(stop["slug"], stop["minutes"]) for stop in stops])
