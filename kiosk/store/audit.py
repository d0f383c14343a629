"""What a database keeps about itself: acts that change no row, its site, and a check of the clock.

Acts such as the daily run or an exported report stand in the history beside the rows.

The clock is plausible when it is not behind what was recorded already. A small computer
without a battery may wake in the past after a power cut; time windows, the service day
and the end of retention would then all go wrong in silence.
"""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from sqlalchemy import func, insert, select, union_all
from sqlalchemy.orm import Session

from kiosk.store.errors import N_, OtherSite, StoreError
from kiosk.store.tables import metadata
from kiosk.store.tables.shared import history, site_mark

DAILY = "daily"
"""The act of a daily run whose steps all succeeded."""

_ROW = 0
"""No row has this id, so that an act is never taken for a former revision."""


def record_act(
    session: Session,
    act: str,
    what: Mapping[str, Any],
    *,
    by: int | None,
    at: datetime,
    about: tuple[str, int] | None = None,
) -> None:
    """Record an act in the history, with its counts and settings in `what`; nothing personal goes there.

    `about` is the table and id that it concerns, where it does not concern the whole site.
    """
    h, (table, row_id) = history.c, about or (act, _ROW)
    before = select(func.max(h.revision)).where(h.table_name == table, h.row_id == row_id)
    values = {"table_name": table, "row_id": row_id, "revision": (session.scalar(before) or 0) + 1}
    session.execute(insert(history).values(**values, act=act, before=dict(what), at=at, by=by))


def last_recorded(session: Session, act: str) -> datetime | None:
    """Return when an act was last recorded, or None."""
    h = history.c
    newest = select(h.at).where(h.table_name == act, h.row_id == _ROW).order_by(h.revision.desc()).limit(1)
    return session.scalar(newest)


def unattended(session: Session, now: datetime) -> timedelta | None:
    """Return the time since the last complete daily run, or since the database was bound to its site.

    None for a database that belongs to no site yet.
    """
    since = last_recorded(session, DAILY) or session.scalar(select(site_mark.c.made_at))
    return None if since is None else now - since


CLOCK_CONFIRMED = "clock"
"""The act of a person who confirmed that the clock is right."""
TOLERANCE = timedelta(minutes=2)


class ClockDoubted(StoreError):
    """Raised when the clock, at `now`, is behind the newest record, at `newest`."""

    message = N_(
        "The computer's clock says {now}, but something was recorded at {newest}. Set date and time; "
        "if they are right, start with --clock-is-right."
    )


def require_plausible_clock(session: Session, now: datetime, zone: tzinfo) -> None:
    """Raise ClockDoubted, with both times in `zone`, unless a person has confirmed the clock since."""
    newest = _newest(session)
    if newest is None or newest <= now + TOLERANCE:
        return
    confirmed = _confirmed(session)
    if confirmed is None or newest > confirmed:
        times = {"now": now, "newest": newest}
        raise ClockDoubted(**{name: f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for name, at in times.items()})


def confirm_clock(session: Session, now: datetime) -> None:
    """Record that a person has checked the clock and that it is right."""
    newest = _newest(session) or now
    record_act(session, CLOCK_CONFIRMED, {"newest": newest.astimezone(UTC).isoformat()}, by=None, at=now)


def _newest(session: Session) -> datetime | None:
    ledgers = [table for table in metadata.tables.values() if "recorded_at" in table.c and "key" in table.c]
    each = union_all(*(select(func.max(table.c.recorded_at).label("at")) for table in ledgers)).subquery()
    newest: datetime | None = session.scalar(select(func.max(each.c.at)))
    return newest


def _confirmed(session: Session) -> datetime | None:
    h = history.c
    last = select(h.before).where(h.table_name == CLOCK_CONFIRMED).order_by(h.revision.desc()).limit(1)
    confirmed = session.scalar(last)
    return None if confirmed is None else datetime.fromisoformat(confirmed["newest"])


def marked_site(session: Session) -> str | None:
    """Return the key of the site that this database belongs to, or None."""
    return session.execute(select(site_mark.c.site_key)).scalar_one_or_none()


def mark_site(session: Session, site_key: str, *, at: datetime) -> None:
    """Bind the database to a site. Raises OtherSite when it belongs to another one."""
    marked = marked_site(session)
    if marked is None:
        session.execute(insert(site_mark).values(site_key=site_key, made_at=at))
    elif marked != site_key:
        raise OtherSite(marked)
