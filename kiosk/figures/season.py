"""The season of the cane: a run of millings without a long rest between them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import pairwise

LONG_REST = timedelta(days=60)
"""A mill that stands still so long has ended its season (common practice)."""


def season_start(millings: Iterable[datetime], now: datetime, rest: timedelta = LONG_REST) -> datetime | None:
    """Return when the season under way at `now` began; None where no season is under way.

    `millings` are times in any order, later ones than `now` are left aside; `rest` is
    the time without milling that ends a season. Source: common practice.
    """
    done = sorted(at for at in millings if at <= now)
    if not done or now - done[-1] >= rest:
        return None
    began = [after for before, after in pairwise(done) if after - before >= rest]
    return began[-1] if began else done[0]
