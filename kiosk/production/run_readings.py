"""Readings of still runs as the figures see them: each strength corrected once, here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from kiosk.figures.stillrun import Reading
from kiosk.figures.strength import reading_abv_percent
from kiosk.production.instruments import read_instruments
from kiosk.store.tables.production import run_readings


def read_runs(
    session: Session, run_ids: Collection[int] | Select[int], until: datetime | None = None
) -> Mapping[int, Sequence[tuple[int, Reading]]]:
    """Return by run its readings in the order of time, each with its id, corrected to 20 °C.

    Raises FigureError for a reading that makes no strength.
    """
    known, r = read_instruments(session), run_readings.c
    query = select(run_readings).where(r.run_id.in_(run_ids)).order_by(r.at)
    found: dict[int, list[tuple[int, Reading]]] = defaultdict(list)
    for row in session.execute(query if until is None else query.where(r.at <= until)):
        certificate = known.certificate(row.instrument_id, row.at)
        abv = reading_abv_percent(row.scale, row.reading_e2 / 100, row.temperature_mc / 1000, certificate)
        found[row.run_id].append((row.id, Reading(row.at, row.cut, row.collected_ml / 1000, abv)))
    return found
