"""A gate that lets writers through one at a time, in the order of arrival.

SQLite's own waiting is a poll with growing pauses: under load some writers wait
a hundred times longer than others. Behind the gate no writer polls.

The database of a site: two kinds of transaction on one pool of connections.

A reading transaction cannot write; a writing one holds the database's write
lock from its first moment (SQLite), or runs at READ COMMITTED and locks the
rows that it decides about (PostgreSQL). Only these two make the rule "read,
decide, append" hold.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from threading import Lock, get_ident
from typing import Any, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DBAPIError, IntegrityError, NoSuchModuleError
from sqlalchemy.orm import Session, sessionmaker

from kiosk.store import sqlite
from kiosk.store.errors import (
    WAIT_S,
    Busy,
    Crossed,
    DiskFull,
    DriverMissing,
    Unavailable,
    Unreachable,
    Unwritable,
)


class WriteGate:
    """A fair lock between the threads of one process; it knows who holds it.

    No thread waits at it for longer than `wait_s`: behind a task in another process
    that holds the database, each in turn would wait for all before it.
    """

    def __init__(self, wait_s: float) -> None:
        self._wait_s = wait_s
        self._mutex = Lock()
        self._holder: int | None = None
        self._waiting: deque[tuple[int, Lock]] = deque()

    @contextmanager
    def held(self) -> Iterator[None]:
        """Wait for one's turn and hold the gate.

        Raises Busy when it does not come in time, RuntimeError when this thread holds it already.
        """
        self._enter()
        try:
            yield
        finally:
            self._leave()

    def _enter(self) -> None:
        me = get_ident()
        turn = Lock()
        with self._mutex:
            if self._holder == me:
                raise RuntimeError("a write transaction was begun inside another one of the same thread")
            if self._holder is None:
                self._holder = me
                return
            turn.acquire()
            self._waiting.append((me, turn))
        try:
            if not turn.acquire(timeout=self._wait_s):
                raise Busy()
        except BaseException:  # a thread that stops waiting must not leave its turn untaken
            self._give_up(me, turn)
            raise

    def _leave(self) -> None:
        with self._mutex:
            if self._waiting:
                self._holder, turn = self._waiting.popleft()
                turn.release()
            else:
                self._holder = None

    def _give_up(self, me: int, turn: Lock) -> None:
        with self._mutex:
            given = (me, turn) not in self._waiting
            if not given:
                self._waiting.remove((me, turn))
        if given:
            self._leave()


T = TypeVar("T")

POOL_SIZE = 20
TRIES = 4
UNIQUE_VIOLATION = "23505"  # PostgreSQL's: two writers looked before either had written


class Store:
    """An open database. Close it when done."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._gate = WriteGate(WAIT_S) if engine.dialect.name == "sqlite" else None
        self._reads = threading.local()
        self._reader = sessionmaker(engine.execution_options(kiosk_reading=True, postgresql_readonly=True))
        self._writer = sessionmaker(engine)

    @property
    def dialect(self) -> str:
        """The kind of database: "sqlite" or "postgresql"."""
        return self.engine.dialect.name

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Open a reading transaction. An attempt to write in it is refused by the database.

        Raises what `translate_db_errors` raises, as `write` does.
        """
        depth = getattr(self._reads, "depth", 0)
        self._reads.depth = depth + 1
        try:
            with translate_db_errors(reading=True), self._reader() as session:
                yield session
        finally:
            self._reads.depth = depth

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Open a writing transaction: committed on a clean exit, rolled back on any error.

        Raises Busy when others were in the way for too long, DiskFull, Unwritable or
        Unreachable. RuntimeError inside an open read or write of the same thread: what such
        a read saw may be old by now, and with a rollback journal it would block
        the commit.
        """
        if getattr(self._reads, "depth", 0):
            raise RuntimeError("a write transaction was begun inside a read of the same thread")
        turn = self._gate.held() if self._gate else nullcontext()
        with turn, translate_db_errors(), self._writer.begin() as session:
            session.connection()
            yield session

    @contextmanager
    def two_parts(self) -> Iterator["TwoParts"]:
        """Open a connection of its own for a work of two parts: rows prepared, then a short write."""
        connection = self.engine.connect()
        try:
            yield TwoParts(connection, self._gate)
        finally:
            connection.invalidate()  # and its temporary tables with it
            connection.close()

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()


