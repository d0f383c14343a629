"""Files of the cask stores: casks, their fills, gauges and what else happened to them."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

from kiosk.production.importing import building as b
from kiosk.production.importing.building import Ref, milli
from kiosk.production.importing.columns import Column, choice, code, moment, number, words
from kiosk.production.importing.faults import Unreadable
from kiosk.production.importing.kind import MAYBE_READING, MAYBE_VOLUME, READING, Kind, cell, plain, ref
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

A_TOPPING = N_(
    "{file}, row {row}, {column}: a topping opens a new fill. In fills.csv close the old one and write the "
    "new one at the same time; in draws.csv write what went into it, from the old fill and from elsewhere."
)


def _event(kinds: Column) -> Column:
    """Say what a topping is to whoever looks for it among what happens to a fill."""

    def read(cell: str, zone: ZoneInfo) -> object:
        if cell == "topping":
            raise Unreadable(A_TOPPING)
        return kinds.read(cell, zone)

    return replace(kinds, read=read)


STORES = Kind(
    "stores.csv",
    t.stores,
    ("code",),
    (code("code"), words("name")),
    plain(code=cell("code"), name=cell("name")),
    named="store",
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
    plain(
        code=cell("code"),
        wood=cell("wood"),
        capacity_ml=cell("capacity_l", milli),
        tare_g=cell("tare_kg", milli),
    ),
    named="cask",
)
FILLS = Kind(
    "fills.csv",
    t.fills,
    ("code",),
    (code("code"), code("cask"), code("store"), moment("filled_at"), moment("emptied_at", needed=False)),
    plain(
        cask_id=ref("cask", "cask"),
        store_id=ref("store", "store"),
        filled_at=cell("filled_at"),
        emptied_at=cell("emptied_at"),
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
        **b.as_read(cells),
        "gross_g": milli(cells["gross_kg"]),
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
        _event(choice("kind", "leak", "sample", "dump", "move", "retired")),
        *MAYBE_VOLUME,
        *MAYBE_READING,
        code("to_store", needed=False),
    ),
    lambda cells, tare_of: {
        "fill_id": Ref("fill", cells["fill"], "fill"),
        "kind": cells["kind"],
        "at": cells["at"],
        **b.as_read(cells),
        **b.some_spirit(cells),
        "store_id": Ref("store", b.needed(cells, "to_store"), "to_store")
        if cells["kind"] == "move"
        else None,
    },
)
