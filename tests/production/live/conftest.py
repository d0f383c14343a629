"""Records of a few lines each, and the figures that a provider makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
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
YEAR = timedelta(days=365.25)


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

    def cask(self, code: str, wood: str = "used oak") -> int:
        """Record a cask, once."""
        with self.store.write() as session:
            known = session.scalar(select(t.casks.c.id).where(t.casks.c.code == code))
            values = {"code": code, "wood": wood, "capacity_ml": 200_000}
            return known or rows.insert(session, t.casks, values)

    def cask_store(self, code: str) -> int:
        """Record a cask store, once."""
        with self.store.write() as session:
            known = session.scalar(select(t.stores.c.id).where(t.stores.c.code == code))
            return known or rows.insert(session, t.stores, {"code": code, "name": f"Store {code}"})

    def fill(
        self,
        number: int,
        filled_at: datetime,
        gauges: dict[float, float],
        emptied_at: datetime | None = None,
        store: str = "BAJA",
        cask: str = "",
    ) -> int:
        """Record a cask's fill: litres of pure alcohol in it, at 60 % vol, by years since filling."""
        where = {"cask_id": self.cask(cask or f"C-{number}"), "store_id": self.cask_store(store)}
        fill_id = self.batch(
            t.fills, "fill", f"F-{number}", filled_at=filled_at, emptied_at=emptied_at, **where
        )
        for years, alcohol_l in gauges.items():
            read = {"how": "dip", "scale": "density_meter", "reading_e2": 6000, "temperature_mc": 20_000}
            amounts = {"volume20_ml": round(alcohol_l / 0.6 * 1000), "alcohol_ml": round(alcohol_l * 1000)}
            self.row(t.gauges, fill_id=fill_id, at=filled_at + years * YEAR, **read, **amounts)
        return fill_id

    def draw(self, from_id: int, to_id: int, alcohol_l: float, **values: object) -> None:
        """Record a draw of pure alcohol."""
        drawn = {"measure": "alcohol_ml", "amount": round(alcohol_l * 1000), "at": self.now}
        self.row(t.draws, from_id=from_id, to_id=to_id, **{**drawn, **values})

    def receiver(
        self, run_id: int, code: str, cut: str, litres: float | None, abv: float, fate: str = ""
    ) -> int:
        """Record a receiver, gauged where litres are given."""
        gauge: dict[str, object] = {}
        if litres is not None:
            gauge = {"volume20_ml": round(litres * 1000), "alcohol_ml": round(litres * abv * 10)}
        return self.batch(t.receivers, "receiver", code, run_id=run_id, cut=cut, fate=fate or None, **gauge)

    def lot(self, code: str, bottled_on: date, bottles: int, abv: float = 40.0, **values: object) -> int:
        """Record a bottling of 750 mL."""
        sizes = {"bottles": bottles, "bottle_ml": 750, "abv_e2": round(abv * 100)}
        known = {"product": "blanco", "strength_basis": "distilled", **values}
        return self.batch(t.lots, "lot", code, bottled_on=bottled_on, **sizes, **known)

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
