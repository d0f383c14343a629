"""The next sample for the whole group: one press, and each guest decided on their own."""

from __future__ import annotations

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
    """One sample of the flight, and for which guests it is asked."""

    glass: Sample
    guests: tuple[int, ...]


def next_round(view: RoomView) -> Round | None:
    """Return the sample that the group has next, and whom it is asked for; None when nobody waits for one.

    It is the earliest sample of the flight that somebody may have now. Whoever had it
    or skips it waits for the next round; whoever is behind is asked again with it.
    """
    waiting = [(tile, tile.next) for tile in view.tiles if _waits(tile) and tile.next]
    fitting = [sample for _, sample in waiting if not sample.reasons] or [sample for _, sample in waiting]
    if not fitting:
        return None
    now = min(fitting, key=lambda sample: sample.pos)
    asked = tuple(tile.guest_id for tile, sample in waiting if sample.pos == now.pos)
    return Round(now, asked)


def _waits(tile: Tile) -> bool:
    """Say whether a round is asked for a guest: who named an allergen in the glass is asked by themselves."""
    return tile.may_be_served and not (tile.next and tile.next.allergens)


def round_entries(key: str, glass: Mapping[str, object], guests: Iterable[int]) -> list[dict[str, object]]:
    """Return the rows of a round for the one door, each under its own key within the round's."""
    return [{"ledger": "pours", "key": key_within(key, guest), "guest": guest, **glass} for guest in guests]


def round_outcomes(session: Session, key: str) -> dict[int, str]:
    """Return what a round's asks came to, by guest; nothing for a key of no round."""
    if not KEY.fullmatch(key):
        return {}
    first, last = keys_within(key)
    p, r = pours.c, refusals.c
    poured = select(p.guest_id, literal(POURED).label("outcome")).where(
        p.key.between(first, last), p.guest_id.is_not(None)
    )
    refused = select(r.guest_id, literal(NOT_POURED).label("outcome")).where(r.key.between(first, last))
    found = session.execute(union_all(poured, refused))
    return {row.guest_id: row.outcome for row in found}


def guests_by_outcome(view: RoomView, told: Mapping[int, str]) -> dict[str, list[Tile]]:
    """Sort the guests of a round by what they got; nothing where there was none.

    Of those who were not asked, whoever takes no alcohol has a glass without; the
    reason stays on their tile.
    """
    found: dict[str, list[Tile]] = {POURED: [], ALCOHOL_FREE: [], NOT_POURED: []}
    for tile in view.tiles if told else ():
        if tile.guest_id in told:
            found[told[tile.guest_id]].append(tile)
        elif not tile.gone and tile.state in NONE_WITH_ALCOHOL:
            found[ALCOHOL_FREE].append(tile)
        elif not tile.gone and not _waits(tile):
            found[NOT_POURED].append(tile)
    return found
