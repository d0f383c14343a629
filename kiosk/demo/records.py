"""The demo's people, bookings, approvals and bar, read from the estate's own small tables."""

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from datetime import date, datetime, time, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.site.settings import Site
from kiosk.staff.people import add_person, hash_pin
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.names import NamedThing, save_names
from kiosk.store.tables import production, tasting, tours
from kiosk.tasting.bottles import bottle_entries, stock
from kiosk.tasting.bottles.bottle_entries import BottleEntryForm, Opening
from kiosk.tours.checkin.arrivals import give_numbers

Names = Mapping[str, str]
"""Names by language."""

Row = Mapping[str, Any]
"""A row of a table by column; an empty cell is None."""

RECEIVED, OPENED, WEIGHED = (timedelta(hours=hours) for hours in (20, 10, 9))
"""How long before today's service day began bottles were received, opened and weighed."""
EVENING_MC = 24_000
"""Temperature of the bottles then, in thousandths of °C."""

_WHOLE = ("pos", "places", "size", "no_alcohol", "under_age", "received", "size_ml", "opened_g", "weighed_g")
_LISTS = ("roles", "languages", "first_names", "allergens", "rooms")
_CELLS: Mapping[str, tuple[str, Callable[[str], Any]]] = {
    **dict.fromkeys(_WHOLE, ("a whole number", int)),
    **dict.fromkeys(_LISTS, ("a list", str.split)),
    **dict.fromkeys(("abv_percent", "density_g_per_ml"), ("a number", float)),
    **dict.fromkeys(("day", "from_on"), ("a day", date.fromisoformat)),
    "starts_at": ("a time of day", time.fromisoformat),
}
"""What a cell of a column is, and how it is read; all others are texts."""


def read_table(path: Path) -> list[Row]:
    """Return the rows of a table. Raises ValueError with the place of a cell that cannot be read."""
    with path.open(encoding="utf-8", newline="") as file:
        return [
            {column: _read_cell(path.name, n, column, cell) for column, cell in row.items()}
            for n, row in enumerate(csv.DictReader(file), start=2)
        ]


def _read_cell(file: str, row: int, column: str, cell: str) -> Any:
    kind, read = _CELLS.get(column, ("a text", str))
    try:
        return read(cell) if cell else None
    except ValueError as error:
        raise ValueError(f"{file}, row {row}, {column}: {cell} is not {kind}") from error


def hash_pins(pool: Executor, site: Site, people: Sequence[Row], hasher: PasswordHasher) -> Iterator[str]:
    """Start to hash every PIN in `pool` and return the hashes in the order of the people."""
    return pool.map(lambda person: hash_pin(person["pin"], site, hasher), people)


def add_staff(
    session: Session, site: Site, people: Sequence[Row], hashes: Sequence[str], now: datetime
) -> Mapping[str, int]:
    """Record the people with the hashes of their PINs and return their ids by name."""
    return {
        row["name"]: add_person(session, site, row["name"], pin_hash, row["roles"], row["languages"], now)
        for row, pin_hash in zip(people, hashes, strict=True)
    }


def sign_ins(people: Sequence[Row]) -> list[str]:
    """Return a line for each person: name, PIN, roles."""
    longest = max(len(row["name"]) for row in people)
    return [f"  {row['name']:<{longest}}  {row['pin']}  {', '.join(row['roles'])}" for row in people]


def add_names(
    session: Session, site: Site, table: Sequence[Row], by: int, now: datetime
) -> Mapping[str, Names]:
    """Record the names of experiments and varieties; return those of flights by the name in the tables."""
    flights: dict[str, Names] = {}
    for row in table:
        names = {code: row[code] for code in site.codes}
        if row["kind"] == "flight":
            flights[row["code"]] = names
        else:
            thing = NamedThing(row["kind"], row["code"], 0, {})
            save_names(session, site.products, thing, names, by=by, at=now)
    return flights


def add_flights(
    session: Session, site: Site, items: Sequence[Row], names: Mapping[str, Names] = MappingProxyType({})
) -> Mapping[str, int]:
    """Record the flights under their names and return their ids by the name in the table."""
    measures = {measure.id: measure.volume_ul for measure in site.measures}
    ids: dict[str, int] = {}
    for row in items:
        name = row["flight"]
        if name not in ids:
            given = names.get(name, dict.fromkeys(site.codes, name))
            called = {"name": given[site.codes[0]], "names": given}
            ids[name] = rows.insert(session, tours.flights, {**called, "archived": False})
        volume_ul = None if row["product"] in site.recipes else measures[row["measure"]]
        item = {"pos": row["pos"], "product": row["product"], "volume_ul": volume_ul}
        rows.insert(session, tours.flight_items, {"flight_id": ids[name], **item})
    return ids


