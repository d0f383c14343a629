"""The address of a guest's own page: made from the site's secret, kept nowhere.

The same guest and link number give the same token, so a card can be printed
again; a new link number ends the old address.
"""

from __future__ import annotations

import base64
import hmac
import re
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables.tours import guests

TOKEN_BYTES = 16


def guest_token(secret: bytes, guest_id: int, link_no: int) -> str:
    """Return 128 bits of HMAC-SHA256 in base32: 26 capital letters and digits."""
    return base64.b32encode(_mac(secret, guest_id, link_no)).decode("ascii").rstrip("=")


def find_guest(session: Session, site: Site, token: str, now: datetime) -> int | None:
    """Return the guest whose page a token opens; None for a wrong, revoked, purged or old one.

    Nothing about a token is stored, so those of all guests within the site's
    retention are made again and compared, all of them whichever is right.
    """
    alive = select(guests.c.id, guests.c.link_no).where(
        guests.c.day >= site.oldest_kept(now), guests.c.purged_at.is_(None)
    )
    asked = _decoded(token)
    if asked is None:
        return None
    found = None
    for guest_id, link_no in session.execute(alive):
        if hmac.compare_digest(asked, _mac(site.secret, guest_id, link_no)):
            found = guest_id
    return found


def _mac(secret: bytes, guest_id: int, link_no: int) -> bytes:
    return hmac.digest(secret, b"guest:%d:%d" % (guest_id, link_no), "sha256")[:TOKEN_BYTES]


def _decoded(token: str) -> bytes | None:
    """Return the bytes of a token, or None for a text that no token can be."""
    if not re.fullmatch(r"[A-Z2-7]{26}", token):
        return None
    return base64.b32decode(token + "=" * 6)
