"""The figures of the casks: counted (`cellar`) and estimated (`angels`) from one reading of the fills.

What is in a cask now is an estimate for this moment, made from gauges; the
time that stands with it is that of the newest record it rests on, so that a
store nobody has gauged for months says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.figures.figure import Figure, Provider
from kiosk.production.live import angels, cellar
from kiosk.production.live.saying import NO_RECORD, unknown
from kiosk.site.settings import Site

SPECS = (*cellar.SPECS, *angels.SPECS)


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return what is counted and what is estimated of the casks at `now`."""
    found = cellar.read_cellar(session, now)
    if found is None:
        return {(spec.name, ""): unknown(NO_RECORD) for spec in SPECS if not spec.of}
    year_begins, _ = site.day_bounds(site.service_day(now).replace(month=1, day=1))
    return {**cellar.counted(found, year_begins), **angels.estimated(found)}


# Six hours change an estimate by less than its last digit; a record changes it at once.
PROVIDER = Provider(SPECS, frozenset({"casks", "draws"}), fresh_s=6 * 3600, compute=compute)
