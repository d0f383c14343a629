"""Does the fullest day cost what the smallest does? `python -m tests.benchmarks.bench_day [--asked 40]`.

A plain script, not collected with the tests. One site has a day of one tour with two guests, the other
one of 60 tours with 900 guests: three bookings a tour, every guest with a number, an ID check and the
safety words, some with an allergy. The pages of the day are asked for in turn on both, so that a busy
machine slows both; read the ratios. Asked for: the same number of queries, and at most three times
the time.
"""

from __future__ import annotations

import argparse
import gc
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.site.settings import RouteStop, Site
from kiosk.store import ledgers, rows
from kiosk.store.engine import open_store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import bookings, guests, marks, steps, tours
from kiosk.tours.checkin.arrivals import give_numbers
from tests.actors import Clock, Screen, running, signed_in
from tests.costs import cost
from tests.databases import migrated_file, sqlite_url
from tests.tasting_room import Tasting, tasting_site

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
ROUTE = (
    RouteStop("still-house", 15, 5, 12),
    RouteStop("cask-store", 12, 3, 10),
    RouteStop("tasting-room", 40, 2, 22),
)
TOURS, SIZES = 60, (5, 5, 5)
BAR = 3.0
PAGES = {
    "day": "/staff/",
    "week": "/staff/week",
    "house plan": "/staff/house",
    "set-up list": "/staff/setup",
    "walk": "/staff/tours/1/walk",
    "a group": "/staff/tours/1",
    "a call": "/staff/bookings/new",
    "walk-in": "/staff/walk-in",
}


class Day:
    """A site with a day of so many tours, and a manager's tablet on it."""

    def __init__(self, folder: Path, more_tours: int) -> None:
        folder.mkdir()
        site: Site = tasting_site(folder, route=ROUTE)
        self.store = open_store(sqlite_url(migrated_file(folder)))
        tasting = Tasting.begun(self.store, site, NOW)
        tasting.check()
        for n in range(more_tours):
            with self.store.write() as session:
                add_tour(session, site, n, NOW + timedelta(minutes=10 * n - 150), tasting.ana)
        with self.store.read() as session:
            self.guests = len(session.scalars(select(guests.c.id)).all())
        self.screen: Screen = signed_in(
            running(site, self.store, Clock(NOW)), self.store, site, NOW, "manager", "Gil"
        )

    def ask(self, page: str) -> float:
        """Ask for a page and return the seconds that it takes."""
        began = time.perf_counter()
        answer = self.screen.get(page)
        took = time.perf_counter() - began
        assert answer.status_code == 200, (page, answer.status_code)
        return took

    def queries(self, page: str) -> int:
        """Return the number of queries of a page."""
        with cost(self.store) as spent:
            self.ask(page)
        return len(spent.queries)


def add_tour(session: Session, site: Site, n: int, starts_at: datetime, by: int) -> None:
    """Record a tour whose guests are checked in; one of the hours before has started."""
    values = {"letter": f"T{n}", "starts_at": starts_at, "route": "main", "languages": ["en"], "room": "main"}
    tour = rows.insert(session, tours, {**values, "places": 22, "private": False})
    for size in SIZES:
        party = {
            "tour_id": tour,
            "size": size,
            "language": "es",
            "lead_name": f"Party {n}",
            "notes": "a choir",
        }
        named = {"allergens": ["coconut"]} if n % 5 == 0 else {}
        booking = rows.insert(session, bookings, {**party, **named})
        give_numbers(session, site, tour, booking, NOW)
    entry = {"at": starts_at, "recorded_at": NOW, "by": by}
    for guest in session.scalars(select(guests.c.id).where(guests.c.tour_id == tour)).all():
        for kind, detail in (("id_check", "passport"), ("briefed", None)):
            mark = {"key": new_key(), "guest_id": guest, "kind": kind, "detail": detail, **entry}
            ledgers.append(session, marks, mark)
    if starts_at < NOW:
        ledgers.append(session, steps, {"key": new_key(), "tour_id": tour, "kind": "start", **entry})


def compare(asked: int) -> bool:
    """Print queries, times and ratios by page; return whether each is within the bar."""
    with tempfile.TemporaryDirectory(prefix="bench-day-") as scratch:
        small, full = Day(Path(scratch) / "small", 0), Day(Path(scratch) / "full", TOURS - 1)
        print(f"1 tour of {small.guests} guests | {TOURS} tours of {full.guests} guests")
        within = True
        for name, page in PAGES.items():
            small.ask(page), full.ask(page)  # the first asks are not counted
            gc.freeze()  # as the server does
            times = [(small.ask(page), full.ask(page)) for _ in range(asked)]
            one, other = (statistics.median(column) * 1000 for column in zip(*times, strict=True))
            counts = small.queries(page), full.queries(page)
            within = within and counts[0] == counts[1] and other / one <= BAR
            print(
                f"{name:>12}: {counts[0]} and {counts[1]} queries, {one:.1f} and {other:.1f} ms, "
                f"x {other / one:.2f} (<= {BAR})"
            )
        return within


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--asked", type=int, default=40)
    sys.exit(0 if compare(parser.parse_args().asked) else 1)
