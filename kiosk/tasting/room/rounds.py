"""A round: the next sample for the whole group in one press, decided for each guest by themselves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import literal, select, union_all
from sqlalchemy.orm import Session

from kiosk.entries.entries import KEY
from kiosk.figures.drinks import ServiceState
from kiosk.store.ledgers import key_within, keys_within
from kiosk.store.tables.tasting import pours, refusals
from kiosk.tasting.room.room import RoomView
from kiosk.tasting.room.tiles import Sample, Tile

NONE_WITH_ALCOHOL = frozenset({ServiceState.NO_ALCOHOL, ServiceState.UNDER_AGE})
POURED, ALCOHOL_FREE, NOT_POURED = "poured", "alcohol_free", "not_poured"


@dataclass(frozen=True, slots=True)
class Round:
    """One sample of the flight and the guests for whom it is asked."""

    glass: Sample
    guests: tuple[int, ...]


def next_round(view: RoomView) -> Round | None:
    """Return the round that the group has next; None when no guest waits for a sample.

    It is of the earliest sample of the flight that a guest may have now. Guests who had or skip that
    sample wait for the next round.
    """
    waiting = [(tile, tile.next) for tile in view.tiles if _waits(tile) and tile.next]
    fitting = [sample for _, sample in waiting if not sample.reasons] or [sample for _, sample in waiting]
    if not fitting:
        return None
    now = min(fitting, key=lambda sample: sample.pos)
    asked = tuple(tile.guest_id for tile, sample in waiting if sample.pos == now.pos)
    return Round(now, asked)


def _waits(tile: Tile) -> bool:
    """Return whether a round includes a guest; one who named an allergen in the glass is asked alone."""
    return tile.may_be_served and not (tile.next and tile.next.allergens)


def round_entries(key: str, glass: Mapping[str, object], guests: Iterable[int]) -> list[dict[str, object]]:
    """Return an entry for each guest of a round, each with its own key within the round's."""
    return [{"ledger": "pours", "key": key_within(key, guest), "guest": guest, **glass} for guest in guests]


def round_outcomes(session: Session, key: str) -> dict[int, str]:
    """Return whether each guest of a round was poured for, by their id; empty for a key of no round."""
    if not KEY.fullmatch(key):
        return {}
    first, last = keys_within(key)
    p, r = pours.c, refusals.c
    poured = select(p.guest_id, literal(POURED).label("outcome")).where(
        p.key.between(first, last), p.guest_id.is_not(None)
    )
    refused = select(r.guest_id, literal(NOT_POURED).label("outcome")).where(r.key.between(first, last))
    return {row.guest_id: row.outcome for row in session.execute(union_all(poured, refused))}


def guests_by_outcome(view: RoomView, outcomes: Mapping[int, str]) -> dict[str, list[Tile]]:
    """Return the guests of a room by what a round brought them; empty lists where there was none.

    Guests who take no alcohol have a glass without; the reason stays on their tile.
    """
    guests: dict[str, list[Tile]] = {POURED: [], ALCOHOL_FREE: [], NOT_POURED: []}
    for tile in view.tiles if outcomes else ():
        if tile.guest_id in outcomes:
            guests[outcomes[tile.guest_id]].append(tile)
        elif not tile.gone and tile.state in NONE_WITH_ALCOHOL:
            guests[ALCOHOL_FREE].append(tile)
        elif not tile.gone and not _waits(tile):
            guests[NOT_POURED].append(tile)
    return guests
