"""What a request costs: the kiosk's files of which code runs for it, and the queries that it sends."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from sqlalchemy import event

import kiosk
from kiosk.store.engine import Store

HOUSE = str(Path(kiosk.__file__).parent)
TRANSACTIONS = ("BEGIN", "PRAGMA", "SAVEPOINT", "RELEASE", "ROLLBACK")


@dataclass
class Cost:
    """What ran in this thread, and what was asked of the database, transactions apart."""

    codes: Counter[CodeType] = field(default_factory=Counter)
    queries: list[str] = field(default_factory=list)

    @property
    def files(self) -> list[str]:
        """The kiosk's own modules of which any function ran."""
        names = {code.co_filename for code in self.codes}
        own = (name for name in names if name.startswith(HOUSE) and name.endswith(".py"))
        return sorted(str(Path(name).relative_to(HOUSE)) for name in own)

    def calls(self, function: Callable[..., object]) -> int:
        """Return how often a function was called."""
        return self.codes[function.__code__]

    @property
    def templates(self) -> list[str]:
        """The templates that were rendered."""
        return sorted({code.co_filename for code in self.codes if code.co_filename.endswith(".html")})


@contextmanager
def cost(store: Store) -> Iterator[Cost]:
    """Measure what happens inside; the thread's profiler is this one's for so long."""
    spent = Cost()

    def call(frame: FrameType, what: str, _argument: object) -> None:
        if what == "call":
            spent.codes[frame.f_code] += 1

    def note(*asked: Any) -> None:
        if not asked[2].startswith(TRANSACTIONS):
            spent.queries.append(asked[2])

    event.listen(store.engine, "before_cursor_execute", note)
    before = sys.getprofile()
    sys.setprofile(call)
    try:
        yield spent
    finally:
        sys.setprofile(before)
        event.remove(store.engine, "before_cursor_execute", note)


def cost_of(store: Store, act: Callable[[], object]) -> Cost:
    """Return what an act costs."""
    with cost(store) as spent:
        act()
    return spent
