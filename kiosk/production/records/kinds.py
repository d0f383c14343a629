"""Every kind of record, field by field, in the order of writing: what a record names is written before it.

This one table drives the files, the forms, corrections, the readings API with its
document, the labels and the manual's page.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy import Table

from kiosk.production.records import measuring as m
from kiosk.production.records.faults import FaultCode
from kiosk.production.records.fields import (
    Field,
    Type,
    Values,
    choice,
    code,
    day,
    moment,
    number,
    optional,
    whole,
    words,
)
from kiosk.production.records.measuring import TareOf
from kiosk.production.runs.instruments import SCALES
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_
from kiosk.words.units import CUT_NAMES

Derive = Callable[[Values, TareOf], Mapping[str, Any]]
"""Returns the columns of a record that no field holds as it stands. Raises ValueFault, FigureError."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record: its table, its fields and what names it for ever within its table.

    `batch` is the kind of batch that it is, "" for none; `named` the kind under which
    other records refer to it; `order` two times that follow each other. What is not `listed` has no
    page of its own.
    """

    table: Table
    title: str
    fields: tuple[Field, ...]
    derive: Derive = m.nothing
    key: tuple[str, ...] = ("code",)
    batch: str = ""
    named: str = ""
    order: tuple[str, str] | None = None
    listed: bool = True
    name: str = field(init=False)
    """The name of its table."""
    file: str = field(init=False)
    """The name of its file."""
    referred: str = field(init=False)
    """The kind under which others refer to it, "" where none does."""
    has_source: bool = field(init=False)
    """Whether its table keeps where a record came from."""

    def __post_init__(self) -> None:
        for name, value in (
            ("name", str(self.table.name)),
            ("file", f"{self.table.name}.csv"),
            ("referred", self.batch or self.named),
            ("has_source", "source_key" in self.table.c),
        ):
            object.__setattr__(self, name, value)


BATCHES = {
    "field": N_("field"),
    "load": N_("load of cane"),
    "wash": N_("wash"),
    "run": N_("run of a still"),
    "receiver": N_("receiver"),
    "fill": N_("cask (fill)"),
    "blend": N_("vat made up"),
    "received": N_("received spirit"),
    "lot": N_("lot of bottles"),
}
REFERRED: Mapping[str, str] = {
    **BATCHES,
    "store": N_("store"),
    "vessel": N_("tank, still or vat"),
    "cask": N_("cask"),
}
"""What other records refer to, as it is called on a page."""

CODE = code("code", N_("Code"))
CASK = code("cask", N_("Cask"), "cask", "cask_id")
FILL = code("fill", N_("Fill"), "fill", "fill_id")
RUN = code("run", N_("Run"), "run", "run_id")
STILL = code("still", N_("Still"), "vessel", "vessel_id")
STORE = code("store", N_("Cask store"), "store", "store_id")
TANK = code("tank", N_("Tank"), "vessel", "vessel_id")
TO_STORE = code("to_store", N_("To which store"), "store", "store_id")
VAT = code("vat", N_("Vat"), "vessel", "vessel_id")
WASH = code("wash", N_("Wash"), "wash", "wash_id")
FROM_KIND = choice("from_kind", N_("Drawn from"), **BATCHES, kept="")
FROM = code("from", N_("Drawn from: its code"), "from_kind", "from_id")
TO_KIND = choice("to_kind", N_("Drawn into"), **BATCHES, kept="")
TO = code("to", N_("Into: its code"), "to_kind", "to_id")
AT = moment("at", N_("When"))
ENDED_AT = moment("ended_at", N_("Ended"))
PRODUCT = code("product", N_("Product"))
CUT_ON, MILLED_AT = day("cut_on", N_("Cane cut on")), moment("milled_at", N_("Milled"))
CANE_KG = number("cane_kg", 0, 200_000, N_("Cane, kg"))
JUICE_L = number("juice_l", 0, 200_000, N_("Juice, L"))
BRIX = number("brix", 0, 35, N_("Brix of the juice, °Bx"), kept="brix_e2")
CUT = choice("cut", N_("Cut"), **CUT_NAMES)
RECEIVER_CUT = choice("cut", N_("Cut"), **CUT_NAMES, pot=N_("what stays in the pot"))
COLLECTED_L = number("collected_l", 0, 100_000, N_("Collected since the run started, L"))
GROSS_KG = number("gross_kg", 0, 5_000, N_("Weight of cask and spirit, kg"))
VOLUME_L = number("volume_l", 0, 500_000, N_("Volume, L"))
VOLUME = (VOLUME_L, number("volume_temperature_c", -20, 40, N_("Temperature of the volume, °C")))
SCALE = Field("scale", N_("Strength read with"), Type.INSTRUMENT, allowed=SCALES, kept="scale")
READING = (
    number("reading", 0, 200, N_("Reading, % vol or proof as the instrument shows it"), kept="reading_e2"),
    number("temperature_c", -20, 40, N_("Temperature at the reading, °C")),
)
STRENGTH = (SCALE, *READING)
READ = (READING[0], *optional(READING[1]))
"""A reading that may stand as it was read: the temperature may not be known."""
RUN_KIND = choice("kind", N_("Kind"), wash=N_("wash"), spirit=N_("spirit"))
WASH_READING = (
    choice(
        "kind",
        N_("Kind"),
        gravity=N_("gravity, such as 1.0450"),
        brix=N_("Brix, °Bx"),
        ph=N_("pH"),
        temperature=N_("temperature, °C"),
    ),
    number("value", -5, 100, N_("Value read"), kept="value_e4"),
    *optional(number("temperature_c", 0, 60, N_("Temperature at the reading, °C"))),
)
VESSEL_KIND = choice(
    "kind",
    N_("Kind"),
    tank=N_("tank"),
    wash_still=N_("wash still"),
    spirit_still=N_("spirit still"),
    vat=N_("vat"),
)
HOW = choice(
    "how",
    N_("How it was measured"),
    dip=N_("by volume, with a dipstick"),
    weight=N_("by weight"),
    emptied=N_("drawn out and measured"),
)
FATE = choice(
    "fate",
    N_("What became of it"),
    cask=N_("into casks"),
    tank=N_("into a tank"),
    feints=N_("back into feints"),
    destroyed=N_("destroyed"),
)
RECEIVED_AS = (
    choice("kind", N_("Kind"), spirit=N_("spirit"), water=N_("water"), sugar=N_("sugar"), fruit=N_("fruit")),
    words("what", N_("What it is")),
    *optional(words("origin", N_("Origin")), words("document", N_("Paperwork number"))),
)
STATED_AGE = whole("stated_age_years", 0, 100, N_("Age that the supplier states, in completed years"))
BOTTLED = (
    whole("bottles", 1, 10_000_000, N_("Bottles")),
    whole("bottle_ml", 1, 20_000, N_("Size of a bottle, mL")),
    number("abv_percent", 0, 100, N_("Strength on the label, % vol"), kept="abv_e2"),
    *optional(
        number("solids_g_per_l", 0, 600, N_("Sugar and other solids, g per L"), kept="solids_g_per_l_e2")
    ),
    choice(
        "strength_basis",
        N_("What the strength rests on"),
        distilled=N_("distilled: hydrometer or meter"),
        label=N_("the label"),
        laboratory=N_("a laboratory"),
        not_known=N_("not known"),
    ),
)
EVENT_KIND = replace(
    choice(
        "kind",
        N_("Kind"),
        leak=N_("leak"),
        sample=N_("sample"),
        dump=N_("dump"),
        move=N_("move"),
        retired=N_("retired"),
    ),
    refused={"topping": FaultCode.A_TOPPING},
)
DRAWN = optional(
    replace(CANE_KG, kept="", scale=1),
    number("sugar_kg", 0, 100_000, N_("Sugar, kg"), kept=""),
    number("alcohol_l", 0, 500_000, N_("Pure alcohol, L"), kept=""),
    VOLUME_L,
)

STORES = Kind(t.stores, N_("Cask stores"), (CODE, words("name", N_("Name"))), named="store", listed=False)
VESSELS = Kind(
    t.vessels,
    N_("Tanks and stills"),
    (CODE, VESSEL_KIND, number("capacity_l", 1, 1_000_000, N_("What it holds, L"))),
    named="vessel",
    listed=False,
)
CASKS = Kind(
    t.casks,
    N_("Casks"),
    (
        CODE,
        words("wood", N_("Wood"), 60),
        number("capacity_l", 1, 2_000, N_("What it holds, L")),
        *optional(number("tare_kg", 1, 2_000, N_("Weight of the empty cask, kg"))),
    ),
    named="cask",
    listed=False,
)
FIELDS = Kind(
    t.fields,
    N_("Fields"),
    (CODE, words("variety", N_("Variety"), 60), whole("area_m2", 1, 100_000_000, N_("Area, m²"))),
    batch="field",
    listed=False,
)
LOADS = Kind(
    t.loads,
    N_("Loads of cane"),
    (CODE, CUT_ON, MILLED_AT, CANE_KG, JUICE_L, *optional(BRIX)),
    batch="load",
)
WASHES = Kind(
    t.washes,
    N_("Washes"),
    (CODE, TANK, moment("set_at", N_("Set")), *optional(ENDED_AT), replace(VOLUME_L, low=1)),
    batch="wash",
    order=("set_at", "ended_at"),
)
WASH_READINGS = Kind(
    t.wash_readings, N_("Wash readings"), (WASH, AT, *WASH_READING), key=("wash", "at", "kind")
)
RUNS = Kind(
    t.runs,
    N_("Runs of the stills"),
    (CODE, STILL, RUN_KIND, moment("started_at", N_("Started")), *optional(ENDED_AT)),
    batch="run",
    order=("started_at", "ended_at"),
)
RUN_READINGS = Kind(
    t.run_readings,
    N_("Still readings"),
    (RUN, AT, CUT, COLLECTED_L, SCALE, *READ),
    m.strength_alone,
    key=("run", "at"),
)
RECEIVERS = Kind(
    t.receivers,
    N_("Receivers gauged"),
    (CODE, RUN, RECEIVER_CUT, *optional(moment("gauged_at", N_("Gauged")), *VOLUME, *STRENGTH, FATE)),
    m.spirit_if_measured,
    batch="receiver",
)
RECEIVED = Kind(
    t.received,
    N_("Received from elsewhere"),
    (CODE, *RECEIVED_AS, day("received_on", N_("Received on")), *optional(*VOLUME, *STRENGTH, STATED_AGE)),
    m.spirit_if_measured,
    batch="received",
)
BLENDS = Kind(
    t.blends,
    N_("Vats made up"),
    (CODE, VAT, moment("made_at", N_("Made")), *VOLUME, *STRENGTH),
    m.spirit,
    batch="blend",
)
LOTS = Kind(
    t.lots,
    N_("Lots of bottles"),
    (CODE, PRODUCT, day("bottled_on", N_("Bottled on")), *BOTTLED),
    batch="lot",
)
FILLS = Kind(
    t.fills,
    N_("Fills of casks"),
    (CODE, CASK, STORE, moment("filled_at", N_("Filled")), *optional(moment("emptied_at", N_("Emptied")))),
    batch="fill",
    order=("filled_at", "emptied_at"),
)
GAUGES = Kind(
    t.gauges,
    N_("Gauges of casks"),
    (FILL, AT, HOW, *optional(*VOLUME, GROSS_KG), SCALE, *READ),
    m.gauged,
    key=("fill", "at"),
)
CASK_EVENTS = Kind(
    t.cask_events,
    N_("Leaks, samples, moves, dumps"),
    (FILL, AT, EVENT_KIND, *optional(*VOLUME, *STRENGTH, TO_STORE)),
    m.taken_out,
    key=("fill", "at", "kind"),
)
DRAWS = Kind(
    t.draws,
    N_("Draws"),
    (FROM_KIND, FROM, TO_KIND, TO, AT, *DRAWN),
    m.drawn,
    key=("from_kind", "from", "to_kind", "to", "at"),
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
BY_NAME: Mapping[str, Kind] = {kind.name: kind for kind in KINDS}
LISTED: Mapping[str, Kind] = {kind.name: kind for kind in KINDS if kind.listed}
"""The kinds of record that have pages, on which staff correct and void them."""
