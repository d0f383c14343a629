"""Tables, columns, kinds and codes under the names that the trade uses; every record stays as it was.

Kinds and codes in JSON are renamed too. A signed closing has no digest and keeps all
its figures; the body of a policy, which its digest covers, holds none of these names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

import sqlalchemy as sa
from alembic import op

from kiosk.store.migrations import held_codes
from kiosk.store.triggers import allow_changes, refuse_changes

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

Names = Mapping[str, str]
TABLES: Names = {
    "releases": "approvals",
    "day_rules": "day_restrictions",
    "parties": "bookings",
    "closings": "shift_closings",
}
COLUMNS: Mapping[str, tuple[str, str]] = {
    "bottles": ("release_id", "approval_id"),
    "stock_entries": ("release_id", "approval_id"),
    "guests": ("party_id", "booking_id"),
    "pours": ("place", "seat"),
    "flights": ("retired", "archived"),
}
WIDTHS = (16, 20)  # of marks.kind
LEDGERS = ("pours", "pour_marks", "marks", "refusals", "stock_entries", "history")  # beside renamed ones
KINDS: Mapping[str, Names] = {
    "marks": {
        "document": "id_check",
        "none_today": "no_alcohol",
        "drinks_today": "no_alcohol_lifted",
        "stopped": "service_stopped",
        "lifted": "service_resumed",
    },
    "pour_marks": {
        "mis_tap": "void",
        "to_guest": "reassign",
        "left": "unfinished",
        "emptied": "finished",
    },
}
REASONS: Names = {
    "none_today": "no_alcohol",
    "stopped": "service_stopped",
    "not_released": "not_approved",
}


def upgrade() -> None:
    """Rename the tables and columns, then what is stored in them."""
    ledgers = {*LEDGERS, "day_rules", "closings"}
    _each(allow_changes, ledgers)
    _rename_tables(TABLES, COLUMNS, WIDTHS)
    _rename_values(lambda names: names)
    _each(refuse_changes, {TABLES.get(name, name) for name in ledgers})


def downgrade() -> None:
    """Give back the former names, the stored ones first."""
    ledgers = {*LEDGERS, "day_restrictions", "shift_closings"}
    former = _turned(TABLES)
    _each(allow_changes, ledgers)
    _rename_values(_turned)
    columns = {former.get(table, table): (new, old) for table, (old, new) in COLUMNS.items()}
    _rename_tables(former, columns, (WIDTHS[1], WIDTHS[0]))
    _each(refuse_changes, {former.get(name, name) for name in ledgers})


def _turned(names: Names) -> Names:
    return {new: old for old, new in names.items()}


def _each(statements: Callable[[str, str], list[str]], tables: set[str]) -> None:
    for table in sorted(tables):
        for statement in statements(table, op.get_bind().dialect.name):
            op.execute(statement)


# Tables


def _rename_tables(tables: Names, columns: Mapping[str, tuple[str, str]], widths: tuple[int, int]) -> None:
    if op.get_bind().dialect.name == "sqlite":
        for table in (*tables, *columns, "marks"):
            _build_anew(table, tables, columns, widths)
        return
    for old, new in tables.items():
        op.rename_table(old, new)
    for table, (before, after) in columns.items():
        op.alter_column(table, before, new_column_name=after)
    op.alter_column("marks", "kind", type_=sa.String(widths[1]), existing_nullable=False)
    for table in (*tables.values(), *columns):
        _rename_objects(table, _patterns(table, tables, columns))


def _patterns(table: str, tables: Names, columns: Mapping[str, tuple[str, str]]) -> list[tuple[str, str]]:
    """Return the names to replace in what belongs to a table: every renamed table, and its column."""
    words = [*tables.items(), *([columns[table]] if table in columns else [])]
    return [(rf"(?<![a-z]){old}(?![a-z])", new) for old, new in words]


def _replaced(text: str, patterns: list[tuple[str, str]]) -> str:
    for pattern, new in patterns:
        text = re.sub(pattern, new, text)
    return text


def _build_anew(
    table: str, tables: Names, columns: Mapping[str, tuple[str, str]], widths: tuple[int, int]
) -> None:
    """Build a table of SQLite anew from its own declaration, so that its constraints are renamed too.

    The numbers that its rows have used are never given again.
    """
    bind, new = op.get_bind(), tables.get(table, table)
    patterns = _patterns(table, tables, columns)
    if table == "marks":
        patterns.append((rf"kind VARCHAR\({widths[0]}\)", f"kind VARCHAR({widths[1]})"))
    of_table = "SELECT sql FROM sqlite_master WHERE tbl_name = ? AND type = ? AND sql IS NOT NULL"
    (declared,) = bind.exec_driver_sql(of_table, (table, "table")).scalars()
    indexes = [_replaced(sql, patterns) for sql in bind.exec_driver_sql(of_table, (table, "index")).scalars()]
    used = "SELECT seq FROM sqlite_sequence WHERE name = ?"
    last = bind.exec_driver_sql(used, (table,)).scalar()
    _, _, inside = _replaced(declared, patterns).partition("(")
    bind.exec_driver_sql(f"CREATE TABLE _built_anew ({inside}")
    bind.exec_driver_sql(f"INSERT INTO _built_anew SELECT * FROM {table}")
    bind.exec_driver_sql(f"DROP TABLE {table}")
    bind.exec_driver_sql(f"ALTER TABLE _built_anew RENAME TO {new}")
    for index in indexes:
        bind.exec_driver_sql(index)
    if last is not None:
        bind.exec_driver_sql("DELETE FROM sqlite_sequence WHERE name = ?", (new,))
        bind.exec_driver_sql("INSERT INTO sqlite_sequence (name, seq) VALUES (?, ?)", (new, last))


def _rename_objects(table: str, patterns: list[tuple[str, str]]) -> None:
    """Rename the constraints, indexes and sequences of a table of PostgreSQL after it."""
    bind = op.get_bind()
    of_table = {"table": table}
    constraints = sa.text("SELECT conname FROM pg_constraint WHERE conrelid = CAST(:table AS regclass)")
    for name in bind.execute(constraints, of_table).scalars().all():
        if (new := _replaced(name, patterns)) != name:
            op.execute(f'ALTER TABLE {table} RENAME CONSTRAINT "{name}" TO "{new}"')
    relations = sa.text(
        "SELECT c.relname, c.relkind FROM pg_class c JOIN pg_depend d ON d.objid = c.oid "
        "WHERE d.refobjid = CAST(:table AS regclass) AND c.relkind IN ('i', 'S')"
    )
    for name, kind in {(row.relname, row.relkind) for row in bind.execute(relations, of_table)}:
        if (new := _replaced(name, patterns)) != name:
            op.execute(f'ALTER {"INDEX" if kind == "i" else "SEQUENCE"} "{name}" RENAME TO "{new}"')


# What is stored


def _rename_values(way: Callable[[Names], Names]) -> None:
    for table, kinds in KINDS.items():
        _update(table, "kind", way(kinds))
    _update("history", "act", way({"withdrawn": "voided"}))
    _update("history", "table_name", way(TABLES))
    _update("changes", "subject", way({"releases": "approvals"}))
    reasons, part = way(REASONS), way({"set_out_ul": "preset_ul", "disbelieved": "rejected"})
    _rewrite("refusals", "key", "reasons", partial(_codes, names=reasons))
    _rewrite("shift_closings", "key", "body", partial(_closing, reasons=reasons, part=part))
    for table, (old, new) in COLUMNS.items():
        _rewrite("history", "id", "before", partial(_keys, names=way({old: new})), table_name=table)
    for ledger, kinds in KINDS.items():
        _rewrite("held", "id", "payload", partial(_kind, names=way(kinds)), kind=ledger)
    _rewrite("held", "id", "payload", partial(_keys, names=way({"place": "seat"})), kind="pours")
    for kind in ("record", "line"):
        _rewrite("held", "id", "reasons", partial(held_codes.renamed, names=way(held_codes.CODES)), kind=kind)


def _update(table: str, column: str, names: Names) -> None:
    for old, new in names.items():
        statement = sa.text(f"UPDATE {table} SET {column} = :new WHERE {column} = :old")
        op.get_bind().execute(statement, {"old": old, "new": new})


def _rewrite(table: str, key: str, column: str, new: Callable[[Any], Any], **where: str) -> None:
    """Rewrite the JSON of a column where it says something else afterwards."""
    of = sa.table(table, sa.column(key), sa.column(column, sa.JSON), *(sa.column(name) for name in where))
    rows = sa.select(of.c[key], of.c[column]).where(*(of.c[name] == value for name, value in where.items()))
    found = [(row_key, old, new(old)) for row_key, old in op.get_bind().execute(rows)]
    changed = [{"of_row": row_key, "value": value} for row_key, old, value in found if value != old]
    if changed:
        one = sa.update(of).where(of.c[key] == sa.bindparam("of_row"))
        op.get_bind().execute(one.values({column: sa.bindparam("value", type_=sa.JSON)}), changed)


def _keys(value: Mapping[str, Any], names: Names) -> dict[str, Any]:
    return {names.get(name, name): one for name, one in value.items()}


def _closing(body: Mapping[str, Any], reasons: Names, part: Names) -> dict[str, Any]:
    counts = {
        name: {**body[name], "reasons": _keys(body[name].get("reasons", {}), reasons)}
        for name in ("breaches", "refusals")
        if name in body
    }
    return {**body, **counts, "products": [_keys(one, part) for one in body.get("products", ())]}


def _codes(codes: Sequence[str], names: Names) -> list[str]:
    return [names.get(code, code) for code in codes]


def _kind(entry: Mapping[str, Any], names: Names) -> dict[str, Any]:
    kind = entry.get("kind")
    return {**entry, "kind": names[kind]} if isinstance(kind, str) and kind in names else dict(entry)
