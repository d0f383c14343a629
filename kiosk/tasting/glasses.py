"""Glasses on record, held so that two later words about one never cross."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.bottles import Fate, fate
from kiosk.figures.folds import Pour, PourMark
from kiosk.store.tables.tasting import pours
from kiosk.tasting.errors import UnknownPour
from kiosk.tasting.shelf import POUR, corrections


@dataclass(frozen=True, slots=True)
class Glass:
    """A pour with every later word about it."""

    pour: Pour
    marks: tuple[PourMark, ...]

    @property
    def guests(self) -> set[int]:
        """Everybody before whom this glass stands or stood by the ledgers."""
        named = (self.pour.guest_id, *(mark.guest_id for mark in self.marks))
        return {guest for guest in named if guest is not None}

    @property
    def fate(self) -> Fate:
        """What became of it."""
        return fate(self.pour, self.marks)


def hold_glasses(session: Session, keys: Sequence[str]) -> list[Glass]:
    """Hold pours until the transaction ends, in the order of their keys, and return them as asked for.

    Whoever needs guests' locks too takes them afterwards: glasses first, guests second.
    Raises UnknownPour.
    """
    wanted = select(*POUR).where(pours.c.key.in_(keys)).order_by(pours.c.key)
    found = {row.key: Pour(*row) for row in session.execute(wanted.with_for_update())}
    if not found or not found.keys() >= set(keys):
        raise UnknownPour()
    told: dict[str, list[PourMark]] = defaultdict(list)
    for mark in corrections(session, select(pours.c.key).where(pours.c.key.in_(keys))):
        told[mark.pour_key].append(mark)
    return [Glass(found[key], tuple(told[key])) for key in keys]
