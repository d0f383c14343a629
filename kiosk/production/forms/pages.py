"""What the pages of the records share: values as text, faults as sentences, instruments, who writes."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.fields import Field, Type, Values
from kiosk.production.records.kinds import SCALES
from kiosk.production.runs.instruments import KnownInstrument, read_instruments
from kiosk.web import access
from kiosk.web.context import now, site_context, words
from kiosk.words.formats import plain_number
from kiosk.words.record_faults import fault_sentence

LAST_INSTRUMENT = "kiosk_instrument"


def me() -> int | None:
    """Return who is signed in."""
    person = access.person()
    return person.id if person else None


def fault_sentences(faults: RecordFaults) -> dict[str, str]:
    """Return a sentence for each field that is wrong, under `form` what belongs to none."""
    return {one.column or "form": fault_sentence(one.code, one.facts, words()) for one in faults.faults}


def input_texts(fields: Sequence[Field], values: Values) -> dict[str, str]:
    """Return values as the reader types them: their own decimal mark, the browser's own time.

    A time that the clock shows twice keeps its offset, which the browser's own field cannot hold.
    """
    return {field.name: _input_text(field, values.get(field.name)) for field in fields}


def _input_text(field: Field, value: Any) -> str:
    if isinstance(value, int | float):
        return plain_number(round(value, 6), words())
    text = field.write(value, site_context().site.zone)
    return text.replace(" ", "T") if isinstance(value, datetime) else text


def cell_text(field: Field, value: Any) -> str:
    """Return a value as a page shows it: a choice by its label, the rest as files write it."""
    label = field.allowed.get(value) if field.type in (Type.CHOICE, Type.INSTRUMENT) else None
    return words().gettext(label) if label else field.write(value, site_context().site.zone)


def summary(fields: Sequence[Field], values: Values) -> str:
    """Return the first few values of a record in one line."""
    written = [(field, values[field.name]) for field in fields if values[field.name] is not None]
    return " · ".join(cell_text(field, value) for field, value in written[:4])


def known_instruments(session: Session) -> list[tuple[KnownInstrument, bool]]:
    """Return every instrument of the house, and whether its certificate has run out by today."""
    at = now()
    today = site_context().site.local(at).date()
    return [(one, one.has_run_out(at, today)) for one in read_instruments(session).every]


def field_context(known: Sequence[tuple[KnownInstrument, bool]] = ()) -> Mapping[str, Any]:
    """Return what the templates of fields and values look up."""
    return {
        "instruments": known,
        "scales": SCALES,
        "clock": now(),
        "cell_text": cell_text,
        "summary": summary,
    }
