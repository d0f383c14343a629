"""The demo's own small tables: who works there, what is booked, what is approved."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.production.importing.columns import Column, choice, code, day, number, whole, words
from kiosk.production.importing.faults import RecordFault, RecordFaults, Unreadable
from kiosk.production.importing.reading import Line, read_lines
from kiosk.words.catalogs import N_

NOT_A_TIME = N_("{file}, row {row}, {column}: {found} is not a time of day. Write it as {example}.")


def _time(name: str) -> Column:
    def read(cell: str, zone: ZoneInfo) -> object:
        if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", cell):
            raise Unreadable(NOT_A_TIME, example="09:30")
        return datetime.strptime(cell, "%H:%M").time()  # noqa: DTZ007 - a time of day has no zone

    return Column(name, read)


def _several(name: str, *, needed: bool = True) -> Column:
    return Column(name, lambda cell, zone: tuple(cell.split()), needed)


STAFF = (words("name"), _several("roles"), _several("languages"), words("pin", 6))
FLIGHTS = (code("flight"), whole("pos", 0, 40), code("product"), code("measure", needed=False))
TOURS = (
    day("day"),
    code("letter"),
    _time("starts_at"),
    code("route"),
    _several("languages"),
    words("guide"),
    code("flight", needed=False),
    code("room"),
    whole("places", 1, 200),
    choice("private", "yes", "no"),
)
BOOKINGS = (
    code("ticket"),
    day("day"),
    code("tour"),
    whole("size", 1, 200),
    code("language"),
    words("lead_name", needed=False),
    words("notes", 400, needed=False),
    _several("first_names", needed=False),
    whole("no_alcohol", 0, 200),
    whole("under_age", 0, 200),
    choice("arrived", "yes", "no"),
    _several("allergens", needed=False),
)
APPROVALS = (
    code("code"),
    choice("kind", "bottled", "cask_sample", "new_make", "experiment", "mixed"),
    code("product"),
    code("lot", needed=False),
    number("abv_percent", 0, 100),
    choice("abv_basis", "label", "distilled", "laboratory", "not_known"),
    number("density_g_per_ml", 0.5, 2, needed=False),
    words("document", needed=False),
    words("formula", needed=False),
    _several("rooms"),
    day("from_on"),
)
STOCK = (
    code("approval"),
    code("room"),
    whole("received", 1, 1000),
    whole("size_ml", 1, 5000),
    words("document"),
    whole("opened_g", 1, 10_000),
    whole("weighed_g", 1, 10_000),
)


def table(path: Path, columns: Sequence[Column], zone: ZoneInfo) -> list[Line]:
    """Read one table; raises RecordFaults with everything wrong in it."""
    faults: list[RecordFault] = []
    lines = read_lines(path, columns, zone, faults)
    if faults:
        raise RecordFaults(faults)
    return lines
