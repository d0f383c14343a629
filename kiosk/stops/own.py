"""A guest's own page: the names of what they tasted. No amounts, no drinks counted: it may be shared."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Pour, PourMark, Served, counted
from kiosk.site.settings import Site
from kiosk.stops.tokens import find_guest
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import guests


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
    """Return what counts as served to a guest, after every correction."""
    came_to_guest = select(pour_marks.c.pour_key).where(pour_marks.c.guest_id == guest_id)
    mine = or_(pours.c.guest_id == guest_id, pours.c.key.in_(came_to_guest))
    poured = session.execute(
        select(
            pours.c.key,
            pours.c.at,
            pours.c.guest_id,
            pours.c.tour_id,
            pours.c.product,
            pours.c.volume_ul,
            pours.c.abv_e2,
            pours.c.neat,
        ).where(mine)
    ).all()
    marked = session.execute(
        select(
            pour_marks.c.key,
            pour_marks.c.at,
            pour_marks.c.pour_key,
            pour_marks.c.kind,
            pour_marks.c.guest_id,
        ).where(pour_marks.c.pour_key.in_([row.key for row in poured]))
    ).all()
    folded = counted((Pour(*row) for row in poured), (PourMark(*row) for row in marked))
    return [served for served in folded if served.guest_id == guest_id]
