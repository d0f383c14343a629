"""Files of the stills: vessels, runs, their readings, what the receivers held."""

from __future__ import annotations

from typing import Any

from kiosk.production.importing import building as b
from kiosk.production.importing.building import Cells, Ref, TareOf, milli
from kiosk.production.importing.columns import choice, code, moment, number
from kiosk.production.importing.kind import MAYBE_READING, MAYBE_VOLUME, READING, Kind, cell, plain, ref
from kiosk.store.tables import production as t

CUTS = ("low_wines", "heads", "hearts", "tails")

VESSELS = Kind(
    "vessels.csv",
    t.vessels,
    ("code",),
    (
        code("code"),
        choice("kind", "tank", "wash_still", "spirit_still", "vat"),
        number("capacity_l", 1, 1_000_000),
    ),
    plain(code=cell("code"), kind=cell("kind"), capacity_ml=cell("capacity_l", milli)),
    named="vessel",
)
RUNS = Kind(
    "runs.csv",
    t.runs,
    ("code",),
    (
        code("code"),
        code("still"),
        choice("kind", "wash", "spirit"),
        moment("started_at"),
        moment("ended_at", needed=False),
    ),
    plain(
        vessel_id=ref("vessel", "still"),
        kind=cell("kind"),
        started_at=cell("started_at"),
        ended_at=cell("ended_at"),
    ),
    batch="run",
    order=("started_at", "ended_at"),
)


def _run_reading(cells: Cells, tare_of: TareOf) -> dict[str, Any]:
    b.abv_percent(cells)  # a reading that makes no strength is a fault, not a record
    return {
        "run_id": Ref("run", cells["run"], "run"),
        "at": cells["at"],
        "cut": cells["cut"],
        "collected_ml": milli(cells["collected_l"]),
        **b.reading(cells),
    }


RUN_READINGS = Kind(
    "run_readings.csv",
    t.run_readings,
    ("run", "at"),
    (code("run"), moment("at"), choice("cut", *CUTS), number("collected_l", 0, 100_000), *READING),
    _run_reading,
)
RECEIVERS = Kind(
    "receivers.csv",
    t.receivers,
    ("code",),
    (
        code("code"),
        code("run"),
        choice("cut", *CUTS, "pot"),
        moment("gauged_at", needed=False),
        *MAYBE_VOLUME,
        *MAYBE_READING,
        choice("fate", "cask", "tank", "feints", "destroyed", needed=False),
    ),
    lambda cells, tare_of: {
        "run_id": Ref("run", cells["run"], "run"),
        "cut": cells["cut"],
        "gauged_at": cells["gauged_at"],
        **b.as_read(cells),
        **b.some_spirit(cells),
        "fate": cells["fate"],
    },
    batch="receiver",
)
