"""What the store refuses, each with a status, a message for the catalogs and its facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

# Marks a message for the catalogs; `kiosk.words` stands beside the store, not below it.
N_ = str


class StoreError(Exception):
    """A request that the records do not allow; nothing was changed."""

    status = 409
    message = ""

    def __init__(self, **facts: object) -> None:
        super().__init__(", ".join(f"{name}={value!r}" for name, value in facts.items()))
        self.facts: Mapping[str, object] = facts


class Stale(StoreError):
    """Somebody changed or withdrew the row since it was looked at: `by` (may be unknown), at `at`."""

    message = N_("Somebody else changed this before you. Your change was not saved: look at it again.")

    def __init__(self, table: str, row_id: int, by: int | None, at: datetime) -> None:
        super().__init__(table=table, row_id=row_id, by=by, at=at)
        self.table, self.row_id, self.by, self.at = table, row_id, by, at


class NoSuchRow(StoreError):
    """There is no such row and never was."""

    status = 404
    message = N_("There is no such record.")

    def __init__(self, table: str, row_id: int) -> None:
        super().__init__(table=table, row_id=row_id)


class InUse(StoreError):
    """A row cannot be withdrawn while other records point at it."""

    message = N_("Other records refer to this one: it cannot be withdrawn.")

    def __init__(self, table: str, row_id: int) -> None:
        super().__init__(table=table, row_id=row_id)


class KeyConflict(StoreError):
    """A ledger entry with this key stands already and says something else in `columns`."""

    message = N_("An entry with the same key was recorded before and says something else. It stands.")

    def __init__(self, table: str, key: str, columns: Sequence[str]) -> None:
        super().__init__(table=table, key=key, columns=tuple(columns))
        self.table, self.key, self.columns = table, key, tuple(columns)


class OtherSite(StoreError):
    """The database belongs to the site `found`, not to the one that opened it."""

    message = N_("This database belongs to another site: {found}.")

    def __init__(self, found: str) -> None:
        super().__init__(found=found)
        self.found = found


class Unavailable(StoreError):
    """The records cannot be used now, for no fault of the request."""

    status = 503


class Busy(Unavailable):
    """Another task held the records for longer than anybody should wait; nothing was recorded."""

    message = N_(
        "The records are busy with another task, and this was not recorded. "
        "A tablet keeps its taps and sends them again by itself; send a form again in a moment."
    )


class Crossed(Busy):
    """Another transaction was in the way: a second try may well go through."""


class DiskFull(Unavailable):
    """There is no room to record anything; what was recorded before is safe."""

    message = N_(
        "The disk that holds the records is full, and this was not recorded. What was recorded before "
        "is safe. Make room on it without touching the records' own files, and go on: a tablet sends "
        "its taps again by itself."
    )


class Unwritable(Unavailable):
    """The disk or its rights do not let the records be written or read; nothing was recorded."""

    message = N_(
        "The records cannot be written or read, and this was not recorded. Check the disk that holds "
        "them and its permissions. A tablet keeps its taps and sends them again by itself."
    )


class Unreachable(Unavailable):
    """The database server does not answer; what was sent may or may not have been recorded."""

    message = N_(
        "The database does not answer. Check that its server is running. "
        "A tablet keeps its taps and sends them again by itself; send a form again later."
    )


WAIT_S = 10
"""So long a transaction waits for others, at each place where they can be in its way."""
