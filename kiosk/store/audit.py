"""Acts that belong to no row and are kept in the history all the same: the daily run, a report taken out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from kiosk.store.tables.shared import history, site_mark

DAILY = "daily"
"""The act of a daily run that did everything."""

_ROW = 0
"""No row has this id, so that an act never stands among the former selves of one."""


def note(session: Session, act: str, what: Mapping[str, Any], *, by: int | None, at: datetime) -> None:
    """Write down an act with what it did; `what` holds nothing personal."""
    h = history.c
    before = select(func.max(h.revision)).where(h.table_name == act, h.row_id == _ROW)
    values = {"table_name": act, "row_id": _ROW, "revision": (session.scalar(before) or 0) + 1}
    session.execute(insert(history).values(**values, act=act, before=dict(what), at=at, by=by))


def last(session: Session, act: str) -> datetime | None:
    """Return when an act was last written down, or None."""
    h = history.c
    newest = select(h.at).where(h.table_name == act, h.row_id == _ROW).order_by(h.revision.desc()).limit(1)
    return session.scalar(newest)


def unattended(session: Session, now: datetime) -> timedelta | None:
    """Return how long no daily run was whole, from the site's beginning where none ever was.

    None for a database that belongs to no site yet.
    """
    since = last(session, DAILY) or session.scalar(select(site_mark.c.made_at))
    return None if since is None else now - since
