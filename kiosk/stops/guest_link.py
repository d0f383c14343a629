"""The address of a guest's own page: made from the site's secret, kept nowhere.

The same guest and link number give the same token, so a card can be printed
again; a new link number ends the old address.

A guest's own page: the names of what they tasted. No amounts, no drinks counted: it may be shared.
"""

import base64
import hmac
import re
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Pour, PourMark, Served, counted
from kiosk.site.settings import Site
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import guests

MAC_BYTES, ID_BYTES = 16, 4
MOST_ID = 2**31 - 1


def guest_token(secret: bytes, guest_id: int, link_no: int) -> str:
    """Return 128 bits of HMAC-SHA256 and the guest's id, masked by them: 32 capital letters and digits."""
    mac = _mac(secret, guest_id, link_no)
    return base64.b32encode(mac + _masked(secret, mac, guest_id)).decode("ascii")


def token_of(session: Session, site: Site, guest_id: int, now: datetime) -> tuple[int, str]:
    """Return a guest's number, and the token of their own page. Raises NoSuchRow where it has ended."""
    g = guests.c
    alive = select(g.number, g.link_no).where(g.day >= site.oldest_kept(now), g.purged_at.is_(None))
    row = session.execute(alive.where(g.id == guest_id)).one_or_none()
    if row is None:
        raise NoSuchRow(guests.name, guest_id)
    return row.number, guest_token(site.secret, guest_id, row.link_no)


def find_guest(session: Session, site: Site, token: str, now: datetime) -> int | None:
    """Return the guest whose page a token opens; None for a wrong, revoked, purged or old one.

    Nothing about a token is stored: it names the guest, whose link number then proves it.
    """
    asked = _decoded(token)
    if asked is None:
        return None
    mac, masked = asked[:MAC_BYTES], asked[MAC_BYTES:]
    guest_id = int.from_bytes(_masked(site.secret, mac, int.from_bytes(masked, "big")), "big")
    alive = select(guests.c.link_no).where(
        guests.c.id == min(guest_id, MOST_ID),
        guests.c.day >= site.oldest_kept(now),
        guests.c.purged_at.is_(None),
    )
    link_no = session.scalar(alive)
    proven = link_no is not None and hmac.compare_digest(mac, _mac(site.secret, guest_id, link_no))
    return guest_id if proven else None


def _mac(secret: bytes, guest_id: int, link_no: int) -> bytes:
    return hmac.digest(secret, b"guest:%d:%d" % (guest_id, link_no), "sha256")[:MAC_BYTES]


def _masked(secret: bytes, mac: bytes, guest_id: int) -> bytes:
    """Return an id that is hidden, or shown again: an address must not tell how many guests there were."""
    mask = hmac.digest(secret, b"guest id:" + mac, "sha256")[:ID_BYTES]
    return bytes(one ^ other for one, other in zip(guest_id.to_bytes(ID_BYTES, "big"), mask, strict=True))


def _decoded(token: str) -> bytes | None:
    """Return the bytes of a token, or None for a text that no token can be."""
    return base64.b32decode(token) if re.fullmatch(r"[A-Z2-7]{32}", token) else None


@dataclass(frozen=True, slots=True)
class OwnPage:
    """What a guest's own page tells."""

    day: date
    number: int
    language: str
    products: tuple[str, ...]  # ids of what was tasted, each once, in order


def own_page(session: Session, site: Site, token: str, now: datetime) -> OwnPage | None:
    """Return the page that a token opens, or None when there is none or it has ended."""
    guest_id = find_guest(session, site, token, now)
    if guest_id is None:
        return None
    day, number, language = session.execute(
        select(guests.c.day, guests.c.number, guests.c.language).where(guests.c.id == guest_id)
    ).one()
    served = (entry.product for entry in samples(session, guest_id) if entry.volume_ul)
    return OwnPage(day, number, language, tuple(dict.fromkeys(served)))


def samples(session: Session, guest_id: int) -> list[Served]:
    """Return the pours that count as served to a guest, after every correction."""
    came_to_guest = select(pour_marks.c.pour_key).where(pour_marks.c.guest_id == guest_id)
    mine = or_(pours.c.guest_id == guest_id, pours.c.key.in_(came_to_guest))
    p, m = pours.c, pour_marks.c
    columns = (p.key, p.at, p.guest_id, p.tour_id, p.product, p.volume_ul, p.abv_e2, p.neat)
    poured = [Pour(*row) for row in session.execute(select(*columns).where(mine))]
    marks = select(m.key, m.at, m.pour_key, m.kind, m.guest_id, m.server_checked)
    marked = session.execute(marks.where(m.pour_key.in_([pour.key for pour in poured])))
    folded = counted(poured, (PourMark(*row) for row in marked))
    return [served for served in folded if served.guest_id == guest_id]
