"""What the store refuses, each with a status, a message for the catalogs and its facts.

What a database says when it cannot do now what it could do otherwise, as errors of the house.

Codes: SQLite's primary result codes (sqlite.org/rescode.html) and PostgreSQL's
SQLSTATE (its manual, appendix A). What is none of these is a fault of ours and
stays what it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime

from sqlalchemy.exc import DBAPIError

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

_OF_READING = frozenset({8, "25006"})
"""A reading transaction is read-only by our own will: a write in it is a fault of ours."""

_SQLITE: dict[int | str, type[Unavailable]] = {
    5: Busy,  # SQLITE_BUSY
    6: Busy,  # SQLITE_LOCKED
    8: Unwritable,  # SQLITE_READONLY
    10: Unwritable,  # SQLITE_IOERR
    13: DiskFull,  # SQLITE_FULL
    14: Unwritable,  # SQLITE_CANTOPEN
}
_LOST = "08006"
_POSTGRESQL: dict[int | str, type[Unavailable]] = {
    "08000": Unreachable,  # connection_exception
    "08003": Unreachable,  # connection_does_not_exist
    _LOST: Unreachable,  # connection_failure
    "40001": Crossed,  # serialization_failure
    "40P01": Crossed,  # deadlock_detected
    "55P03": Busy,  # lock_not_available: lock_timeout ran out
    "53300": Busy,  # too_many_connections
    "53100": DiskFull,  # disk_full
    "58030": Unwritable,  # io_error
    "25006": Unwritable,  # read_only_sql_transaction
    "57P01": Unreachable,  # admin_shutdown
    "57P02": Unreachable,  # crash_shutdown
    "57P03": Unreachable,  # cannot_connect_now
}
_KNOWN: Mapping[int | str, type[Unavailable]] = {**_SQLITE, **_POSTGRESQL}


@contextmanager
def translate_db_errors(*, reading: bool = False) -> Iterator[None]:
    """Raise what a database cannot do now as an error of the house that says so in words."""
    try:
        yield
    except DBAPIError as error:
        code = _code(error)
        known = None if reading and code in _OF_READING else _KNOWN.get(code)
        if known is None:
            raise
        raise known() from error


def _code(error: DBAPIError) -> int | str:
    """Return the database's own code, or that of a lost connection, for which psycopg has none."""
    code = getattr(error.orig, "sqlite_errorcode", None)
    if code is not None:
        return int(code) & 0xFF
    state = getattr(error.orig, "sqlstate", None)
    lost = error.connection_invalidated or type(error.orig).__name__ == "OperationalError"
    return _LOST if state is None and lost else str(state)
