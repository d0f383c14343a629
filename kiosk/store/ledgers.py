"""Ledgers: entries are added and never changed. An entry sent twice is recorded once, by its key."""

import json
import secrets
from collections.abc import Collection, Mapping, Sequence
from enum import Enum
from functools import cache
from typing import Any

from sqlalchemy import JSON, Column, Insert, Table, select
from sqlalchemy.orm import Session

from kiosk.store.errors import KeyConflict
from kiosk.store.rows import dialect_insert


def new_key() -> str:
    """Return a fresh key for a ledger entry: 128 random bits in hexadecimal."""
    return secrets.token_hex(16)


def key_within(act: str, n: int) -> str:
    """Return the key of the entry `n` (below 2**32) of an act with several entries.

    It starts with 96 random bits of the act's key, so that an act sent again has the same keys.
    """
    return f"{act[:24]}{n:08x}"


def keys_within(act: str) -> tuple[str, str]:
    """Return the first and the last key that an entry of an act can have; the act's own lies between."""
    return key_within(act, 0), key_within(act, 2**32 - 1)


class Appended(Enum):
    """The result of `append`: the entry was recorded now, or stood there already with the same body."""

    NEW = "new"
    SAME = "same"


def append(
    session: Session, table: Table, values: Mapping[str, Any], *, ignoring: Collection[str] = ()
) -> Appended:
    """Record an entry under its key.

    The same key with the same body is SAME and changes nothing; with another
    body it raises KeyConflict. `recorded_at` is not part of the body, nor are
    `ignoring`: their values are set by the server at the moment of
    recording and may differ when an entry is sent again.
    """
    if table.info.get("kind") != "ledger" or "key" not in table.c:
        raise TypeError(f"{table.name} is not a ledger with keys")
    connection = session.connection()
    added = _insert_once(table, connection.dialect.name)
    if connection.execute(added, values).one_or_none() is not None:
        return Appended.NEW
    recorded = session.execute(select(table).where(table.c.key == values["key"])).mappings().one()
    body = [column for column in table.c if column.name not in {"recorded_at", *ignoring}]
    other = [c.name for c in body if _differs(c, values.get(c.name), recorded[c.name])]
    if other:
        raise KeyConflict(table.name, values["key"], other)
    return Appended.SAME


def append_all(session: Session, table: Table, entries: Sequence[Mapping[str, Any]]) -> None:
    """Record the entries of one act at once; those whose keys are recorded already change nothing."""
    connection = session.connection()
    if entries:
        added = dialect_insert(table, connection.dialect.name).on_conflict_do_nothing(index_elements=["key"])
        connection.execute(added, list(entries))


@cache
def _insert_once(table: Table, dialect: str) -> Insert:
    # One statement: a look before the insert would leave a gap between the two. Cached,
    # because building it costs more than running it.
    added = dialect_insert(table, dialect).on_conflict_do_nothing(index_elements=["key"])
    return added.returning(table.c.key)


def _differs(column: Column[Any], sent: object, recorded: object) -> bool:
    if isinstance(column.type, JSON):
        return json.dumps(sent, sort_keys=True) != json.dumps(recorded, sort_keys=True)
    return sent != recorded
