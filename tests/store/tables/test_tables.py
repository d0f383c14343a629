"""The tables of the code are those of the database that the migrations make."""

from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import CheckConstraint, inspect

from kiosk.store.engine import Store
from kiosk.store.tables import metadata


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
