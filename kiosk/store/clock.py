"""Whether the computer's clock can be believed: it is never behind what was recorded already.

A small computer without a battery may wake in the past after a power cut. Windows of
time, the service day and the end of names' time would all go wrong in silence.

The mark that binds a database to the one site that it belongs to.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo

from sqlalchemy import func, insert, select, union_all
from sqlalchemy.orm import Session

from kiosk.store import audit
from kiosk.store.errors import N_, OtherSite, StoreError
from kiosk.store.tables import metadata
from kiosk.store.tables.shared import history, site_mark

ACT = "clock"
"""Under this name the history keeps that somebody said that the clock is right."""
TOLERANCE = timedelta(minutes=2)


class ClockDoubted(StoreError):
    """The clock says `now`, earlier than `newest`, when something was recorded already."""

    message = N_(
        "The computer's clock says {now}, but something was recorded at {newest}. Set date and time; "
        "if they are right, start with --clock-is-right."
    )


def demand_believable(session: Session, now: datetime, zone: tzinfo) -> None:
    """Raise ClockDoubted, with both times on the clock of `zone`, unless somebody said that it is right."""
    newest = _newest(session)
    if newest is None or newest <= now + TOLERANCE:
        return
    said = _confirmed(session)
    if said is None or newest > said:
        shown = {
            name: f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for name, at in (("now", now), ("newest", newest))
        }
        raise ClockDoubted(**shown)


def confirm(session: Session, now: datetime) -> None:
    """Write down that somebody looked at the clock and that it is right."""
    newest = _newest(session) or now
    audit.note(session, ACT, {"newest": newest.astimezone(UTC).isoformat()}, by=None, at=now)


def _newest(session: Session) -> datetime | None:
    ledgers = [table for table in metadata.tables.values() if "recorded_at" in table.c and "key" in table.c]
    each = union_all(*(select(func.max(table.c.recorded_at).label("at")) for table in ledgers)).subquery()
    newest: datetime | None = session.scalar(select(func.max(each.c.at)))
    return newest


def _confirmed(session: Session) -> datetime | None:
    h = history.c
    last = select(h.before).where(h.table_name == ACT).order_by(h.revision.desc()).limit(1)
    said = session.scalar(last)
    return None if said is None else datetime.fromisoformat(said["newest"])


def marked_site(session: Session) -> str | None:
    """Return the key of the site that this database belongs to, None while it is nobody's."""
    return session.execute(select(site_mark.c.site_key)).scalar_one_or_none()


def mark_site(session: Session, site_key: str, *, at: datetime) -> None:
    """Bind the database to a site, once; OtherSite when it belongs to another one."""
    found = marked_site(session)
    if found is None:
        session.execute(insert(site_mark).values(site_key=site_key, made_at=at))
    elif found != site_key:
        raise OtherSite(found)
