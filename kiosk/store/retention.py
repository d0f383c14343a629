"""Retention: personal data is emptied when its time is over, and removed from the file and from backups.

Everything counted stays. This is the one place besides `kiosk.store.rows` where rows
change: a former self without its personal values would be the row itself, so the
history has nothing to keep.

On SQLite the emptied values leave the file's bytes only with `wipe`. `secure_delete`
overwrites what is deleted, but not the copies that a page keeps when its rows move to
another one as the table grows: only a rebuilt file is free of them. The log is then
copied into the file and cut to nothing.
"""

import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from datetime import date, datetime, tzinfo
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Select,
    Table,
    Update,
    and_,
    case,
    func,
    literal,
    null,
    or_,
    select,
    update,
)
from sqlalchemy.orm import Session

from kiosk.store import sqlite
from kiosk.store.engine import Store, run
from kiosk.store.rows import touch
from kiosk.store.tables.base import UtcTime
from kiosk.store.tables.tasting import policies
from kiosk.store.tables.tours import bookings, guests, tours

BATCH = 200
"""Rows of one write transaction: a pour waits behind it no longer than behind another pour."""

Rest = Callable[[], None]
"""A function called between two writes, so that a process that polls for the lock gets its turn."""


def purge_guests(store: Store, before: date, at: datetime, rest: Rest) -> int:
    """Empty the personal columns of guests whose service day is before `before`; return how many.

    A value that came back into a purged row is emptied again.
    """
    g = guests.c
    due = select(g.id).where(g.day < before, or_(g.purged_at.is_(None), _holds(guests)))
    once = func.coalesce(g.purged_at, literal(at, UtcTime()))
    return _empty_personal(store, guests, due, {"purged_at": once}, rest)


def purge_bookings(store: Store, before: datetime, rest: Rest) -> int:
    """Empty the personal columns of bookings whose tour, or whose cancelling, was before; return how many.

    Of a ticket only its kind stays, where service rules name it: pours are judged by it.
    """
    with store.read() as session:
        kinds = ticket_kinds(session)
    ticket = bookings.c.ticket
    others = [column.is_not(None) for column in personal_columns(bookings) if column is not ticket]
    over = or_(tours.c.starts_at < before, bookings.c.cancelled_at < before)
    due = select(bookings.c.id).join(tours, tours.c.id == bookings.c.tour_id)
    due = due.where(over, or_(and_(ticket.is_not(None), ticket.not_in(kinds)), *others))
    kept = case(
        (ticket.is_(None), null()), (ticket.in_(kinds), ticket), else_=OTHER_TICKET if kinds else null()
    )
    return _empty_personal(store, bookings, due, {"ticket": kept}, rest)


OTHER_TICKET = "-"
"""What stays of a ticket of no kind that the rules name: to rules with kinds, no ticket is every kind."""


def ticket_kinds(session: Session) -> frozenset[str]:
    """Return every kind of ticket that a version of the service rules named; with any, `OTHER_TICKET` too."""
    bodies = session.scalars(select(policies.c.body))
    kinds = frozenset(
        kind for body in bodies for limit in body["limits"] for kind in limit.get("tickets", ())
    )
    return kinds | {OTHER_TICKET} if kinds else kinds


def _holds(table: Table) -> ColumnElement[bool]:
    return or_(*(column.is_not(None) for column in personal_columns(table)))


def personal_columns(table: Table) -> list[Any]:
    """Return the columns of a table that hold what a person could be known by."""
    return [column for column in table.c if column.info.get("personal")]


def _empty_personal(
    store: Store, table: Table, due: Select[tuple[int]], more: Mapping[str, Any], rest: Rest
) -> int:
    with store.read() as session:  # looked for without the lock, which is then held for the writing alone
        ids = list(session.scalars(due.order_by(table.c.id)))
    emptied = update(table).values({**{column.name: null() for column in personal_columns(table)}, **more})
    for first in range(0, len(ids), BATCH):
        run(store, partial(_empty, emptied.where(table.c.id.in_(ids[first : first + BATCH])), table))
        rest()
    return len(ids)


def _empty(emptied: Update, table: Table, session: Session) -> None:
    session.execute(emptied)
    touch(session, table.info["subject"])


_DATED = re.compile(r".+-(\d{4}-\d{2}-\d{2})\.(zip|sqlite)")
_BACKUPS = ("*.zip", "*.sqlite", "*.part")
"""Archives of a site, copies of the database that former versions made, and what a killed run left."""


def remove_old(file: Path | None, folder: Path, oldest: date, zone: tzinfo) -> list[Path]:
    """Remove the backups of days before `oldest`, with the copies that migrations made of `file`.

    Returns their paths. A copy without a date in its name is as old as the file system says, in `zone`.
    """
    old = [path for path in _copies(file, folder) if _day(path, zone) < oldest]
    for path in old:
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()
    return old


def _copies(file: Path | None, folder: Path) -> Iterator[Path]:
    yield from {path for pattern in _BACKUPS for path in folder.glob(pattern)}
    if file:
        yield from file.parent.glob(f"{file.stem}.from-*{file.suffix}")


def _day(path: Path, zone: tzinfo) -> date:
    named = _DATED.fullmatch(path.name)
    if named:
        return date.fromisoformat(named[1])
    return datetime.fromtimestamp(path.stat().st_mtime, zone).date()


WIPE_PATIENCE_MS = 5_000
"""How long each try to empty the log waits for readers; no one can write meanwhile."""
WIPE_TRIES = 5


class LogNotEmptied(RuntimeError):
    """Raised when readers kept the log in use: emptied values may still be in it."""


def wipe(file: Path) -> None:
    """Rebuild a SQLite file, which may be in use, and empty its log. Writers wait. Raises LogNotEmptied."""
    with closing(sqlite.driver().module.connect(str(file))) as connection:
        sqlite.prepare(connection)
        connection.execute("VACUUM")
        connection.execute(f"PRAGMA busy_timeout = {WIPE_PATIENCE_MS}")
        if not any(_cut_log(connection) for _ in range(WIPE_TRIES)):
            raise LogNotEmptied


def _cut_log(connection: object) -> bool:
    """Copy the log into the file, empty it, and return whether that worked (also without a log)."""
    busy, *_pages = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()  # type: ignore[attr-defined]
    return not busy
