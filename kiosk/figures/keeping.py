"""What is computed once per change of the records and kept in memory: one mechanism for all of it.

A `Source` says what a value reads and how it is computed; `Kept` holds the last
value of each. While one thread computes after a change, the others are given the
value before it; only the first computation of all is waited for.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, TypeVar, cast

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Source(Generic[T]):
    """A value computed from the records of the subjects in `reads`.

    `compute(session, site, now)` makes it; it is kept until a subject in `reads`
    changes or `fresh_s` seconds pass. `Any` stands for the database session and
    the site, which figures may not import.
    """

    reads: frozenset[str]
    fresh_s: int
    compute: Callable[[Any, Any, datetime], T]


@dataclass(slots=True)
class _Slot:
    owner: object  # held, so that its id is nobody else's
    version: tuple[object, ...] | None = None
    value: object = None
    lock: threading.Lock = field(default_factory=threading.Lock)


class Kept:
    """The last value of everything, by its owner and the name of a slot (now, or an earlier moment)."""

    def __init__(self) -> None:
        self._slots: dict[tuple[int, str], _Slot] = {}

    def get(self, owner: object, slot: str, version: tuple[object, ...], compute: Callable[[], T]) -> T:
        """Return the value of `owner` under `version`, computing it in one thread.

        `slot` tells values of one owner apart that are kept side by side; `compute` takes
        nothing and is called when the kept version is another.
        """
        kept = self._slots.setdefault((id(owner), slot), _Slot(owner))
        if kept.version == version:
            return cast(T, kept.value)
        if not kept.lock.acquire(blocking=kept.version is None):
            return cast(T, kept.value)
        try:
            if kept.version != version:
                kept.value = compute()
                kept.version = version
            return cast(T, kept.value)
        finally:
            kept.lock.release()
