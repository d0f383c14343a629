"""Errors of the store, each with a status, a message for the catalogs and the facts in it."""

from collections.abc import Mapping, Sequence
from datetime import datetime

# Marks a message for the catalogs; `kiosk.words` stands beside the store, not below it.
N_ = str


class StoreError(Exception):
    """Raised for a request that the records do not allow; nothing was changed."""

    status = 409
    message = ""

    def __init__(self, **facts: object) -> None:
        super().__init__(", ".join(f"{name}={value!r}" for name, value in facts.items()))
        self.facts: Mapping[str, object] = facts


class Stale(StoreError):
    """Raised for a row that `by` (None where unknown) changed or voided, at `at`, since it was read."""

    message = N_("Another person changed this before you. Your change was not saved: look at it again.")

    def __init__(self, table: str, row_id: int, by: int | None, at: datetime) -> None:
        super().__init__(table=table, row_id=row_id, by=by, at=at)
        self.table, self.row_id, self.by, self.at = table, row_id, by, at


class NoSuchRow(StoreError):
    """Raised for a row that never existed."""

    status = 404
    message = N_("There is no such record.")

    def __init__(self, table: str, row_id: object) -> None:
        super().__init__(table=table, row_id=row_id)


class InUse(StoreError):
    """Raised for a row that cannot be voided, because other records refer to it."""

    message = N_("Other records refer to this one: it cannot be voided.")

    def __init__(self, table: str, row_id: int) -> None:
        super().__init__(table=table, row_id=row_id)


class KeyConflict(StoreError):
    """Raised for an entry whose key is recorded already with other values in `columns`."""

    message = N_("An entry with the same key was recorded before and says something else. It stands.")

    def __init__(self, table: str, key: str, columns: Sequence[str]) -> None:
        super().__init__(table=table, key=key, columns=tuple(columns))
        self.table, self.key, self.columns = table, key, tuple(columns)


class OtherSite(StoreError):
    """Raised for a database that belongs to another site, `found`."""

    message = N_("This database belongs to another site: {found}.")

    def __init__(self, found: str) -> None:
        super().__init__(found=found)
        self.found = found


class AddressUnusable(StoreError):
    """Raised for text that is no address of a SQLite or PostgreSQL database; it may hold a password."""

    message = N_(
        "The address of the database cannot be used: it begins with sqlite:/// and a file, "
        "or with postgresql:// and a server."
    )


class DriverMissing(StoreError):
    """Raised for a PostgreSQL database where the library that speaks to it is not installed."""

    message = N_("PostgreSQL needs its extra: install it with pip install 'kiosk[postgres]'.")


class Unavailable(StoreError):
    """Raised when the records cannot be used now, whatever the request."""

    status = 503


class Busy(Unavailable):
    """Raised when another task held the records for too long; nothing was recorded."""

    message = N_(
        "The records are busy with another task, and this was not recorded. "
        "A tablet keeps its taps and sends them again by itself; send a form again in a moment."
    )


class Crossed(Busy):
    """Raised when another transaction was in the way: a second try may succeed."""


class DiskFull(Unavailable):
    """Raised when the disk is full; what was recorded before is safe."""

    message = N_(
        "The disk that holds the records is full, and this was not recorded. What was recorded before "
        "is safe. Make room on it without touching the records' own files, and go on: a tablet sends "
        "its taps again by itself."
    )


class Unwritable(Unavailable):
    """Raised when the disk or its permissions prevent reading or writing; nothing was recorded."""

    message = N_(
        "The records cannot be written or read, and this was not recorded. Check the disk that holds "
        "them and its permissions. A tablet keeps its taps and sends them again by itself."
    )


class Unreachable(Unavailable):
    """Raised when the database server does not answer; the request may or may not have been recorded."""

    message = N_(
        "The database does not answer. Check that its server is running. "
        "A tablet keeps its taps and sends them again by itself; send a form again later."
    )


WAIT_S = 10
"""So long a transaction waits for others, at each place where they can be in its way."""