def add_tours(
    session: Session, site: Site, table: Sequence[Row], flights: Mapping[str, int], staff: Mapping[str, int]
) -> Mapping[tuple[date, str], int]:
    """Record the tours and return their ids by day and letter."""
    ids = {}
    for row in table:
        values = {name: row[name] for name in ("letter", "route", "languages", "room", "places")}
        values["starts_at"] = datetime.combine(row["day"], row["starts_at"], site.zone)
        values["guide_id"] = staff[row["guide"]]
        values["flight_id"] = flights[row["flight"]] if row["flight"] else None
        values["private"] = row["private"] == "yes"
        ids[row["day"], row["letter"]] = rows.insert(session, tours.tours, values)
    return ids


def add_bookings(
    session: Session,
    site: Site,
    bookings: Sequence[Row],
    tour_ids: Mapping[tuple[date, str], int],
    by: int,
    now: datetime,
) -> None:
    """Record the bookings; those that have arrived get their numbers, names and marks."""
    for row in bookings:
        tour_id = tour_ids[row["day"], row["tour"]]
        values = {name: row[name] for name in ("size", "language", "ticket", "lead_name", "notes")}
        booking_id = rows.insert(session, tours.bookings, {"tour_id": tour_id, **values})
        if row["arrived"] == "yes":
            give_numbers(session, site, tour_id, booking_id, now)
            _describe_guests(session, booking_id, row, by, now)


def _describe_guests(session: Session, booking_id: int, row: Row, by: int, now: datetime) -> None:
    """Record what a party said at the desk: names, the first guest's allergies, who drinks no alcohol."""
    g = tours.guests
    in_order = select(g.c.id, g.c.revision).where(g.c.booking_id == booking_id).order_by(g.c.number)
    guests = session.execute(in_order).all()
    for place, (guest, name) in enumerate(zip(guests, row["first_names"] or (), strict=False)):
        values: dict[str, Any] = {"first_name": name}
        if place == 0 and row["allergens"]:
            values["allergens"] = row["allergens"]
        rows.change(session, g, guest.id, guest.revision, values, by=by, at=now, why="told at the desk")
    kinds = ["under_age"] * row["under_age"] + ["no_alcohol"] * row["no_alcohol"]
    for guest, kind in zip(reversed(guests), kinds, strict=False):
        mark = {"key": new_key(), "at": now, "recorded_at": now, "by": by, "server_checked": True}
        ledgers.append(session, tours.marks, {**mark, "guest_id": guest.id, "kind": kind})


def add_approvals(session: Session, table: Sequence[Row], by: int) -> None:
    """Record what may be poured, signed by `by`."""
    b = production.batches.c
    lots = dict(session.execute(select(b.code, b.id).where(b.kind == "lot")).all())
    same = ("code", "kind", "product", "abv_basis", "document", "formula", "rooms", "from_on")
    for row in table:
        density = row["density_g_per_ml"]
        values = {
            **{name: row[name] for name in same},
            "batch_id": lots[row["lot"]] if row["lot"] else None,
            "abv_e2": round(row["abv_percent"] * 100),
            "density_e4": None if density is None else round(density * 10_000),
            "signed_by": by,
        }
        rows.insert(session, tasting.approvals, values)


def add_stock(session: Session, site: Site, table: Sequence[Row], by: int, now: datetime) -> None:
    """Record for each row sealed bottles received, one opened, and its weight that evening."""
    approvals = tasting.approvals.c
    ids = dict(session.execute(select(approvals.code, approvals.id)).all())
    begins, _end = site.day_bounds(site.service_day(now))

    def origin() -> EntryOrigin:
        return EntryOrigin(new_key(), by, None, checked=True)

    for row in table:
        approval, room, size_ml = ids[row["approval"]], row["room"], row["size_ml"]
        line = stock.Line(approval, room, "received", row["received"], size_ml, row["document"])
        stock.record(session, site, origin(), line, begins - RECEIVED)
        opening = Opening(approval, room, size_ml, gross_g=row["opened_g"], temperature_mc=EVENING_MC)
        bottle = bottle_entries.record_opening(session, site, origin(), opening, begins - OPENED)
        weight = BottleEntryForm("weigh", row["weighed_g"], EVENING_MC)
        bottle_entries.record_entry(session, site, origin(), bottle, weight, begins - WEIGHED)
