"""The demo's people, tours, bookings and steps, read from the estate's own small tables."""

import csv
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from types import MappingProxyType
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.people import add_person, hash_pin
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.names import NamedThing, save_names
from kiosk.store.tables import tours
from kiosk.tours.checkin.arrivals import give_numbers

Names = Mapping[str, str]
"""Names by language."""

Row = Mapping[str, Any]
"""A row of a table by column; an empty cell is None."""

_WHOLE = (
    *("pos", "places", "size", "no_alcohol", "under_age", "count"),
    *("received", "size_ml", "opened_g", "closed_g"),
)
_LISTS = ("roles", "languages", "first_names", "allergens", "rooms")
_CELLS: Mapping[str, tuple[str, Callable[[str], Any]]] = {
    **dict.fromkeys(_WHOLE, ("a whole number", int)),
    **dict.fromkeys(_LISTS, ("a list", str.split)),
    **dict.fromkeys(("abv_percent", "density_g_per_ml"), ("a number", float)),
    **dict.fromkeys(("day", "from_on"), ("a day", date.fromisoformat)),
    **dict.fromkeys(("starts_at", "arrived", "checked", "at"), ("a time of day", time.fromisoformat)),
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


PRINTED = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""The cost of hashing the demo's PINs: none to speak of, since they are printed beside its address."""


def add_staff(session: Session, site: Site, people: Sequence[Row], now: datetime) -> Mapping[str, int]:
    """Record the people with their PINs and return their ids by name."""
    return {
        row["name"]: add_person(
            session,
            site,
            row["name"],
            hash_pin(row["pin"], site, PRINTED),
            row["roles"],
            row["languages"],
            now,
        )
        for row in people
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


def moment(site: Site, row: Row, column: str) -> datetime:
    """Return the instant of a row's day at the time in one of its columns."""
    return datetime.combine(row["day"], row[column], site.zone)


def add_bookings(
    session: Session, site: Site, bookings: Sequence[Row], tour_ids: Mapping[tuple[date, str], int], by: int
) -> None:
    """Record the bookings; in order of arrival, those who came get their numbers, names and marks."""
    arrived = []
    for row in bookings:
        tour_id = tour_ids[row["day"], row["tour"]]
        values = {name: row[name] for name in ("size", "language", "lead_name", "notes")}
        values |= {"voucher": row["ticket"], "ticket": site.tickets[0].id if site.tickets else None}
        booking_id = rows.insert(session, tours.bookings, {"tour_id": tour_id, **values})
        if row["arrived"]:
            arrived.append((moment(site, row, "arrived"), tour_id, booking_id, row))
    for at, tour_id, booking_id, row in sorted(arrived, key=lambda one: one[0]):
        give_numbers(session, site, tour_id, booking_id, at)
        _describe_guests(session, site, booking_id, row, by, at)


def _describe_guests(session: Session, site: Site, booking_id: int, row: Row, by: int, at: datetime) -> None:
    """Record what a party said at the desk: names, the first guest's allergies, who drinks no alcohol.

    Where the IDs were checked at the desk, those of all others were.
    """
    g = tours.guests
    in_order = select(g.c.id, g.c.revision).where(g.c.booking_id == booking_id).order_by(g.c.number)
    guests = session.execute(in_order).all()
    for place, (guest, name) in enumerate(zip(guests, row["first_names"] or (), strict=False)):
        values: dict[str, Any] = {"first_name": name}
        if place == 0 and row["allergens"]:
            values["allergens"] = row["allergens"]
        rows.change(session, g, guest.id, guest.revision, values, by=by, at=at, why="told at the desk")
    said = ["under_age"] * row["under_age"] + ["no_alcohol"] * row["no_alcohol"]
    marks = [(guest.id, kind, at) for guest, kind in zip(reversed(guests), said, strict=False)]
    if row["checked"]:
        checked_at = moment(site, row, "checked")
        marks += [(guest.id, "id_check", checked_at) for guest in guests[: len(guests) - len(said)]]
    for guest_id, kind, marked_at in marks:
        mark = {"key": new_key(), "at": marked_at, "recorded_at": marked_at, "by": by, "server_checked": True}
        detail = site.usual_id if kind == "id_check" else None
        ledgers.append(session, tours.marks, {**mark, "guest_id": guest_id, "kind": kind, "detail": detail})


def add_steps(
    session: Session, site: Site, table: Sequence[Row], tour_ids: Mapping[tuple[date, str], int]
) -> None:
    """Record the steps of the tours that have started, each in the name of the tour's guide.

    When a tour starts, its guests have heard the safety words.
    """
    g = tours.guests.c
    guides = dict(session.execute(select(tours.tours.c.id, tours.tours.c.guide_id)).all())
    for row in table:
        tour_id, at = tour_ids[row["day"], row["tour"]], moment(site, row, "at")
        entry = {"key": new_key(), "at": at, "recorded_at": at, "by": guides[tour_id]}
        values = {name: row[name] for name in ("kind", "stop", "count")}
        ledgers.append(session, tours.steps, {**entry, "tour_id": tour_id, **values})
        if row["kind"] == "start":
            for guest_id in session.scalars(select(g.id).where(g.tour_id == tour_id)).all():
                mark = {**entry, "key": new_key(), "server_checked": True}
                ledgers.append(session, tours.marks, {**mark, "guest_id": guest_id, "kind": "briefed"})
