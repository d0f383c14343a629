"""Keys of ledger entries, and of the several entries that one act makes.

Ledgers: added to and never changed. An entry sent twice is recorded once.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Collection, Mapping
from enum import Enum
from functools import cache
from typing import Any

from sqlalchemy import JSON, Column, Insert, Table, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from kiosk.store.errors import KeyConflict


def new_key() -> str:
    """Return a fresh key for a ledger entry: 128 random bits in hexadecimal."""
    return secrets.token_hex(16)


def key_within(act: str, n: int) -> str:
    """Return the key of the entry `n` of an act: the act sent again finds the same entries.

    The act's first 96 random bits tell it from every other; `n` is a number below 2**32.
    """
    return f"{act[:24]}{n:08x}"


def keys_within(act: str) -> tuple[str, str]:
    """Return the first and the last key that an entry of an act can have; its own lies between."""
    return key_within(act, 0), key_within(act, 2**32 - 1)


WRITTEN_HERE = frozenset({"recorded_at"})


class Appended(Enum):
    """What became of an entry: recorded now, or standing already word for word."""

    NEW = "new"
    SAME = "same"


def append(
    session: Session, table: Table, values: Mapping[str, Any], *, found_here: Collection[str] = ()
) -> Appended:
    """Record an entry under its key.

    The same key with the same body is SAME and changes nothing; with another
    body it raises KeyConflict. `recorded_at` is not part of the body, nor are
    the columns in `found_here`: what the server found out at the moment of
    recording may differ when an entry is sent again.
    """
    if table.info.get("kind") != "ledger" or "key" not in table.c:
        raise TypeError(f"{table.name} is not a ledger with keys")
    connection = session.connection()
    added = _unless_there(table, connection.dialect.name)
    if connection.execute(added, values).one_or_none() is not None:
        return Appended.NEW
    stands = session.execute(select(table).where(table.c.key == values["key"])).mappings().one()
    ignored = {*WRITTEN_HERE, *found_here}
    other = [
        c.name for c in table.c if c.name not in ignored and _differs(c, values.get(c.name), stands[c.name])
    ]
    if other:
        raise KeyConflict(table.name, values["key"], other)
    return Appended.SAME


@cache
def _unless_there(table: Table, dialect: str) -> Insert:
    # One statement: a look before the insert would leave a gap between the two. Kept,
    # because building it anew costs an entry more than running it.
    if dialect == "sqlite":
        added = sqlite.insert(table).on_conflict_do_nothing(index_elements=["key"])
        return added.returning(table.c.key)
    return postgresql.insert(table).on_conflict_do_nothing(index_elements=["key"]).returning(table.c.key)


def _differs(column: Column[Any], sent: object, stands: object) -> bool:
    if isinstance(column.type, JSON):
        return json.dumps(sent, sort_keys=True) != json.dumps(stands, sort_keys=True)
    return sent != stands
