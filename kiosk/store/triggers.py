"""Triggers by which the database itself refuses to change or remove ledger entries.

A migration that rebuilds a ledger on SQLite loses its triggers and must call
`refuse_changes` again; one that changes stored names calls `allow_changes` before.
A test compares every database with the tables.
"""

_POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION kiosk_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'entries of the ledger % are only ever added', TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation';
END $$
"""


def refuse_changes(table: str, dialect: str) -> list[str]:
    """Return the statements that make a table append-only on a kind of database."""
    if dialect == "sqlite":
        return [_sqlite_trigger(table, act) for act in ("update", "delete")]
    return [
        _POSTGRESQL_FUNCTION,
        f"CREATE TRIGGER {table}_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION kiosk_refuse_change()",
    ]


def allow_changes(table: str, dialect: str) -> list[str]:
    """Return the statements that drop what `refuse_changes` makes, for a migration that restores it."""
    on = "" if dialect == "sqlite" else f" ON {table}"
    return [f"DROP TRIGGER {name}{on}" for name in trigger_names(table, dialect)]


def trigger_names(table: str, dialect: str) -> list[str]:
    """Return the names of the triggers that `refuse_changes` makes."""
    return [f"{table}_no_update", f"{table}_no_delete"] if dialect == "sqlite" else [f"{table}_only_added"]


def _sqlite_trigger(table: str, act: str) -> str:
    return (
        f"CREATE TRIGGER {table}_no_{act} BEFORE {act.upper()} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, 'entries of the ledger {table} are only ever added'); END"
    )
