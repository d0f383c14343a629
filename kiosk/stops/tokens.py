"""The address of a guest's own page: made from the site's secret, kept nowhere.

The same guest and link number give the same token, so a card can be printed
again; a new link number ends the old address.
"""

from __future__ import annotations

import base64
import hmac
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables.tours import guests

TOKEN_BYTES = 16


def guest_token(secret: bytes, guest_id: int, link_no: int) -> str:
    """Return 128 bits of HMAC-SHA256 in base32: 26 capital letters and digits."""
    digest = hmac.digest(secret, f"guest:{guest_id}:{link_no}".encode(), "sha256")
    return base64.b32encode(digest[:TOKEN_BYTES]).decode("ascii").rstrip("=")


def find_guest(session: Session, site: Site, token: str, now: datetime) -> int | None:
    """Return the guest whose page a token opens; None for a wrong, revoked, purged or old one.

    Nothing about a token is stored, so those of all guests within the site's
    retention are made again and compared; every wrong token costs the same.
    """
    oldest = site.service_day(now) - timedelta(days=site.retention_days)
    alive = select(guests.c.id, guests.c.link_no).where(guests.c.day >= oldest, guests.c.purged_at.is_(None))
    asked = token.encode("utf-8", "replace")
    found = None
    for guest_id, link_no in session.execute(alive):
        if hmac.compare_digest(asked, guest_token(site.secret, guest_id, link_no).encode()):
            found = guest_id
    return found
