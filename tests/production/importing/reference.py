"""The tables of the reference page, written by `python -m tests.production.importing.reference`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from kiosk.production.entering.labels import LABELS, TITLES
from kiosk.production.importing.columns import Column
from kiosk.production.importing.kinds import KINDS, Kind

PAGE = Path(__file__).parents[3] / "content" / "manual" / "records.en.md"
HEADING = "## The files\n\n"
SORTS = {"day": "a day", "moment": "a time", "code": "a code", "words": "words"}


def tables() -> str:
    """Return one table for each kind of record."""
    return "\n\n".join("\n".join(_lines(kind)) for kind in KINDS) + "\n"


def _lines(kind: Kind) -> Iterator[str]:
    yield f"### {kind.file}: {TITLES[kind.table.name]}\n"
    yield "| heading | | what stands there | |"
    yield "|---|---|---|---|"
    for column in kind.columns:
        empty = "" if column.needed else "may stay empty"
        yield f"| `{column.name}` | {empty} | {_asked(column)} | {LABELS[column.name]} |"


def _asked(column: Column) -> str:
    if column.allowed:
        words = ", ".join(f"`{one}`" for one in column.allowed)
        return f"the number of an instrument, or {words}" if column.sort == "instrument" else words
    if column.limits:
        low, high = column.limits
        return f"{low:,.0f} to {high:,.0f}".replace(",", "\u202f")
    return SORTS[column.sort]


if __name__ == "__main__":
    before, heading, _ = PAGE.read_text(encoding="utf-8").partition(HEADING)
    PAGE.write_text(before + heading + tables(), encoding="utf-8")
