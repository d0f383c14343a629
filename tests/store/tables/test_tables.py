"""The tables of the code are those of the database that the migrations make."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import JSON, CheckConstraint, inspect, text
from sqlalchemy.dialects import postgresql, sqlite

from kiosk.store.engine import Store
from kiosk.store.tables import metadata
from kiosk.store.tables.base import UtcTime


def test_the_migrations_make_the_tables_of_the_code(store: Store) -> None:
    options = {"compare_type": True, "compare_server_default": True}
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts=options)
        assert compare_metadata(context, metadata) == []


def test_the_migrations_make_the_checks_of_the_code(store: Store) -> None:
    inspector = inspect(store.engine)
    for table in metadata.tables.values():
        wanted = {str(c.name) for c in table.constraints if isinstance(c, CheckConstraint)}
        found = {check["name"] for check in inspector.get_check_constraints(table.name)}
        assert {name.split(f"ck_{table.name}_")[-1] for name in wanted} == {
            str(name).split(f"ck_{table.name}_")[-1] for name in found
        }


AT = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
DIALECTS = [sqlite.dialect(), postgresql.dialect()]


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let this process run on a computer whose own clock is not that of UTC."""
    monkeypatch.setenv("TZ", "America/Puerto_Rico")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("elsewhere")
@pytest.mark.parametrize("dialect", DIALECTS, ids=lambda dialect: dialect.name)
def test_an_instant_is_the_same_whatever_the_computers_own_zone(dialect) -> None:
    own, kept = UtcTime(), AT.replace(tzinfo=None) if dialect.name == "sqlite" else AT
    for sent in (AT, AT.astimezone(timezone(timedelta(hours=9)))):
        assert own.process_bind_param(sent, dialect) == kept
    for stored in (kept, AT.astimezone(timezone(timedelta(hours=-4)))):
        assert own.process_result_value(stored, dialect) == AT
        assert own.process_result_value(stored, dialect).utcoffset() == timedelta(0)
    assert own.process_bind_param(None, dialect) is own.process_result_value(None, dialect) is None
    with pytest.raises(ValueError, match="without a zone"):
        own.process_bind_param(AT.replace(tzinfo=None), dialect)


def test_the_migrations_give_the_tables_their_keys(store: Store) -> None:
    inspector = inspect(store.engine)
    for table in metadata.tables.values():
        key = inspector.get_pk_constraint(table.name)["constrained_columns"]
        assert key == [column.name for column in table.primary_key], table.name


def test_sqlite_never_gives_an_id_twice_where_the_code_says_so(sqlite_store: Store) -> None:
    with sqlite_store.engine.connect() as connection:
        never_twice = connection.scalars(
            text("SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%AUTOINCREMENT%'")
        )
        assert set(never_twice) == {
            table.name
            for table in metadata.tables.values()
            if table.dialect_options["sqlite"]["autoincrement"]
        }


def test_a_value_that_is_not_known_is_kept_as_nothing_and_not_as_a_text_of_it() -> None:
    optional = [
        column
        for table in metadata.tables.values()
        for column in table.c
        if isinstance(column.type, JSON) and column.nullable
    ]
    assert {column.name for column in optional} >= {"allergens", "plan"}
    assert all(column.type.none_as_null for column in optional)


def test_what_is_personal_is_marked_so() -> None:
    assert {
        f"{table.name}.{column.name}"
        for table in metadata.tables.values()
        for column in table.c
        if column.info.get("personal")
    } == {
        *("guests.first_name", "guests.allergens", "guests.access_needs"),
        *("bookings.lead_name", "bookings.contact", "bookings.notes", "bookings.ticket"),
        *("bookings.access_needs", "bookings.allergens", "bookings.source_key"),
        *("bookings.allergy_notes", "bookings.voucher"),
        *("staff.name", "staff.pin_hash", "permits.number"),
        *("visitors.name", "visitors.host", "held.payload"),
    }
