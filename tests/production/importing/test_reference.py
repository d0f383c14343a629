"""The reference page says of every file what the code asks."""

from __future__ import annotations

from tests.production.importing.reference import HEADING, PAGE, tables


def test_the_reference_page_has_the_tables_of_the_code() -> None:
    told = PAGE.read_text(encoding="utf-8").partition(HEADING)[2]
    assert told == tables(), "run python -m tests.production.importing.reference"
