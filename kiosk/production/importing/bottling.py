"""Files of what is received, blended and bottled, and of every draw from one batch into another."""

from __future__ import annotations

from kiosk.production.importing import building as b
from kiosk.production.importing.building import Ref, hundredths, milli
from kiosk.production.importing.columns import choice, code, day, moment, number, whole, words
from kiosk.production.importing.kind import (
    BATCHES,
    MAYBE_READING,
    MAYBE_VOLUME,
    READING,
    VOLUME,
    Kind,
    cell,
    plain,
)
from kiosk.store.tables import production as t

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
        whole("stated_age_years", 0, 100, needed=False),
    ),
    lambda cells, tare_of: {
        **{name: cells[name] for name in ("kind", "what", "origin", "document", "received_on")},
        **b.as_read(cells),
        **b.some_spirit(cells),
        "stated_age_years": cells["stated_age_years"],
    },
    batch="received",
)
BLENDS = Kind(
    "blends.csv",
    t.blends,
    ("code",),
    (code("code"), code("vat"), moment("made_at"), *VOLUME, *READING),
    lambda cells, tare_of: {
        "vessel_id": Ref("vessel", cells["vat"], "vat"),
        "made_at": cells["made_at"],
        **b.as_read(cells),
        **b.spirit(cells),
    },
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
    plain(
        product=cell("product"),
        bottled_on=cell("bottled_on"),
        bottles=cell("bottles"),
        bottle_ml=cell("bottle_ml"),
        abv_e2=cell("abv_percent", hundredths),
        solids_g_per_l_e2=cell("solids_g_per_l", hundredths),
        strength_basis=cell("strength_basis"),
    ),
    batch="lot",
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
