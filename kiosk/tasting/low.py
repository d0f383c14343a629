"""Which bottles run low: told before the flight needs them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServiceState
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.tasting.room import RoomView
from kiosk.tasting.shelf import shelf

TO_SERVE = frozenset({ServiceState.MAY_BE_SERVED, ServiceState.NOT_CHECKED})
UNDONE = ("mis_tap", "not_served", "cleared")


@dataclass(frozen=True, slots=True)
class Low:
    """A product of which the open bottles hold less than the flight still needs."""

    product: str
    level_ul: int
    needs_ul: int


def low(session: Session, site: Site, view: RoomView) -> list[Low]:
    """Return what runs low for a tour's flight; nothing where the room keeps no bottles.

    Everybody who may still be served is reckoned with, and what the tour already had
    is taken off.
    """
    here = shelf(session, site, view.room)
    if not here:
        return []
    level_ul: Counter[str] = Counter()
    for bottle in here:
        level_ul[bottle.product] += bottle.account().level_ul
    guests = sum(1 for tile in view.tiles if not tile.gone and tile.state in TO_SERVE)
    had = _had(session, view.tour_id)
    needs: Counter[str] = Counter()
    for item in view.flight:
        needs[item.product] += guests * item.volume_ul
    found = [Low(product, level_ul[product], ul - had.get(product, 0)) for product, ul in needs.items()]
    return [one for one in found if one.needs_ul > one.level_ul]


def _had(session: Session, tour_id: int) -> dict[str, int]:
    undone = exists().where(pour_marks.c.pour_key == pours.c.key, pour_marks.c.kind.in_(UNDONE))
    told = select(pours.c.product, func.sum(pours.c.volume_ul)).where(pours.c.tour_id == tour_id, ~undone)
    return {product: int(ul) for product, ul in session.execute(told.group_by(pours.c.product))}
