"""Files of the cane and the wash: fields, loads milled, washes and their readings."""

from __future__ import annotations

from kiosk.production.importing.building import hundredths, milli
from kiosk.production.importing.columns import choice, code, day, moment, number, whole, words
from kiosk.production.importing.kind import Kind, cell, plain, ref
from kiosk.store.tables import production as t

FIELDS = Kind(
    "fields.csv",
    t.fields,
    ("code",),
    (code("code"), words("variety", 60), whole("area_m2", 1, 100_000_000)),
    plain(variety=cell("variety"), area_m2=cell("area_m2")),
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
    plain(
        cut_on=cell("cut_on"),
        milled_at=cell("milled_at"),
        cane_g=cell("cane_kg", milli),
        juice_ml=cell("juice_l", milli),
        brix_e2=cell("brix", hundredths),
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
    plain(
        vessel_id=ref("vessel", "tank"),
        set_at=cell("set_at"),
        ended_at=cell("ended_at"),
        volume_ml=cell("volume_l", milli),
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
    plain(
        wash_id=ref("wash", "wash"),
        at=cell("at"),
        kind=cell("kind"),
        value_e4=cell("value", lambda value: round(value * 10_000)),
        temperature_mc=cell("temperature_c", milli),
    ),
)
