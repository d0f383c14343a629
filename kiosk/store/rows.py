"""Rows: recorded, changed and voided only here, so that every former revision is in `history`.

Every function runs in the caller's writing transaction and counts a change of
the table's subject; by these counts figures learn that records they rest on have
changed. Values in columns marked personal never reach the history.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, RowMapping, Table, delete, event, select, update
from sqlalchemy import insert as insert_into
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.store.errors import InUse, NoSuchRow, Stale
from kiosk.store.tables.production import batches
from kiosk.store.tables.shared import changes, history
from kiosk.store.tables.tours import guests

_TOUCHED = "kiosk_touched"


def touch(session: Session, *subjects: str) -> None:
    """Count a change of each subject when this writing transaction commits.

    The counts are written last and in one order, so that two writers never
    hold each other's subject, nor either for longer than a commit takes. A
    transaction that touches nothing, such as a pour's, waits for no counter.
    """
    if not event.contains(session, "before_commit", _write_touches):
        event.listen(session, "before_commit", _write_touches)
    session.info.setdefault(_TOUCHED, set()).update(subjects)


def versions(session: Session) -> dict[str, int]:
    """Return the number of changes by subject; a subject without changes is absent."""
    return {row.subject: row.n for row in session.execute(select(changes))}


def _write_touches(session: Session) -> None:
    """Write the counts of what was touched since the last commit or savepoint."""
    touched = [{"subject": subject, "n": 1} for subject in sorted(session.info.pop(_TOUCHED, ()))]
    if touched:
        # Added inside the database: two writers that both read n would lose one of the changes.
        added = dialect_insert(changes, session.get_bind().dialect.name).values(touched)
        more = {"n": changes.c.n + 1}
        session.execute(added.on_conflict_do_update(index_elements=["subject"], set_=more))


def dialect_insert(table: Table, dialect: str) -> sqlite.Insert | postgresql.Insert:
    """Return an INSERT of a database's own kind, which can say what happens on a conflict."""
    return sqlite.insert(table) if dialect == "sqlite" else postgresql.insert(table)


Values = Mapping[str, Any]


def insert(session: Session, table: Table, values: Values) -> int:
    """Record a row and return its id."""
    touch(session, _subject(table))
    return _inserted(session, table, values)


def insert_many(session: Session, table: Table, values: Sequence[Values]) -> None:
    """Record many rows at once; a column that some leave out is empty in them."""
    touch(session, _subject(table))
    names = {name for one in values for name in one}
    if values:
        session.execute(insert_into(table), [{name: one.get(name) for name in names} for one in values])


def insert_batch(session: Session, table: Table, kind: str, code: str, values: Values) -> int:
    """Record a batch and the row that describes it, under one id, and return the id."""
    batch_id = _inserted(session, batches, {"kind": kind, "code": code})
    insert(session, table, {**values, "id": batch_id})
    return batch_id


def change(
    session: Session,
    table: Table,
    row_id: int,
    revision: int,
    values: Values,
    *,
    by: int | None,
    at: datetime,
    why: str = "",
) -> int:
    """Change a row that was read at `revision` and return its new revision.

    Raises Stale when it was changed or voided since, NoSuchRow when there never was one.
    """
    _record_former(session, table, row_id, revision, "changed", by=by, at=at, why=why)
    session.execute(update(table).where(table.c.id == row_id).values({**values, "revision": revision + 1}))
    return revision + 1


def void(
    session: Session, table: Table, row_id: int, revision: int, *, by: int | None, at: datetime, why: str = ""
) -> None:
    """Remove a row from the records; its last revision stays in the history.

    Raises InUse while other records refer to it, else like `change`.
    """
    _record_former(session, table, row_id, revision, "voided", by=by, at=at, why=why)
    try:
        session.execute(delete(table).where(table.c.id == row_id))
        if table.c.id.references(batches.c.id):
            session.execute(delete(batches).where(batches.c.id == row_id))
    except IntegrityError as error:
        raise InUse(table.name, row_id) from error


def _record_former(
    session: Session, table: Table, row_id: int, revision: int, act: str, **who_when: Any
) -> None:
    row = session.execute(select(table).where(table.c.id == row_id).with_for_update()).one_or_none()
    if row is None or row.revision != revision:
        raise stale(session, table, row_id, revision)
    touch(session, _subject(table))
    former = {
        "table_name": table.name,
        "row_id": row_id,
        "revision": revision,
        "before": former_values(table, row),
    }
    session.execute(insert_into(history).values(**former, act=act, **who_when))


def stale(session: Session, table: Table, row_id: int, revision: int) -> Stale | NoSuchRow:
    """Return the error for a revision that is not the newest, with who ended it and when."""
    ended = select(history.c.by, history.c.at).where(
        history.c.table_name == table.name, history.c.row_id == row_id, history.c.revision >= revision
    )
    first = session.execute(ended.order_by(history.c.revision).limit(1)).one_or_none()
    return NoSuchRow(table.name, row_id) if first is None else Stale(table.name, row_id, first.by, first.at)


def former_values(table: Table, row: Row[Any]) -> dict[str, object]:
    """Return the values of a row as the history keeps them: without those of personal columns."""
    return {
        column.name: _plain(value)
        for column, value in zip(table.columns, row, strict=True)
        if not column.info.get("personal")
    }


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, date | datetime) else value


def _inserted(session: Session, table: Table, values: Values) -> int:
    returned = session.execute(insert_into(table).values(dict(values)).returning(table.c.id))
    return int(returned.scalar_one())


def _subject(table: Table) -> str:
    if table.info.get("kind") != "row":
        raise TypeError(f"{table.name} is not a table of rows")
    return str(table.info["subject"])


def lock_guest(session: Session, guest_id: int) -> RowMapping:
    """Lock a guest's row until the transaction ends and return it. Raises NoSuchRow.

    The lock orders everything that changes what a guest may be served.
    """
    return lock_guests(session, [guest_id])[guest_id]


def lock_guests(session: Session, guest_ids: Iterable[int]) -> dict[int, RowMapping]:
    """Lock several guests' rows, in order of id so that two such locks never deadlock, and return them."""
    wanted = set(guest_ids)
    in_order = select(guests).where(guests.c.id.in_(wanted)).order_by(guests.c.id).with_for_update()
    rows = {row["id"]: row for row in session.execute(in_order).mappings()}
    for missing in sorted(wanted - rows.keys()):
        raise NoSuchRow(guests.name, missing)
    return rows
