"""Stops that are closed for a while: closing one, opening it again, and those that are closed now."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import EntryError, Malformed
from kiosk.figures.figure import CachedQuery, FigureReader
from kiosk.figures.tours.closures import REASONS, Closure, standing
from kiosk.site.settings import Site
from kiosk.store import ledgers, rows
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import stop_closures
from kiosk.words.catalogs import N_

SUBJECT = "closures"
"""The name under which figures and pages learn that a stop was closed or opened again."""


class ClosedUntilMissing(EntryError):
    """A closure for spraying says until when the field is closed."""

    message = N_("Say until when: the end of the spraying and the interval on the label, in the future.")


class UntilPassed(EntryError):
    """A time until which a stop is closed cannot be read, or has passed."""

    message = N_("“{typed}” is no time to come. Enter day and time, in the future.")


class MayNotReopen(EntryError):
    """The person who would open a stop again has none of the roles that the reason asks for."""

    status = 403
    message = N_("This stop is opened again by a person of another role. Ask them.")


class OpenAlready(EntryError):
    """The closure was ended before, by a person or by its time."""

    status = 409
    message = N_("This stop is open again already.")


SPRAYING_HOURS = (4, 12, 24, 48)
"""The intervals that labels of sprays commonly give, in hours (from memory): the label decides."""
MINUTES = (30, 60, 120)


def minutes_offered(reason: str) -> Sequence[int]:
    """Return for how many minutes a stop can be closed by one press, for a reason."""
    if reason == "spraying":
        return [60 * hours for hours in SPRAYING_HOURS]
    return MINUTES if REASONS[reason].ends_by_time else ()


def close_stop(
    session: Session,
    site: Site,
    stop: str,
    reason: str,
    until: datetime | None,
    origin: EntryOrigin,
    now: datetime,
) -> None:
    """Close a stop of the route for a reason of REASONS, once for each key.

    A time that has passed, or one for a reason that no time ends, raises Malformed; spraying without a
    time raises ClosedUntilMissing.
    """
    if stop not in {one.slug for one in site.route}:
        raise Malformed(part="stop")
    if reason not in REASONS:
        raise Malformed(part="reason")
    if reason == "spraying" and (until is None or until <= now):
        raise ClosedUntilMissing()
    if until is not None and (until <= now or not REASONS[reason].ends_by_time):
        raise Malformed(part="until")
    values = {"stop": stop, "reason": reason, "until": until, "closure_key": None}
    ledgers.append(session, stop_closures, {**origin.values(now, now), **values}, ignoring=_IGNORED)
    rows.touch(session, SUBJECT)


_IGNORED = frozenset({"at", "device_id", "until"})
"""What a form that is sent twice may say otherwise: "for an hour" is counted from each time."""


def reopen_stop(session: Session, closure_key: str, origin: EntryOrigin, now: datetime) -> None:
    """Open a stop again that a closure closed. Raises MayNotReopen, and OpenAlready for one that ended."""
    closure = next((one for one in _closures(session, now) if one.key == closure_key), None)
    if closure is None:
        raise OpenAlready()
    if not closure.may_reopen(origin.roles):
        raise MayNotReopen()
    values = {"stop": closure.stop, "reason": closure.reason, "until": None, "closure_key": closure_key}
    ledgers.append(session, stop_closures, {**origin.values(now, now), **values}, ignoring=_IGNORED)
    rows.touch(session, SUBJECT)


def closed_stops(session: Session, now: datetime) -> dict[str, Closure]:
    """Return the closure that holds now at each closed stop, by the stop's slug, in one query."""
    return standing(_closures(session, now), now)


def _closures(session: Session, now: datetime) -> list[Closure]:
    c, ended = stop_closures.c, aliased(stop_closures)
    reopened = select(ended.c.key).where(ended.c.closure_key == c.key).correlate(stop_closures)
    holding = (
        select(c.key, c.stop, c.reason, c.at, c.until, staff.c.name)
        .outerjoin_from(stop_closures, staff, staff.c.id == c.by)
        .where(c.closure_key.is_(None), ~reopened.exists())
        .where(c.until.is_(None) | (c.until > now))
    )
    rows_in_order = session.execute(holding.order_by(c.at, c.key))
    return [Closure(*row[:5], row.name or "") for row in rows_in_order if row.reason in REASONS]


_CLOSED: CachedQuery[Collection[Closure]] = CachedQuery(
    frozenset({SUBJECT}), 60, lambda session, _site, now: _closures(session, now)
)


def closed_for_guests(figures: FigureReader) -> Mapping[str, Closure]:
    """Return the closure that holds now at each closed stop, from the cache of the figures."""
    closures = figures.cached(_CLOSED)
    return standing(closures, figures.now)
