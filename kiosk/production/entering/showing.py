"""What the pages of the records share: what fields say, how faults are told, who writes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy.orm import Session

from kiosk.production.entering.labels import CHOICES, LABELS
from kiosk.production.entering.reading import EntryFaults, told
from kiosk.production.importing.columns import Column
from kiosk.production.runs.instruments import SCALES, KnownInstrument, read_instruments
from kiosk.web import access
from kiosk.web.context import now, site_context, words
from kiosk.words.formats import plain_number

LAST_INSTRUMENT = "kiosk_instrument"


def me() -> int | None:
    """Return who is signed in."""
    somebody = access.person()
    return somebody.id if somebody else None


def faults_told(faults: EntryFaults) -> dict[str, str]:
    """Return a sentence for each field that is wrong, under `form` what belongs to none."""
    return {fault.column or "form": told(fault.message, fault.facts, words()) for fault in faults.faults}


def shown(columns: Sequence[Column], cells: Mapping[str, str]) -> dict[str, str]:
    """Return cells as the reader types them: their own decimal mark, the browser's own time."""
    typed = {}
    for column in columns:
        text = cells.get(column.name, "")
        if text and column.sort == "number":
            text = plain_number(float(text), words())
        typed[column.name] = text.replace(" ", "T") if column.sort == "moment" else text
    return typed


def known_instruments(session: Session) -> list[tuple[KnownInstrument, bool]]:
    """Return every instrument of the house, and whether its certificate has run out by today."""
    at = now()
    today = site_context().site.local(at).date()
    return [(one, one.has_run_out(at, today)) for one in read_instruments(session).every]


def names(known: Sequence[tuple[KnownInstrument, bool]]) -> dict[str, object]:
    """Return what the template of a field looks words up in."""
    return {"labels": LABELS, "choices": CHOICES, "instruments": known, "scales": SCALES, "clock": now()}
