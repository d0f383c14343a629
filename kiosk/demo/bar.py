"""The demo's bar: sealed bottles received the day before, one of each open and weighed that evening."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.production.importing.reading import Line
from kiosk.site.settings import Site
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.bottles import bottle_entries, stock
from kiosk.tasting.bottles.bottle_entries import BottleEntryForm, Opening

RECEIVED, OPENED, WEIGHED = (timedelta(hours=hours) for hours in (20, 10, 9))
"""How long before today's service day began."""

EVENING_MC = 24_000


def add_stock(session: Session, site: Site, lines: Sequence[Line], by: int, now: datetime) -> None:
    """Record what each line says was received, opened and weighed."""
    ids = dict(session.execute(select(approvals.c.code, approvals.c.id)).all())
    begun, _end = site.day_bounds(site.service_day(now))
    for line in lines:
        c: Mapping[str, Any] = line.cells
        approval, room, size = ids[c["approval"]], c["room"], c["size_ml"]
        came = stock.Line(approval, room, "received", c["received"], size, c["document"])
        stock.record(session, site, _origin(by), came, begun - RECEIVED)
        opening = Opening(approval, room, size, gross_g=c["opened_g"], temperature_mc=EVENING_MC)
        bottle = bottle_entries.open_new(session, site, _origin(by), opening, begun - OPENED)
        told = BottleEntryForm("weigh", c["weighed_g"], EVENING_MC)
        bottle_entries.enter(session, site, _origin(by), bottle, told, begun - WEIGHED)


def _origin(by: int) -> EntryOrigin:
    return EntryOrigin(new_key(), by, None)
