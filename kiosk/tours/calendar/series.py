"""Tours changed or canceled together: the rest of a pattern, or all of a day on which the house is closed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.figures.tours.timetable import Plan, Stop, clashes
from kiosk.site.settings import Site, instants_of
from kiosk.store import rows
from kiosk.store.tables.tours import tours
from kiosk.tours.calendar.days import save_day
from kiosk.tours.day import day_tours, one_tour, tours_between, tours_of_series
from kiosk.tours.planning.effects import NEW, shown_mark, walk_of, walks_of
from kiosk.tours.planning.tours import (
    MOST_PLACES,
    NO_PLACES,
    NO_START,
    TourDraft,
    TourFaults,
    free_letters,
    record_canceled,
    require_plannable,
    require_why,
    sign_off_guide,
    tour_values,
)


@dataclass(frozen=True, slots=True)
class RestEffects:
    """What a change of the rest of a pattern does: how many tours and booked people, and clashes by day."""

    tours: int
    booked: int
    clashes: tuple[tuple[date, str], ...]

    @property
    def warns(self) -> bool:
        """Whether there is something to consider: several tours are changed at once."""
        return True

    @property
    def mark(self) -> str:
        """A digest of what was shown."""
        return shown_mark((self.tours, self.booked, self.clashes))


def rest_of_series(session: Session, tour: Row[Any]) -> Sequence[Row[Any]]:
    """Return a tour and the later ones of its series that are neither canceled nor started, in order."""
    if tour.series is None:
        return [tour]
    of_series = tours_of_series(session, tour.series, tour.starts_at)
    return [one for one in of_series if one.cancelled_at is None and one.started_at is None]


def rest_effects(
    session: Session, site: Site, route: Sequence[Stop], tour: Row[Any], draft: TourDraft, now: datetime
) -> RestEffects:
    """Return what it does to change the rest of a pattern, in three queries. Raises TourFaults."""
    rest = rest_of_series(session, tour)
    starts = _new_starts(site, tour, rest, draft)
    own = {one.id for one in rest}
    since, until = min(starts.values()), max(starts.values())
    around = tours_between(
        session,
        site.day_bounds(site.service_day(since))[0],
        site.day_bounds(site.service_day(until))[1],
    )
    plans: dict[date, list[Plan]] = {}
    walks = walks_of(session, site, route, around, now)
    for other in around:
        if other.id not in own and other.id in walks:
            plans.setdefault(site.service_day(other.starts_at), []).append(walks[other.id].plan)
    met = []
    for one in rest:
        moved = _Moved(one, starts[one.id], draft.places or one.places)
        plan = replace(walk_of(moved, route).plan, group=f"{NEW}{one.letter}")
        others = plans.setdefault(site.service_day(moved.starts_at), [])
        groups = [clash.groups for clash in clashes([*others, plan]) if plan.group in clash.groups]
        met += (
            [(site.service_day(moved.starts_at), ", ".join(set(groups[0]) - {plan.group}))] if groups else []
        )
        others.append(plan)
    return RestEffects(len(rest), sum(one.booked for one in rest), tuple(met))


@dataclass(frozen=True, slots=True)
class _Moved:
    """A tour's row with another start and other places."""

    row: Row[Any]
    starts_at: datetime
    places: int

    def __getattr__(self, name: str) -> Any:
        return getattr(self.row, name)


def change_rest(
    session: Session, site: Site, tour_id: int, draft: TourDraft, *, by: int, at: datetime
) -> int:
    """Change a tour and the later ones of its series to a draft, and return how many they are.

    Only what differs from the first tour is changed in all of them; a new start moves each by as
    many days, hours and minutes of the clock on the wall. Raises TourFaults and NoSuchRow.
    """
    tour = one_tour(session, tour_id)
    rest = rest_of_series(session, tour)
    require_plannable(session, site, draft, at)
    starts = _new_starts(site, tour, rest, draft)
    new = {**tour_values(draft), "starts_at": tour.starts_at}
    shared = {name: value for name, value in new.items() if value != getattr(tour, name)}
    booked = max(one.booked for one in rest)
    if shared.get("places", booked) < booked:
        facts = {"typed": str(draft.places), "least": booked, "most": MOST_PLACES}
        raise TourFaults({"places": (NO_PLACES, facts)})
    sign_off_guide(session, site, draft, by=by, at=at)
    moving = {site.service_day(starts[one.id]) for one in rest if _moves(site, one, starts)}
    letters = free_letters(session, site, moving) if moving else {}
    for one in rest:
        own: dict[str, object] = {"starts_at": starts[one.id]}
        if _moves(site, one, starts):
            own["letter"] = next(letters[site.service_day(starts[one.id])])
        rows.change(session, tours, one.id, one.revision, {**shared, **own}, by=by, at=at, why="planned")
    return len(rest)


def close_or_open_day(
    session: Session,
    site: Site,
    day: date,
    revision: int,
    *,
    cancel_tours: bool,
    by: int,
    at: datetime,
    **given: Any,
) -> None:
    """Save a service day as `save_day` does; where it is closed, cancel its tours that have not started too.

    Raises DayFaults and Stale.
    """
    save_day(session, site, day, revision, by=by, at=at, **given)
    if given["closed_why"] and cancel_tours:
        for one in day_tours(session, site, day):
            if one.cancelled_at is None and one.started_at is None:
                record_canceled(session, one.id, one.revision, "closed", by=by, at=at)


def cancel_rest(session: Session, tour_id: int, why: str, *, by: int, at: datetime) -> int:
    """Cancel a tour and the later ones of its series for a reason, and return how many they are.

    Raises NoSuchRow and Malformed.
    """
    require_why(why)
    rest = rest_of_series(session, one_tour(session, tour_id))
    for one in rest:
        record_canceled(session, one.id, one.revision, why, by=by, at=at)
    return len(rest)


def _moves(site: Site, tour: Row[Any], starts: dict[int, datetime]) -> bool:
    return site.service_day(starts[tour.id]) != site.service_day(tour.starts_at)


def _new_starts(
    site: Site, first: Row[Any], rest: Sequence[Row[Any]], draft: TourDraft
) -> dict[int, datetime]:
    """Return the new start of every tour, by its id. Raises TourFaults where the clock never shows it."""
    typed = draft.typed.get("starts_at", "")
    fault = (NO_START, {"typed": typed, "example": f"{site.local(first.starts_at):%Y-%m-%dT%H:%M}"})
    if draft.starts_at is None:
        raise TourFaults({"starts_at": fault})
    shift = _wall(site, draft.starts_at) - _wall(site, first.starts_at)
    starts = {}
    for one in rest:
        instants = instants_of(_wall(site, one.starts_at) + shift, site.zone)
        if not instants:
            raise TourFaults({"starts_at": fault})
        starts[one.id] = instants[0]
    return starts


def _wall(site: Site, at: datetime) -> datetime:
    """Return day and time of an instant as the clock on the wall shows them."""
    return site.local(at).replace(tzinfo=None, fold=0)
