"""A table before the group comes: which places are set out, and what is still to be poured there."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.store.keys import key_within, keys_within
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import parties
from kiosk.tasting.entries import KEY
from kiosk.tasting.flights import Item
from kiosk.tasting.room import RoomView, SetOut
from kiosk.tasting.tiles import Tile

MOST_PLACES = 60
WHOLE_FLIGHT = "flight"


@dataclass(frozen=True, slots=True)
class Mat:
    """The glasses that stand at a place for nobody yet."""

    place: str
    glasses: tuple[SetOut, ...]


def mats(view: RoomView) -> list[Mat]:
    """Return what is set out, by place."""
    by_place: dict[str, list[SetOut]] = defaultdict(list)
    for glass in view.set_out:
        by_place[glass.place].append(glass)
    places = sorted(by_place, key=lambda place: (len(place), place))
    return [Mat(place, tuple(by_place[place])) for place in places]


def to_seat(view: RoomView) -> list[Tile]:
    """Return the guests who may sit down at a mat, those who had nothing yet first."""
    here = [tile for tile in view.tiles if not tile.gone]
    return sorted(here, key=lambda tile: (tile.samples > 0, tile.number))


def to_ask(view: RoomView) -> list[Tile]:
    """Return the guests who named an allergen that is in a glass set out: asked before they sit down."""
    standing = {glass.glass for glass in view.set_out}
    return [
        tile
        for tile in to_seat(view)
        if any(
            one.allergens and one.product in standing
            for one in (tile.next, tile.alcohol_free, *tile.others)
            if one
        )
    ]


def not_served(session: Session, key: str) -> list[str]:
    """Return the glasses that the act of seating a guest did not serve: they are taken away.

    `key` is the act's; nothing for one that is no act's.
    """
    if not KEY.fullmatch(key):
        return []
    p, m = pours.c, pour_marks.c
    found = select(func.coalesce(p.recipe, p.product)).join_from(pours, pour_marks, p.key == m.pour_key)
    cleared = found.where(m.key.between(*keys_within(key)), m.kind == "cleared")
    return list(session.scalars(cleared.order_by(m.key)))


def expected(session: Session, tour_id: int) -> int:
    """Return how many people are booked on a tour."""
    coming = select(func.coalesce(func.sum(parties.c.size), 0))
    of_tour = coming.where(parties.c.tour_id == tour_id, parties.c.cancelled_at.is_(None))
    return int(session.execute(of_tour).scalar_one())


def chosen(view: RoomView, what: str) -> Sequence[Item]:
    """Return the samples of the flight that are meant: all of it, or the one at a position."""
    return [item for item in view.flight if what in (WHOLE_FLIGHT, str(item.pos))]


def rows(view: RoomView, key: str, what: str, first: int, last: int) -> Iterator[dict[str, object]]:
    """Yield the rows that set out some places, without what stands there already.

    Each has its own key within the act's, by place and position.
    """
    wanted, standing = chosen(view, what), Counter((glass.place, glass.glass) for glass in view.set_out)
    for place in range(max(1, first), min(last, MOST_PLACES) + 1):
        for item in view.flight:
            standing[str(place), item.glass] -= 1  # what is planned twice stands there twice
            if item in wanted and standing[str(place), item.glass] < 0:
                yield {
                    "ledger": "pours",
                    "key": key_within(key, place * 1000 + item.pos),
                    "tour": view.tour_id,
                    "place": str(place),
                    "product": item.glass,
                    "volume_ul": item.volume_ul,
                }
