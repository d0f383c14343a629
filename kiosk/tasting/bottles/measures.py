"""Checks of the house's measures by ten pours of water, weighed one by one."""

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
class LastCheck:
    """The last check of a measure."""

    at: datetime
    check: MeasureCheck


def record_check(
    session: Session, site: Site, origin: EntryOrigin, measure: str, weights_g: Sequence[float], now: datetime
) -> MeasureCheck:
    """Record the weights of ten pours of water, and return the accuracy of the measure that follows.

    Raises Malformed and FigureError.
    """
    if measure not in {known.id for known in site.measures}:
        raise Malformed(part="measure")
    accuracy = measure_check(weights_g)
    values = {"measure": measure, "weights_g": list(weights_g)}
    entry = origin.values(origin.at(now), now) | values
    ledgers.append(session, measure_checks, entry, ignoring={"at"})
    return accuracy


def last_checks(session: Session, until: datetime) -> Mapping[str, LastCheck]:
    """Return the last check of each measure before `until`, by the measure's id."""
    m = measure_checks.c
    query = select(m.measure, m.at, m.weights_g).where(m.at < until).order_by(m.at, m.key)
    checks = session.execute(query)
    return {row.measure: LastCheck(row.at, measure_check(row.weights_g)) for row in checks}
