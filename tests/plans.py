"""Which tables a SQLite database reads from end to end while something is done."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from sqlalchemy import event

from kiosk.store.engine import Store


def scanned(store: Store, act: Callable[[], object]) -> set[str]:
    """Do `act` and return the tables of which its queries read every row."""
    asked: list[tuple[str, Any]] = []

    def note(*told: Any) -> None:
        if told[2].startswith(("SELECT", "INSERT", "UPDATE", "DELETE")):
            asked.append((told[2], told[3]))

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        act()
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    steps: list[str] = []
    with store.read() as session:
        for sql, values in asked:
            plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}", values)
            steps += [row[3] for row in plan]
    return {found[1] for step in steps if (found := re.match(r"SCAN (?!CONSTANT)(\w+)", step))}