class TwoParts:
    """A connection on which rows are prepared in temporary tables before they are recorded."""

    def __init__(self, connection: Connection, gate: WriteGate | None) -> None:
        self._connection, self._gate = connection, gate

    @contextmanager
    def prepare(self) -> Iterator[Session]:
        """Open a transaction that writes temporary tables only: it locks nothing, pours go on meanwhile."""
        self._connection.execution_options(kiosk_preparing=True)
        with translate_db_errors(), Session(self._connection) as session, session.begin():
            yield session
        self._connection.execution_options(kiosk_preparing=False)

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Open a writing transaction as `Store.write` does.

        What it wrote is moved from SQLite's log into the file when other writers may go on.
        """
        sqlite_only = self._gate is not None
        if sqlite_only:
            self._pragma("wal_autocheckpoint = 0")
        turn = self._gate.held() if self._gate else nullcontext()
        with turn, translate_db_errors(), Session(self._connection) as session, session.begin():
            session.connection()
            yield session
        if sqlite_only:
            self._pragma("wal_checkpoint(PASSIVE)")

    def _pragma(self, pragma: str) -> None:
        cursor = self._connection.connection.cursor()  # outside any transaction
        cursor.execute(f"PRAGMA {pragma}")
        cursor.close()


def open_store(url: str) -> Store:
    """Open the database at an SQLAlchemy URL as it is; nothing is migrated."""
    return Store(open_engine(url))


def open_engine(url: str, *, foreign_keys: bool = True) -> Engine:
    """Make an engine that follows this module's rules. `foreign_keys` turns them off on SQLite.

    Raises AddressUnusable, and DriverMissing where PostgreSQL's extra is not installed.
    """
    parsed = sqlite.parse_address(url)
    if parsed.get_backend_name() == "sqlite":
        return _sqlite_engine(parsed, foreign_keys)
    try:
        return _postgresql_engine(parsed)
    except (ImportError, NoSuchModuleError) as error:
        raise DriverMissing() from error


def run(store: Store, work: Callable[[Session], T]) -> T:
    """Do `work` in a writing transaction, a few times over while other transactions cross it."""
    for _ in range(TRIES - 1):
        try:
            return _once(store, work)
        except Crossed:
            continue
        except IntegrityError as error:
            if getattr(error.orig, "sqlstate", None) != UNIQUE_VIOLATION:
                raise
    return _once(store, work)


def use_one_snapshot(session: Session) -> None:
    """Let every query of a writing transaction see the records as its first query does.

    On SQLite each one does; on PostgreSQL this is called before anything else is read.
    """
    if session.connection().dialect.name == "postgresql":
        session.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))


def _once(store: Store, work: Callable[[Session], T]) -> T:
    with store.write() as session:
        return work(session)


def _sqlite_engine(url: URL, foreign_keys: bool) -> Engine:
    engine = create_engine(url, module=sqlite.driver().module, pool_size=POOL_SIZE, pool_use_lifo=True)

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        sqlite.prepare(connection, foreign_keys=foreign_keys)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        options = connection.get_execution_options()
        reading = bool(options.get("kiosk_reading"))
        if connection.info.get("query_only", False) != reading:
            connection.exec_driver_sql(f"PRAGMA query_only = {int(reading)}")
            connection.info["query_only"] = reading
        deferred = reading or options.get("kiosk_preparing")
        connection.exec_driver_sql("BEGIN DEFERRED" if deferred else "BEGIN IMMEDIATE")

    return engine


def _postgresql_engine(url: URL) -> Engine:
    # The address may carry options of its own, such as the schema to use.
    given = url.query.get("options", "")
    settings = [given] if isinstance(given, str) else list(given)
    settings += [f"-c lock_timeout={WAIT_S}s", "-c timezone=UTC"]
    return create_engine(
        url.update_query_dict({"options": " ".join(filter(None, settings))}),
        isolation_level="READ COMMITTED",
        pool_pre_ping=True,
        pool_size=POOL_SIZE,
        pool_use_lifo=True,
    )


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
    """Raise what a database cannot do now as an `Unavailable` that says so in words.

    By SQLite's primary result codes (sqlite.org/rescode.html) and PostgreSQL's
    SQLSTATE (its manual, appendix A). Any other error is a fault of ours and stays
    what it is.
    """
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
