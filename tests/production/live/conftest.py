"""Records of a few lines each, and the figures that a provider makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from kiosk.figures.figure import Figure, Provider
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables import production as t

MORNING = datetime(2026, 6, 16, 11, 0, tzinfo=UTC)
"""Seven in the morning of the day that tests call today, by the site's clock."""


@dataclass
class Books:
    """Writes records as if somebody had entered them, and looks at figures."""

    store: Store
    site: Site
    now: datetime

    def vessel(self, code: str, kind: str = "tank") -> int:
        """Record a vessel, once."""
        with self.store.write() as session:
            known = session.scalar(select(t.vessels.c.id).where(t.vessels.c.code == code))
            values = {"code": code, "kind": kind, "capacity_ml": 2_000_000}
            return known or rows.insert(session, t.vessels, values)

    def batch(self, table: Any, batch: str, code: str, **values: object) -> int:
        """Record a batch."""
        with self.store.write() as session:
            made = {**values, "recorded_at": self.now, "source": "form"}
            return rows.insert_batch(session, table, batch, code, made)

    def row(self, table: Any, **values: object) -> int:
        """Record a row that is no batch."""
        with self.store.write() as session:
            return rows.insert(session, table, {**values, "recorded_at": self.now, "source": "form"})

    def load(self, code: str, milled_at: datetime, cane_g: int = 3_000_000) -> int:
        """Record cane milled."""
        sizes = {"cane_g": cane_g, "juice_ml": 1_700_000, "brix_e2": 1600}
        return self.batch(t.loads, "load", code, cut_on=milled_at.date(), milled_at=milled_at, **sizes)

    def wash(self, code: str, tank: str, set_at: datetime, ended_at: datetime | None = None) -> int:
        """Record a wash."""
        where = {"vessel_id": self.vessel(tank), "volume_ml": 1_700_000}
        return self.batch(t.washes, "wash", code, set_at=set_at, ended_at=ended_at, **where)

    def gravity(self, wash_id: int, at: datetime, value: float) -> None:
        """Record a hydrometer reading at 20 °C."""
        told = {"kind": "gravity", "value_e4": round(value * 10_000), "temperature_mc": 20_000}
        self.row(t.wash_readings, wash_id=wash_id, at=at, **told)

    def run(
        self, code: str, started_at: datetime, ended_at: datetime | None = None, kind: str = "spirit"
    ) -> int:
        """Record a run."""
        where = {"vessel_id": self.vessel(f"{kind} still", f"{kind}_still"), "kind": kind}
        return self.batch(t.runs, "run", code, started_at=started_at, ended_at=ended_at, **where)

    def parrot(self, run_id: int, at: datetime, cut: str, collected_l: float, abv: float) -> None:
        """Record a reading at the parrot, by an instrument that needs no correction."""
        told = {"scale": "density_meter", "reading_e2": round(abv * 100), "temperature_mc": 28_000}
        self.row(
            t.run_readings, run_id=run_id, at=at, cut=cut, collected_ml=round(collected_l * 1000), **told
        )

    def figures(self, provider: Provider, now: datetime | None = None) -> dict[tuple[str, str], Figure]:
        """Return what a provider says now."""
        with self.store.read() as session:
            return dict(provider.compute(session, self.site, now or self.now, ""))

    def figure(self, provider: Provider, name: str, of: str = "", now: datetime | None = None) -> Figure:
        """Return one figure."""
        return self.figures(provider, now)[name, of]


@pytest.fixture
def books(sqlite_store: Store, site: Site, now: datetime) -> Books:
    """Empty books of a site at eleven in the morning."""
    return Books(sqlite_store, site, now)


def hours(n: float) -> timedelta:
    """Return a span of hours."""
    return timedelta(hours=n)
