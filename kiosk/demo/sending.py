"""The demo's own instruments, one of which sends readings, and a reading for whoever wants to try."""

from __future__ import annotations

import json
from datetime import datetime, time, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.strength import Certificate
from kiosk.production.runs import instruments
from kiosk.production.runs.account import read_runs
from kiosk.production.sending.binding import bind
from kiosk.site.settings import Site
from kiosk.store.tables import production as t

NAME = "density meter at the stills"
HYDROMETER, METER = "H-60-70", "DM-1"
# Invented: what a calibration house might write of a sound hydrometer and its thermometer.
_SAYS = ((HYDROMETER, "glass_abv20", -0.1, 0.2), (METER, "density_meter", 0.02, 0.0))
_SINCE, _UNTIL = timedelta(days=200), timedelta(days=165)


def add_instruments(session: Session, site: Site, manager: int, now: datetime) -> str:
    """Record a hydrometer and a density meter and return a shell line that sends what the meter reads.

    `{address}` in the line stands for the address that the house is served at.
    """
    today = site.local(now).date()
    since = datetime.combine(today - _SINCE, time(), site.zone)
    for code, scale, correction, thermometer_c in _SAYS:
        made = instruments.add(session, code, scale)
        says = Certificate(correction, thermometer_c, today + _UNTIL)
        instruments.certify(session, made, since, says, by=manager, at=now)
    v = t.vessels.c
    stills = list(session.scalars(select(v.code).where(v.kind.in_(("wash_still", "spirit_still")))))
    w = t.washes.c
    tanks = select(v.code).join(t.washes, w.vessel_id == v.id).where(w.ended_at.is_(None), w.set_at <= now)
    tank = session.scalars(tanks.order_by(w.set_at.desc())).first()
    token = bind(session, site, NAME, [*stills, *([tank] if tank else [])], now)
    body = _of_still(session, now) or _of_tank(tank or "", now)
    return _line(token, body)


def _of_still(session: Session, now: datetime) -> dict[str, object] | None:
    """Return the next reading of the run that is under way."""
    r = t.runs.c
    under_way = select(r.id, t.vessels.c.code).join(t.vessels, t.vessels.c.id == r.vessel_id)
    found = session.execute(
        under_way.where(r.ended_at.is_(None), r.started_at <= now).order_by(r.started_at.desc())
    ).first()
    readings = read_runs(session, [found.id], now).get(found.id) if found else None
    if not found or not readings:
        return None
    last = readings[-1][1]
    return {
        **_reading("still", found.code, now),
        "cut": last.cut,
        "collected_l": round(last.collected_l + 1, 1),
        "collected_temperature_c": 20,
        "scale": "density_meter",
        "instrument": METER,
        "reading": round(last.abv_percent - 0.2, 1),
        "temperature_c": 20,
    }


def _of_tank(tank: str, now: datetime) -> dict[str, object]:
    return {**_reading("wash", tank, now), "measure": "temperature", "value": 31.5}


def _reading(kind: str, vessel: str, now: datetime) -> dict[str, object]:
    return {"id": "try-1", "kind": kind, "vessel": vessel, "at": now.isoformat(timespec="seconds")}


def _line(token: str, body: dict[str, object]) -> str:
    headers = f"-H 'Authorization: Bearer {token}' -H 'Content-Type: application/json'"
    return f"  curl {headers} -d '{json.dumps(body)}' {{address}}/staff/readings"
