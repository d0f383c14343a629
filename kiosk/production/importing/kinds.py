"""The files of records: one description each, with its columns in the order that a person writes.

The files stand in the order in which they are written, so that whatever a line
names is there before it. A unit in a heading is the unit of its cells; times
are the site's own clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Table

from kiosk.figures.strength import Instrument
from kiosk.production.importing import building as b
from kiosk.production.importing.building import Cells, Ref, TareOf, hundredths, milli
from kiosk.production.importing.columns import Column, choice, code, day, moment, number, scale, whole, words
from kiosk.store.tables import production as t

CUTS = ("low_wines", "heads", "hearts", "tails")
BATCHES = ("field", "load", "wash", "run", "receiver", "fill", "blend", "received", "lot")

TEMPERATURE_C = number("temperature_c", -20, 40)
READING: tuple[Column, ...] = (
    scale("scale", *Instrument),
    number("reading", 0, 200),
    TEMPERATURE_C,
)
MAYBE_READING: tuple[Column, ...] = tuple(replace(c, needed=False) for c in READING)
MAYBE_VOLUME: tuple[Column, ...] = (
    number("volume_l", 0, 500_000, needed=False),
    number("volume_temperature_c", -20, 40, needed=False),
)

Build = Callable[[Cells, TareOf], dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Kind:
    """One file: its table, its columns, what names a line, and how a line becomes a record.

    `batch` is the kind of batch that a line is, "" for none; `named` the kind
    under which other lines name it; `order` two times that must follow each other.
    """

    file: str
    table: Table
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    build: Build
    batch: str = ""
    named: str = ""
    order: tuple[str, str] | None = None


def _plain(**made: Callable[[Cells], object]) -> Build:
    """Build a record whose every value comes from the line alone."""
    return lambda cells, tare_of: {name: make(cells) for name, make in made.items()}


def _cell(column: str, turn: Callable[[Any], object] = lambda value: value) -> Callable[[Cells], object]:
    return lambda cells: turn(cells[column])


def _ref(kind: str, column: str) -> Callable[[Cells], object]:
    return lambda cells: None if cells[column] is None else Ref(kind, cells[column], column)


STORES = Kind(
    "stores.csv",
    t.stores,
    ("code",),
    (code("code"), words("name")),
    _plain(code=_cell("code"), name=_cell("name")),
    named="store",
)
VESSELS = Kind(
    "vessels.csv",
    t.vessels,
    ("code",),
    (
        code("code"),
        choice("kind", "tank", "wash_still", "spirit_still", "vat"),
        number("capacity_l", 1, 1_000_000),
    ),
    _plain(code=_cell("code"), kind=_cell("kind"), capacity_ml=_cell("capacity_l", milli)),
    named="vessel",
)
CASKS = Kind(
    "casks.csv",
    t.casks,
    ("code",),
    (
        code("code"),
        words("wood", 60),
        number("capacity_l", 1, 2_000),
        number("tare_kg", 1, 2_000, needed=False),
    ),
    _plain(
        code=_cell("code"),
        wood=_cell("wood"),
        capacity_ml=_cell("capacity_l", milli),
        tare_g=_cell("tare_kg", milli),
    ),
    named="cask",
)
FIELDS = Kind(
    "fields.csv",
    t.fields,
    ("code",),
    (code("code"), words("variety", 60), whole("area_m2", 1, 100_000_000)),
    _plain(variety=_cell("variety"), area_m2=_cell("area_m2")),
    batch="field",
)
LOADS = Kind(
    "loads.csv",
    t.loads,
    ("code",),
    (
        code("code"),
        day("cut_on"),
        moment("milled_at"),
        number("cane_kg", 0, 200_000),
        number("juice_l", 0, 200_000),
        number("brix", 0, 35, needed=False),
    ),
    _plain(
        cut_on=_cell("cut_on"),
        milled_at=_cell("milled_at"),
        cane_g=_cell("cane_kg", milli),
        juice_ml=_cell("juice_l", milli),
        brix_e2=_cell("brix", hundredths),
    ),
    batch="load",
)
WASHES = Kind(
    "washes.csv",
    t.washes,
    ("code",),
    (
        code("code"),
        code("tank"),
        moment("set_at"),
        moment("ended_at", needed=False),
        number("volume_l", 1, 500_000),
    ),
    _plain(
        vessel_id=_ref("vessel", "tank"),
        set_at=_cell("set_at"),
        ended_at=_cell("ended_at"),
        volume_ml=_cell("volume_l", milli),
    ),
    batch="wash",
    order=("set_at", "ended_at"),
)
WASH_READINGS = Kind(
    "wash_readings.csv",
    t.wash_readings,
    ("wash", "at", "kind"),
    (
        code("wash"),
        moment("at"),
        choice("kind", "gravity", "brix", "ph", "temperature"),
        number("value", -5, 100),
        number("temperature_c", 0, 60, needed=False),
    ),
    _plain(
        wash_id=_ref("wash", "wash"),
        at=_cell("at"),
        kind=_cell("kind"),
        value_e4=_cell("value", lambda value: round(value * 10_000)),
        temperature_mc=_cell("temperature_c", milli),
    ),
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
    _plain(
        vessel_id=_ref("vessel", "still"),
        kind=_cell("kind"),
        started_at=_cell("started_at"),
        ended_at=_cell("ended_at"),
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
        **b.some_spirit(cells),
        "fate": cells["fate"],
    },
    batch="receiver",
)
RECEIVED = Kind(
    "received.csv",
    t.received,
    ("code",),
    (
        code("code"),
        choice("kind", "spirit", "water", "sugar", "fruit"),
        words("what"),
        words("origin", needed=False),
        words("document", needed=False),
        day("received_on"),
        *MAYBE_VOLUME,
        *MAYBE_READING,
    ),
    lambda cells, tare_of: {
        **{name: cells[name] for name in ("kind", "what", "origin", "document", "received_on")},
        **b.some_spirit(cells),
    },
    batch="received",
)


def _blend(cells: Cells, tare_of: TareOf) -> dict[str, Any]:
    found = b.spirit(cells)
    return {
        "vessel_id": Ref("vessel", cells["vat"], "vat"),
        "made_at": cells["made_at"],
        "volume_ml": found["volume20_ml"],
        "alcohol_ml": found["alcohol_ml"],
    }


BLENDS = Kind(
    "blends.csv",
    t.blends,
    ("code",),
    (
        code("code"),
        code("vat"),
        moment("made_at"),
        number("volume_l", 0, 500_000),
        number("volume_temperature_c", -20, 40),
        *READING,
    ),
    _blend,
    batch="blend",
)
LOTS = Kind(
    "lots.csv",
    t.lots,
    ("code",),
    (
        code("code"),
        code("product"),
        day("bottled_on"),
        whole("bottles", 1, 10_000_000),
        whole("bottle_ml", 1, 20_000),
        number("abv_percent", 0, 100),
        number("solids_g_per_l", 0, 600, needed=False),
        choice("strength_basis", "distilled", "label", "laboratory", "not_known"),
    ),
    _plain(
        product=_cell("product"),
        bottled_on=_cell("bottled_on"),
        bottles=_cell("bottles"),
        bottle_ml=_cell("bottle_ml"),
        abv_e2=_cell("abv_percent", hundredths),
        solids_g_per_l_e2=_cell("solids_g_per_l", hundredths),
        strength_basis=_cell("strength_basis"),
    ),
    batch="lot",
)
FILLS = Kind(
    "fills.csv",
    t.fills,
    ("code",),
    (code("code"), code("cask"), code("store"), moment("filled_at"), moment("emptied_at", needed=False)),
    _plain(
        cask_id=_ref("cask", "cask"),
        store_id=_ref("store", "store"),
        filled_at=_cell("filled_at"),
        emptied_at=_cell("emptied_at"),
    ),
    batch="fill",
    order=("filled_at", "emptied_at"),
)
GAUGES = Kind(
    "gauges.csv",
    t.gauges,
    ("fill", "at"),
    (
        code("fill"),
        moment("at"),
        choice("how", "dip", "weight", "emptied"),
        *MAYBE_VOLUME,
        number("gross_kg", 0, 5_000, needed=False),
        *READING,
    ),
    lambda cells, tare_of: {
        "fill_id": Ref("fill", cells["fill"], "fill"),
        "at": cells["at"],
        "how": cells["how"],
        "volume_ml": milli(cells["volume_l"]),
        "volume_temperature_mc": milli(cells["volume_temperature_c"]),
        "gross_g": milli(cells["gross_kg"]),
        **b.reading(cells),
        **b.gauged(cells, tare_of),
    },
)
CASK_EVENTS = Kind(
    "cask_events.csv",
    t.cask_events,
    ("fill", "at", "kind"),
    (
        code("fill"),
        moment("at"),
        choice("kind", "leak", "sample", "dump", "move", "retired"),
        *MAYBE_VOLUME,
        *MAYBE_READING,
        code("to_store", needed=False),
    ),
    lambda cells, tare_of: {
        "fill_id": Ref("fill", cells["fill"], "fill"),
        "kind": cells["kind"],
        "at": cells["at"],
        **b.some_spirit(cells),
        "store_id": Ref("store", b.needed(cells, "to_store"), "to_store")
        if cells["kind"] == "move"
        else None,
    },
)
DRAWS = Kind(
    "draws.csv",
    t.draws,
    ("from_kind", "from", "to_kind", "to", "at"),
    (
        choice("from_kind", *BATCHES),
        code("from"),
        choice("to_kind", *BATCHES),
        code("to"),
        moment("at"),
        number("cane_kg", 0, 200_000, needed=False),
        number("sugar_kg", 0, 100_000, needed=False),
        number("alcohol_l", 0, 500_000, needed=False),
        number("volume_l", 0, 500_000, needed=False),
    ),
    lambda cells, tare_of: {
        "from_id": Ref(cells["from_kind"], cells["from"], "from"),
        "to_id": Ref(cells["to_kind"], cells["to"], "to"),
        "at": cells["at"],
        **b.drawn(cells),
        "volume_ml": milli(cells["volume_l"]),
    },
)

KINDS = (
    STORES,
    VESSELS,
    CASKS,
    FIELDS,
    LOADS,
    WASHES,
    WASH_READINGS,
    RUNS,
    RUN_READINGS,
    RECEIVERS,
    RECEIVED,
    BLENDS,
    LOTS,
    FILLS,
    GAUGES,
    CASK_EVENTS,
    DRAWS,
)
"""Every file, in the order of writing."""
