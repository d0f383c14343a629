"""The manual's page on records says of every file what the code asks."""

from __future__ import annotations

import pytest

from tests.production.records.reference import HEADINGS, PAGES, tables


@pytest.mark.parametrize("language", PAGES)
def test_the_records_page_has_the_tables_of_the_code(language: str) -> None:
    written = PAGES[language].read_text(encoding="utf-8").partition(HEADINGS[language])[2]
    assert written == tables(language), "run python -m tests.production.records.reference"
