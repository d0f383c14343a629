"""What an earlier version held with sentences has codes after the migration, and can be reviewed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import insert, select

from kiosk.production.forms import review
from kiosk.production.records.faults import HELD_IN_FILES, FaultCode
from kiosk.store import migrate
from kiosk.store.engine import open_store
from kiosk.store.migrations.held_codes import CODES
from kiosk.store.tables.production import held
from tests.actors import small_site
from tests.databases import NOW, sqlite_url

GAUGE = {"cask": "C-1", "at": "2026-06-15 09:00", "volume_l": "170", "volume_temperature_c": "20"}
GAUGE |= {"instrument": "density_meter", "reading": "60", "temperature_c": "20"}
FACTS = {"found": "1", "most": "2", "held": "2", "batch": "B", "column": "at"}
PLACE = "{file}, row {row}, {column}: "


LATER = {
    "brix_range",
    "cut_goes_back",
    "falls_too_fast",
    "gravity_range",
    "juice_of_cane",
    "loses_too_much",
    "over_sugar",
    "ph_range",
    "unlisted_product",
    "wash_temperature",
}
"""Reasons of later versions: they never were sentences."""


def test_every_reason_that_holds_a_record_has_its_code() -> None:
    held_back = {str(code) for code in (*HELD_IN_FILES, FaultCode.HELD_WITH_ANOTHER)}
    assert set(CODES.values()) == held_back - LATER


def test_an_entry_held_with_sentences_is_reviewed_by_its_codes(tmp_path: Path) -> None:
    url = sqlite_url(tmp_path / "kiosk.sqlite")
    migrate._migrate(url, lambda config: command.upgrade(config, "0013"))
    reasons: list[Mapping[str, Any]] = [{"message": PLACE + sentence, "facts": FACTS} for sentence in CODES]
    payload = {"form": "regauge-volume", "cells": GAUGE, "by": None, "source": "form", "digest": ""}
    store = open_store(url)
    with store.write() as session:
        values = {"kind": "record", "payload": payload, "reasons": reasons, "at": NOW}
        session.execute(insert(held).values(values))
    store.close()
    migrate.upgrade(url)
    store = open_store(url)
    with store.read() as session:
        (entry,) = review.held_entries(session, small_site(tmp_path))
    store.close()
    assert [str(reason.code) for reason in entry.reasons] == [*CODES.values()]
    assert (entry.values["volume_l"], entry.values["at"].isoformat()) == (170.0, "2026-06-15T13:00:00+00:00")
    migrate.downgrade(url, "0013")
    store = open_store(url)
    with store.read() as session:
        (former,) = session.scalars(select(held.c.reasons))
    store.close()
    assert {one["message"] for one in former} <= CODES.keys()
