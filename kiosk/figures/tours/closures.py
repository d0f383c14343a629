"""Stops that are closed for a while: the reasons, who may open a stop again, and which closures hold."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason to close a stop: the roles that may open it again, and whether a time ends it by itself."""

    reopened_by: frozenset[str]
    ends_by_time: bool


_PRODUCTION, _TOURS = frozenset({"production"}), frozenset({"guide", "manager"})
REASONS: Mapping[str, Reason] = {
    "co2": Reason(_PRODUCTION, ends_by_time=False),
    "still": Reason(_PRODUCTION, ends_by_time=False),
    "spraying": Reason(_PRODUCTION, ends_by_time=True),
    "machine": Reason(_PRODUCTION, ends_by_time=False),
    "fire": Reason(_TOURS, ends_by_time=False),
    "lightning": Reason(_TOURS, ends_by_time=True),
    "heat": Reason(_TOURS, ends_by_time=True),
    "wet_floor": Reason(_TOURS, ends_by_time=True),
    "other": Reason(_TOURS, ends_by_time=True),
}
"""The reasons by their codes. What only an instrument or the person at the work can judge ends by a person
of production; spraying ends at the time given, which is that of its end and the interval on the label (40 CFR
170.405(a)(2) and 170.407 for workers; that guests are held to it is common practice)."""


@dataclass(frozen=True, slots=True)
class Closure:
    """A closed stop: the key of its entry, the reason's code, since and until when, and who closed it."""

    key: str
    stop: str
    reason: str
    since: datetime
    until: datetime | None
    by: str

    def may_reopen(self, roles: Iterable[str]) -> bool:
        """Return whether a person of these `roles` may open the stop again."""
        return not REASONS[self.reason].reopened_by.isdisjoint(roles)


def standing(closures: Iterable[Closure], now: datetime) -> dict[str, Closure]:
    """Return which of the `closures` holds `now` at each closed stop: of several the one that ends last."""
    held: dict[str, Closure] = {}
    for one in closures:
        before = held.get(one.stop)
        if one.until is not None and one.until <= now:
            continue
        if before is None or (before.until and (one.until is None or one.until > before.until)):
            held[one.stop] = one
    return held
