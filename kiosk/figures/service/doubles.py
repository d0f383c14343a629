"""Possible doubles: one serving that two tablets may each have recorded while they were apart."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class RecordedGlass:
    """A glass that counts for a guest, with when and by which device it was recorded.

    `asked` means that it was decided before it was poured; else it was recorded afterwards. `believed_at` is
    the server's time of the state that its tablet displayed, None where that is not known.
    """

    key: str
    guest_id: int
    glass: str
    device_id: int | None
    recorded_at: datetime
    asked: bool
    believed_at: datetime | None = None


def possible_doubles(glasses: Iterable[RecordedGlass]) -> dict[str, str]:
    """Return those of `glasses` that may be one serving with another recorded before it: key by key.

    Two are possibly one where the same glass was recorded for the same guest by two devices, at least one
    of them afterwards, and neither device knew of the other's entry as it made its own.
    """
    by_serving: dict[tuple[int, str], list[RecordedGlass]] = defaultdict(list)
    for one in sorted(glasses, key=lambda one: (one.recorded_at, one.key)):
        by_serving[one.guest_id, one.glass].append(one)
    doubles: dict[str, str] = {}
    for same in by_serving.values():
        for n, later in enumerate(same):
            apart = (earlier.key for earlier in same[:n] if _are_apart(earlier, later))
            if first := next(apart, None):
                doubles[later.key] = first
    return doubles


def _are_apart(earlier: RecordedGlass, later: RecordedGlass) -> bool:
    """Return whether two glasses were recorded without knowledge of each other, one of them afterwards."""
    if earlier.device_id == later.device_id or (earlier.asked and later.asked):
        return False
    return not _knew(later, earlier) and not _knew(earlier, later)


def _knew(one: RecordedGlass, other: RecordedGlass) -> bool:
    """Return whether `other` was recorded before the state by which `one` was poured."""
    if one.asked:  # the server compared what the tablet believed with all that it had
        return other.recorded_at < one.recorded_at
    return one.believed_at is not None and other.recorded_at <= one.believed_at
