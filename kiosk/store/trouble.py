"""What a database says when it cannot do now what it could do otherwise, as errors of the house.

Codes: SQLite's primary result codes (sqlite.org/rescode.html) and PostgreSQL's
SQLSTATE (its manual, appendix A). What is none of these is a fault of ours and
stays what it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from kiosk.store.errors import Busy, Crossed, DiskFull, Unavailable, Unreachable, Unwritable

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
def told(*, reading: bool = False) -> Iterator[None]:
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
