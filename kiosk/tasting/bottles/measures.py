"""Checks of the house's measures: ten pours of water, weighed one by one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.service.stocktaking import MeasureCheck, measure_check
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import measure_checks


@dataclass(frozen=True, slots=True)
class Checked:
    """The last check of a measure."""

    measure: str
    at: datetime
    check: MeasureCheck


def check(
    session: Session, site: Site, origin: EntryOrigin, measure: str, weights_g: Sequence[float], now: datetime
) -> MeasureCheck:
    """Record ten weighed pours of water of a measure. Raises Malformed and FigureError."""
    if measure not in {one.id for one in site.measures}:
        raise Malformed(part="measure")
    found = measure_check(weights_g)
    values = {
        "key": origin.key,
        "at": origin.at(now),
        "recorded_at": now,
        "by": origin.by,
        "device_id": origin.device_id,
        "measure": measure,
        "weights_g": list(weights_g),
    }
    ledgers.append(session, measure_checks, values, ignoring={"at"})
    return found


def checks(session: Session, until: datetime) -> Mapping[str, Checked]:
    """Return the last check of each measure before `until`."""
    m = measure_checks.c
    told = select(m.measure, m.at, m.weights_g).where(m.at < until).order_by(m.at, m.key)
    return {
        row.measure: Checked(row.measure, row.at, measure_check(row.weights_g))
        for row in session.execute(told)
    }
