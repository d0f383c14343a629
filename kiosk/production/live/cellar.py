"""The casks counted: filled and empty, by store and by wood, the oldest, those due for gauging."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.casks import EventKind, Fill, next_gauge_due
from kiosk.figures.casks.fills import years
from kiosk.figures.figure import Basis, Figure, Figures, Spec, Unit
from kiosk.production.lineage.fills import UNCHANGED, Former, read_fills
from kiosk.production.live.missing import FEW, resting, seconds
from kiosk.store.tables import production as t

# Casks are gauged about twice a year, a few each week: four months without any is a long silence.
STALE_S = seconds(days=120)
GAUGE_EVERY = timedelta(days=183)
"""A cask is due for gauging half a year after its last gauge (common practice)."""

FILLED = Spec("casks_filled", Unit.COUNT, digits=0, stale_after_s=STALE_S)
EMPTY = Spec("casks_empty", Unit.COUNT, digits=0, stale_after_s=STALE_S)
BY_STORE = Spec("casks_by_store", Unit.COUNT, digits=0, stale_after_s=STALE_S, of="store")
# Woods are named as the records write them, in one language: for staff to tell.
BY_WOOD = Spec("casks_by_wood", Unit.COUNT, digits=0, stale_after_s=STALE_S, of="wood", public=False)
MEAN_FILLS = Spec("cask_fills_mean", Unit.COUNT, digits=1, stale_after_s=STALE_S)
OLDEST = Spec("cask_oldest", Unit.YEAR, digits=1, stale_after_s=STALE_S)
FILLED_THIS_YEAR = Spec("casks_filled_this_year", Unit.COUNT, digits=0, stale_after_s=STALE_S)
DUE = Spec("casks_due_for_gauging", Unit.COUNT, digits=0, stale_after_s=STALE_S, public=False)
COUNTED_SPECS = (FILLED, EMPTY, BY_STORE, BY_WOOD, MEAN_FILLS, OLDEST, FILLED_THIS_YEAR, DUE)


@dataclass(frozen=True, slots=True)
class Cellar:
    """The casks at a moment: every fill made until then, those still full, the woods and the stores."""

    now: datetime
    made: Mapping[int, Fill]
    full: Mapping[int, Fill]
    casks: int
    woods: frozenset[str]
    stores: frozenset[str]
    as_of: datetime  # when anything was last recorded of any cask

    @property
    def rests_on(self) -> tuple[str, ...]:
        """The newest fills, as the records that a figure rests on."""
        return tuple(f"fill:{row_id}" for row_id in sorted(self.full, reverse=True)[:FEW])


def read_cellar(session: Session, now: datetime, former: Former = UNCHANGED) -> Cellar | None:
    """Return the casks as they were at `now`, in a fixed number of queries; None before the first fill.

    With `former` rows they are as the records had them before those were corrected.
    """
    fills = read_fills(session, former=former)
    made = {row_id: fill for row_id, fill in fills.items() if fill.filled_at <= now}
    if not made:
        return None
    full = {row_id: fill for row_id, fill in made.items() if not fill.emptied_at or fill.emptied_at > now}
    woods = session.scalars(select(t.casks.c.wood)).all()
    stores = session.scalars(select(t.stores.c.code)).all()
    as_of = _newest(made.values(), now)
    return Cellar(now, made, full, len(woods), frozenset(woods), frozenset(stores), as_of)


def _newest(fills: Iterable[Fill], now: datetime) -> datetime:
    times = (
        at
        for fill in fills
        for at in (
            fill.filled_at,
            fill.emptied_at,
            *(gauge.at for gauge in fill.gauges),
            *(event.at for event in fill.events),
        )
    )
    return max(at for at in times if at is not None and at <= now)


def counted_figures(cellar: Cellar, year_begins: datetime) -> Figures:
    """Return the counted figures of the casks; `year_begins` is the beginning of this year."""
    full = list(cellar.full.values())
    plain = {
        FILLED: len(full),
        EMPTY: cellar.casks - len(full) - _retired(cellar),
        DUE: sum(_is_due(fill, cellar.now) for fill in full),
    }
    counts = {(spec.name, ""): _count(cellar, value) for spec, value in plain.items()}
    by_store = Counter(fill.store_at(cellar.now) for fill in full)
    by_wood = Counter(fill.wood for fill in full)
    return {
        **counts,
        **{(BY_STORE.name, store): _count(cellar, by_store[store]) for store in cellar.stores},
        **{(BY_WOOD.name, wood): _count(cellar, by_wood[wood]) for wood in cellar.woods},
        **_of_the_full(cellar, full),
        (FILLED_THIS_YEAR.name, ""): _this_year(cellar, year_begins),
    }


def _count(cellar: Cellar, value: float) -> Figure:
    return Figure(value, cellar.as_of, Basis.COUNTED, rests_on=cellar.rests_on)


def _retired(cellar: Cellar) -> int:
    """Count the casks that were taken out of use and not filled since."""
    busy = {fill.cask for fill in cellar.full.values()}
    gone = {
        fill.cask
        for fill in cellar.made.values()
        for event in fill.events
        if event.kind is EventKind.RETIRED and event.at <= cellar.now
    }
    return len(gone - busy)


def _is_due(fill: Fill, now: datetime) -> bool:
    due = next_gauge_due(fill, now, GAUGE_EVERY)
    return due is not None and due <= now


def _of_the_full(cellar: Cellar, full: Sequence[Fill]) -> Figures:
    """Return the mean number of fillings and the longest time in the cask, or when the last was emptied."""
    if not full:
        rests = resting(cellar.as_of)
        return {(MEAN_FILLS.name, ""): rests, (OLDEST.name, ""): rests}
    row_id, oldest = min(cellar.full.items(), key=lambda each: each[1].filled_at)
    # A time in the cask is told as whole as it has passed, never rounded up.
    lain = math.floor(10 * years(oldest.filled_at, cellar.now)) / 10
    mean = sum(fill.number for fill in full) / len(full)
    return {
        (MEAN_FILLS.name, ""): _count(cellar, mean),
        (OLDEST.name, ""): Figure(lain, cellar.as_of, Basis.COUNTED, rests_on=(f"fill:{row_id}",)),
    }


def _this_year(cellar: Cellar, year_begins: datetime) -> Figure:
    anew = {row_id: fill for row_id, fill in cellar.made.items() if not fill.topped}
    filled = [row_id for row_id, fill in anew.items() if fill.filled_at >= year_begins]
    if not filled:
        return resting(max(fill.filled_at for fill in anew.values()))
    rests_on = tuple(f"fill:{row_id}" for row_id in sorted(filled, reverse=True)[:FEW])
    return Figure(len(filled), cellar.as_of, Basis.COUNTED, rests_on=rests_on)
