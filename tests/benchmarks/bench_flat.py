"""Do pages with live figures cost the same with many casks? `python tests/benchmarks/bench_flat.py [casks]`.

A plain script, not collected with the tests. One site has a hundred casks, the
other a hundred thousand, each gauged three times. In the steady state a stop's
page, a guide's page and the wall's answer are asked for in turn on both; the bar
is 1.3 times. The one computation after a change, which one request in a thousand
waits for and the others do not, is told apart.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask
from sqlalchemy.orm import Session

from kiosk.app import create_app
from kiosk.site.settings import RouteStop, Site
from kiosk.store import rows
from kiosk.store.engine import Store, open_store
from kiosk.store.rows import touch
from kiosk.store.tables import production as t
from tests.actors import Clock, Screen, hire
from tests.databases import migrated_file, sqlite_url
from tests.tasting_room import tasting_site

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
YEAR = timedelta(days=365.25)
FEW, MANY = 100, 100_000
BAR = 1.3
ASKED = 60
PAGES = {
    "stop page": "/en/stops/cask-store",
    "guide page": "/staff/stops/cask-store",
    "day page": "/staff/",
    "wall.json": "/staff/wall.json",
}


def fill_store(session: Session, casks: int) -> None:
    """Record casks of three gauges each in two stores, emptied ones among them."""
    random_ = random.Random(25)
    prov = {"recorded_at": NOW, "source": "bench"}
    stores = {
        rows.insert(session, t.stores, {"code": code, "name": code}): rate
        for code, rate in (("ALTA", 0.06), ("BAJA", 0.04))
    }
    ids = range(1, casks + 1)
    made = [(n, random_.choice(list(stores)), random_.uniform(1.0, 5.0)) for n in ids]
    rows.insert_many(
        session,
        t.casks,
        [
            {"id": n, "code": f"C-{n}", "wood": "used oak" if n % 3 else "oak", "capacity_ml": 200_000}
            for n in ids
        ],
    )
    session.execute(t.batches.insert(), [{"id": n, "kind": "fill", "code": f"F-{n}"} for n in ids])
    rows.insert_many(
        session,
        t.fills,
        [
            {
                "id": n,
                "cask_id": n,
                "store_id": store,
                "filled_at": NOW - years * YEAR,
                "emptied_at": None,
                **prov,
            }
            for n, store, years in made
        ],
    )
    gauges = []
    for n, store, years in made:
        amount = random_.uniform(105.0, 125.0)
        for part in (0.0, 0.4, 0.9):
            left = amount * (1.0 - stores[store]) ** (part * years) * (0.98 if part else 1.0)
            pure = left * random_.gauss(1.0, 0.005)
            sizes = {"volume20_ml": round(left / 0.6e-3), "alcohol_ml": round(pure * 1000)}
            read = {"how": "dip", "scale": "density_meter", "reading_e2": 6000, "temperature_mc": 20_000}
            at = NOW - (1.0 - part) * years * YEAR
            gauges.append({"fill_id": n, "at": at, **read, **sizes, **prov})
    rows.insert_many(session, t.gauges, gauges)


class Served:
    """A site with so many casks, a guide's tablet and the wall's screen."""

    def __init__(self, folder: Path, casks: int) -> None:
        folder.mkdir()
        self.site: Site = tasting_site(folder, route=(RouteStop("cask-store", 12, 3, 9),))
        self.store: Store = open_store(sqlite_url(migrated_file(folder)))
        with self.store.write() as session:
            fill_store(session, casks)
        app: Flask = create_app(self.site, self.store, Clock(NOW))
        somebody = hire(self.store, self.site, NOW, roles=("guide", "manager"))
        guide, wall = Screen(app), Screen(app)
        guide.enrol(self.store, self.site, NOW)
        guide.sign_in(somebody)
        wall.enrol(self.store, self.site, NOW, name="hall", kind="wall")
        self.asks: dict[str, Callable[[], object]] = {
            name: (lambda page=page, who=wall if name == "wall.json" else guide: answered(who, page))  # type: ignore[misc]
            for name, page in PAGES.items()
        }

    def change(self) -> None:
        """Let a record of the casks change."""
        with self.store.write() as session:
            touch(session, "casks")


def answered(who: Screen, page: str) -> None:
    answer = who.get(page)
    assert answer.status_code == 200, (page, answer.status_code)


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def main(many: int) -> int:
    """Print the ratios; return 1 where one is over the bar."""
    with tempfile.TemporaryDirectory() as scratch:
        few, lots = (Served(Path(scratch) / str(casks), casks) for casks in (FEW, many))
        for name in PAGES:
            first = seconds(few.asks[name]), seconds(lots.asks[name])
            print(f"{name:>10}: the first of all {first[0]:.2f} s with {FEW}, {first[1]:.1f} s with {many}")
        over = False
        for name in PAGES:
            took: tuple[list[float], list[float]] = ([], [])
            for _ in range(ASKED):  # in turn, so that what else the machine does weighs on both
                for served, times in zip((few, lots), took, strict=True):
                    times.append(seconds(served.asks[name]))
            one, other = (statistics.median(times) for times in took)
            over = over or other / one > BAR
            told = f"{one * 1000:.2f} ms with {FEW}, {other * 1000:.2f} ms with {many}"
            print(f"{name:>10}: {told}: {other / one:.2f} x")
        lots.change()
        after = {name: seconds(lots.asks[name]) for name in PAGES}
        told = ", ".join(f"{name} {took:.1f} s" for name, took in after.items())
        print(f"the one computation after a change of {many} casks, by who asks first: {told}")
        return int(over)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if sys.argv[1:] else MANY))
