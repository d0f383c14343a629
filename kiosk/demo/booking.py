"""The demo's flights, tours, bookings and approvals, as a booking office would hand them over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.importing.reading import Line
from kiosk.site.settings import Site
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables import production, tasting, tours
from kiosk.tours.arriving import give_numbers


def add_flights(session: Session, site: Site, lines: Sequence[Line]) -> Mapping[str, int]:
    """Record the flights and return their ids by name."""
    measures = {measure.id: measure.volume_ul for measure in site.measures}
    ids: dict[str, int] = {}
    for line in lines:
        c: Mapping[str, Any] = line.cells
        if c["flight"] not in ids:
            ids[c["flight"]] = rows.insert(session, tours.flights, {"name": c["flight"], "archived": False})
        volume_ul = None if c["product"] in site.recipes else measures[c["measure"]]
        item = {"pos": c["pos"], "product": c["product"], "volume_ul": volume_ul}
        rows.insert(session, tours.flight_items, {"flight_id": ids[c["flight"]], **item})
    return ids


def add_tours(
    session: Session,
    site: Site,
    lines: Sequence[Line],
    flights: Mapping[str, int],
    staff: Mapping[str, int],
) -> Mapping[tuple[object, str], int]:
    """Record the tours and return their ids by day and letter."""
    ids = {}
    for line in lines:
        c: Mapping[str, Any] = line.cells
        values = {
            "letter": c["letter"],
            "starts_at": datetime.combine(c["day"], c["starts_at"], site.zone),
            "route": c["route"],
            "languages": list(c["languages"]),
            "guide_id": staff[c["guide"]],
            "flight_id": flights[c["flight"]] if c["flight"] else None,
            "room": c["room"],
            "places": c["places"],
            "private": c["private"] == "yes",
        }
        ids[c["day"], c["letter"]] = rows.insert(session, tours.tours, values)
    return ids


def add_bookings(
    session: Session,
    site: Site,
    lines: Sequence[Line],
    tour_ids: Mapping[tuple[object, str], int],
    by: int,
    now: datetime,
) -> None:
    """Record the bookings; those that have arrived get their numbers, names and marks."""
    for line in lines:
        c: Mapping[str, Any] = line.cells
        tour_id = tour_ids[c["day"], c["tour"]]
        named = {name: c[name] for name in ("size", "language", "ticket", "lead_name", "notes")}
        booking_id = rows.insert(session, tours.bookings, {"tour_id": tour_id, **named})
        if c["arrived"] == "yes":
            give_numbers(session, site, tour_id, booking_id, now)
            _tell_apart(session, booking_id, c, by, now)


def _tell_apart(session: Session, booking_id: int, c: Mapping[str, Any], by: int, now: datetime) -> None:
    """Write down what a party said at the desk: names, the first one's allergies, who drinks none."""
    g = tours.guests
    found = session.execute(
        select(g.c.id, g.c.revision).where(g.c.booking_id == booking_id).order_by(g.c.number)
    )
    guests = found.all()
    for place, (guest, name) in enumerate(zip(guests, c["first_names"] or (), strict=False)):
        told: dict[str, Any] = {"first_name": name}
        if place == 0 and c["allergens"]:
            told["allergens"] = list(c["allergens"])
        rows.change(session, g, guest.id, guest.revision, told, by=by, at=now, why="told at the desk")
    kinds = ["under_age"] * c["under_age"] + ["no_alcohol"] * c["no_alcohol"]
    for guest, kind in zip(reversed(guests), kinds, strict=False):
        entry = {
            "key": new_key(),
            "at": now,
            "recorded_at": now,
            "by": by,
            "guest_id": guest.id,
            "kind": kind,
        }
        ledgers.append(session, tours.marks, entry)


def add_approvals(session: Session, lines: Sequence[Line], by: int) -> None:
    """Record what may be poured, signed by `by`."""
    b = production.batches.c
    lots = dict(session.execute(select(b.code, b.id).where(b.kind == "lot")).all())
    for line in lines:
        c: Mapping[str, Any] = line.cells
        density = c["density_g_per_ml"]
        values = {
            "code": c["code"],
            "kind": c["kind"],
            "product": c["product"],
            "batch_id": lots[c["lot"]] if c["lot"] else None,
            "abv_e2": round(c["abv_percent"] * 100),
            "abv_basis": c["abv_basis"],
            "density_e4": None if density is None else round(density * 10_000),
            "document": c["document"],
            "formula": c["formula"],
            "rooms": list(c["rooms"]),
            "from_on": c["from_on"],
            "signed_by": by,
        }
        rows.insert(session, tasting.approvals, values)
