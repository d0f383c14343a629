"""Faults as the lines that an English reader sees, and texts as the values of their fields."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from kiosk.production.records.faults import RecordFault
from kiosk.production.records.fields import Field
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.words.catalogs import load_words
from kiosk.words.record_faults import fault_line

ENGLISH = load_words(shipped("locales"), "en", "en")


def line(fault: RecordFault) -> str:
    """Return a fault's place and sentence."""
    return fault_line(fault.code, fault.facts, ENGLISH)


def typed(fields: Iterable[Field], site: Site, **texts: str) -> dict[str, Any]:
    """Return the values of some fields from their texts."""
    return {one.name: one.read(texts[one.name], site.zone) for one in fields if one.name in texts}
