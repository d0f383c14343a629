"""The steps of a group as entries: its start, each stop, head counts, a closed stop left, its finish.

A page's form and a tablet's queue send the same entry, under a key: sent again, it is recorded once.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.entries.entries import SERVERS, Answer, EntryKind, EntryOrigin, RawEntry, read_code, read_whole
from kiosk.entries.errors import EntryError, Malformed
from kiosk.figures.drinks import STARTS_AND_FINISHES
from kiosk.figures.tours.progress import STEP_KINDS, Position, position
from kiosk.site.settings import Site
from kiosk.store import ledgers, rows
from kiosk.store.tables.tours import steps, tours
from kiosk.tours.planning.tours import lock_planned_tour
from kiosk.tours.walk.progress import steps_of
from kiosk.words.catalogs import N_

SUBJECT = "steps"
"""The name under which figures learn that a group has taken a step."""
MOST_COUNTED = 200
"""The most heads of one count: a slip of the keyboard is told."""


class NotToday(EntryError):
    """A tour starts, walks and finishes on its own service day only."""

    status = 409
    message = N_("This tour is planned for {day}: it starts on that day only.")


class NotStarted(EntryError):
    """A tour that has not started cannot go on or finish."""

    status = 409
    message = N_("This tour has not started yet.")


class Finished(EntryError):
    """A tour that has finished takes no further step."""

    status = 409
    message = N_("This tour has finished already.")


class WentOnAlready(EntryError):
    """The page was that of another stop: a second press, or another guide was quicker."""

    status = 409
    message = N_("The group went on from that stop already. This page shows where it is now.")


@dataclass(frozen=True, slots=True)
class StepEntry:
    """A step as it was sent: its kind, the stop that it names, and the heads counted.

    With a `place` the group has to be at that stop.
    """

    origin: EntryOrigin
    tour_id: int
    kind: str
    stop: str | None = None
    count: int | None = None
    place: str | None = None


def record_step(session: Session, site: Site, sent: StepEntry, now: datetime) -> Answer:
    """Record a step. The session is a write transaction that has not read yet.

    A start or finish that stands already, and a step to the present stop, change nothing. Raises
    Malformed, NoSuchRow, TourCanceled, NotToday, NotStarted, Finished, WentOnAlready, and KeyConflict.
    """
    _check(site, sent)
    at = sent.origin.at(now)
    tour = lock_planned_tour(session, sent.tour_id)
    if (day := site.service_day(tour.starts_at)) != site.service_day(at):
        raise NotToday(day=day)
    answer = Answer(sent.origin.key, "marked", at=at)
    values = {"tour_id": sent.tour_id, "kind": sent.kind, "stop": sent.stop, "count": sent.count}
    first = site.route[0].slug if site.route else ""
    taken = steps_of(session, [sent.tour_id]).get(sent.tour_id, [])
    if not _is_recorded(session, sent.origin.key) and not _changes(position(taken, first), sent):
        return answer
    ledgers.append(session, steps, {**sent.origin.values(at, now), **values}, ignoring=_IGNORED)
    rows.touch(session, SUBJECT)
    return answer


_IGNORED = frozenset({"at", "device_id"})


def _check(site: Site, sent: StepEntry) -> None:
    if sent.kind not in STEP_KINDS:
        raise Malformed(part="kind")
    if sent.stop not in {None, *(stop.slug for stop in site.route)}:
        raise Malformed(part="stop")
    if sent.kind in ("next", "out") and sent.stop is None:
        raise Malformed(part="stop")
    if (sent.kind == "count" and sent.count is None) or not 0 <= (sent.count or 0) <= MOST_COUNTED:
        raise Malformed(part="count")


def _is_recorded(session: Session, key: str) -> bool:
    return session.execute(steps.select().where(steps.c.key == key)).first() is not None


def _changes(here: Position, sent: StepEntry) -> bool:
    """Return whether a step changes where a group is. Raises NotStarted, Finished and WentOnAlready."""
    if sent.kind == "start":
        return here.started_at is None
    if sent.kind == "unfinish":
        return here.finished_at is not None
    if sent.kind == "finish" and here.finished_at:
        return False
    if sent.kind == "unstart" and here.started_at is None:
        return False
    if sent.kind == "unstart" and len(here.way) > 1:
        raise WentOnAlready()
    if here.started_at is None:
        raise NotStarted()
    if here.finished_at:
        raise Finished()
    if sent.place is not None and sent.place != here.stop:
        raise WentOnAlready()
    return sent.kind != "next" or sent.stop != here.stop


def take_over(session: Session, tour_id: int, *, by: int, at: datetime) -> None:
    """Make a person the guide of a tour; its counts and steps stay. Raises NoSuchRow and TourCanceled."""
    row = lock_planned_tour(session, tour_id)
    if row.guide_id != by:
        rows.change(session, tours, tour_id, row.revision, {"guide_id": by}, by=by, at=at, why="took over")


def _parse(row: RawEntry, origin: EntryOrigin) -> StepEntry:
    stop = read_code(row, "stop", 40) if row.get("stop") is not None else None
    count = read_whole(row, "count", MOST_COUNTED) if row.get("count") is not None else None
    return StepEntry(origin, read_whole(row, "tour"), read_code(row, "kind", 8), stop, count)


def _asks(entry: StepEntry) -> Collection[str]:
    # Limits that hold with a tour or after it open by its start and its finish.
    return SERVERS if entry.kind in STARTS_AND_FINISHES else ()


STEPS = EntryKind("steps", SERVERS, _asks, _parse, record_step)
