"""Shapes that tables share: column types, rows, ledgers, provenance, naming of constraints.

`table.info` says what a table is: `kind` ("row", "ledger" or "plain") and, for
rows, `subject`, the name under which figures learn that something changed.
`column.info["personal"]` marks values that history and exports leave out and
that the purge empties.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    TypeDecorator,
)


class UtcTime(TypeDecorator[datetime]):
    """An instant, kept in UTC and handed back with its zone on every database.

    SQLite drops the offset of a timezone-aware value; this type converts to UTC
    on the way in and says so on the way out. A naive value is refused.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time without a zone cannot be stored: {value!r}")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

PERSONAL = {"personal": True}


def row(name: str, subject: str, *columns: Any) -> Table:
    """Declare a table of `columns` after a stable id and a revision that counts changes, and return it.

    `subject` is the name under which figures learn that one of its rows has changed.
    """
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("revision", Integer, nullable=False, server_default="1"),
        *columns,
        info={"kind": "row", "subject": subject},
        # Without it SQLite gives the id of a voided row to the next one.
        sqlite_autoincrement=True,
    )


def batch_row(name: str, subject: str, *columns: Any) -> Table:
    """Declare a table of rows whose id is that of a batch."""
    return Table(
        name,
        metadata,
        Column("id", ForeignKey("batches.id", ondelete="RESTRICT"), primary_key=True),
        Column("revision", Integer, nullable=False, server_default="1"),
        *columns,
        info={"kind": "row", "subject": subject},
    )


def ledger(name: str, *columns: Any) -> Table:
    """Declare a ledger. `key` is 128 random bits as hex, made by the device that sends the entry.

    `at` is when it happened, by the server's clock; `recorded_at` when it was
    written; `by` the staff member who claims it.
    """
    return Table(
        name,
        metadata,
        Column("key", String(32), primary_key=True),
        Column("at", UtcTime, nullable=False),
        Column("recorded_at", UtcTime, nullable=False),
        Column("by", ForeignKey("staff.id", ondelete="RESTRICT"), nullable=True, index=True),
        Column("device_id", ForeignKey("devices.id", ondelete="RESTRICT"), nullable=True, index=True),
        CheckConstraint("length(key) = 32", name="key_is_128_bits"),
        *columns,
        info={"kind": "ledger"},
    )


def ref(name: str, target: str, *, nullable: bool = False) -> Column[Any]:
    """Declare an indexed reference that forbids removing what it points at."""
    return Column(name, ForeignKey(target, ondelete="RESTRICT"), nullable=nullable, index=True)


def provenance() -> list[Column[Any]]:
    """Declare where a record came from: by whom, from which file or device."""
    return [
        Column("recorded_at", UtcTime, nullable=False),
        Column("recorded_by", ForeignKey("staff.id", ondelete="RESTRICT"), nullable=True),
        Column("source", String(80), nullable=False),
        Column("source_key", String(120), nullable=True, unique=True),
        Column("source_hash", String(64), nullable=True),
        Column("import_id", ForeignKey("imports.id", ondelete="RESTRICT"), nullable=True),
    ]
