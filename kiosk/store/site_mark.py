"""The mark that binds a database to the one site that it belongs to."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from kiosk.store.errors import OtherSite
from kiosk.store.tables.shared import site_mark


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
