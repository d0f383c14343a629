"""The forms of those who write records: what each asks, in the order of the work."""

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from kiosk.production.forms import deriving
from kiosk.production.records import kinds as k
from kiosk.production.records.fields import Field, code, number, optional
from kiosk.production.records.forms import (
    INSTRUMENT,
    READ,
    SAMPLE,
    SPIRIT,
    STILL_READING,
    STRENGTH,
    WASH_READING,
    Form,
    Parts,
    event,
)
from kiosk.words.catalogs import N_

CODE, CASK, AT = k.CODE, k.CASK, k.AT


def _among(field: Field, *kinds: str) -> Field:
    return replace(field, allowed={kind: k.BATCHES[kind] for kind in kinds})


def _from(*kinds: str) -> tuple[Field, Field]:
    """Return the two fields that name what is drawn from."""
    return _among(k.FROM_KIND, *kinds), k.FROM


def _spirit_parts(*kinds: str) -> Parts:
    """Return rows of what goes in, each with its volume and, where it is not known already, its strength."""
    return Parts((*_from(*kinds), *k.VOLUME, *optional(*k.READING)))


SOURCE = _from("receiver", "fill", "blend", "received")
JUICE = Parts((code("load", N_("Load of cane"), "load", ""), k.JUICE_L, k.BRIX))
CHARGE = _spirit_parts("wash", "receiver", "fill", "received")
VATTED = _spirit_parts("fill", "receiver", "blend", "received")

_MILL = (
    Form(
        "mill-load",
        N_("Load milled"),
        (
            CODE,
            code("field", N_("Field"), "field", ""),
            k.CUT_ON,
            k.MILLED_AT,
            k.CANE_KG,
            k.JUICE_L,
            number("juice_temperature_c", 0, 40, N_("Temperature of the juice, °C")),
            *optional(k.BRIX),
        ),
        deriving.load,
    ),
)
_TANKS = (
    Form(
        "wash-set",
        N_("Set a wash"),
        (CODE, k.TANK, AT, *k.VOLUME),
        deriving.wash(JUICE),
        JUICE,
        hint=N_("The volume of the whole wash, then the juice of each load that went into it."),
    ),
    WASH_READING,
    Form("wash-end", N_("End a wash"), (k.WASH, AT), deriving.nothing, closes="wash"),
)
_STILLS = (
    Form(
        "run-start",
        N_("Start a run"),
        (CODE, k.STILL, k.RUN_KIND, AT, *optional(INSTRUMENT)),
        deriving.run(CHARGE),
        CHARGE,
        hint=N_("Leave the reading of a wash empty: its strength comes from its gravities."),
    ),
    STILL_READING,
    Form(
        "receiver",
        N_("Gauge a receiver"),
        (
            CODE,
            k.RUN,
            replace(k.RECEIVER_CUT, name="held_cut", label=N_("Which receiver")),
            AT,
            *SPIRIT,
            k.FATE,
        ),
        deriving.receiver,
        hint=N_("One entry for each receiver, and one for what is left in the pot."),
    ),
    Form("run-end", N_("End a run"), (k.RUN, AT), deriving.nothing, closes="run"),
)
_CASKS = (
    Form(
        "cask-fill",
        N_("Fill a cask"),
        (
            CODE,
            CASK,
            k.STORE,
            AT,
            *SOURCE,
            replace(k.HOW, allowed={how: k.HOW.allowed[how] for how in ("dip", "weight")}),
            *optional(*k.VOLUME, k.GROSS_KG),
            *STRENGTH,
        ),
        deriving.fill,
    ),
    Form(
        "top-up",
        N_("Top up a cask"),
        (
            CASK,
            CODE,
            k.STORE,
            AT,
            *SOURCE,
            INSTRUMENT,
            number("added_l", 0, 2_000, N_("Volume added, L")),
            number("added_temperature_c", -20, 40, N_("Temperature of the volume added, °C")),
            number("added_reading", 0, 200, N_("Reading of what was added"), kept=""),
            number("added_reading_temperature_c", -20, 40, N_("Temperature at that reading, °C")),
            *k.VOLUME,
            *k.READING,
        ),
        deriving.top_up,
        closes="fill",
        hint=N_("First what is added, then the cask as it is measured once it is full: it gets a new code."),
    ),
    Form(
        "regauge-volume",
        N_("Regauge by volume"),
        (CASK, AT, k.VOLUME_L, *optional(k.VOLUME[1]), *READ),
        deriving.gauge("dip"),
    ),
    Form(
        "regauge-weight",
        N_("Regauge by weight"),
        (CASK, AT, k.GROSS_KG, *READ),
        deriving.gauge("weight"),
    ),
    Form("leak", N_("Leak"), (CASK, AT, *optional(*SPIRIT)), event("leak")),
    SAMPLE,
    Form(
        "transfer",
        N_("Transfer out of a cask"),
        (CASK, AT, _among(k.TO_KIND, "fill", "run", "blend", "lot"), k.TO, *SPIRIT),
        deriving.transfer,
    ),
    Form("dump", N_("Dump a cask"), (CASK, AT, *optional(*SPIRIT)), event("dump"), closes="fill"),
    Form("move", N_("Move a cask"), (CASK, AT, k.TO_STORE), event("move")),
)
_BOTTLING = (
    Form(
        "received",
        N_("Received from elsewhere"),
        (CODE, *k.RECEIVED_AS, AT, *optional(*SPIRIT)),
        deriving.received,
    ),
    Form(
        "blend",
        N_("Make up a vat"),
        (CODE, k.VAT, AT, *SPIRIT),
        deriving.blend(VATTED),
        VATTED,
        hint=N_(
            "The vat as it is measured once it is made up, then what went into it; water needs no reading."
        ),
    ),
    Form("bottling", N_("Bottling"), (CODE, k.PRODUCT, AT, *k.BOTTLED, *SOURCE, *SPIRIT), deriving.lot),
)


class Step(NamedTuple):
    """A step of the work: the stop that draws it, what it is called, its forms, the tables they write."""

    stop: str
    title: str
    forms: tuple[Form, ...]
    tables: tuple[str, ...]


STEPS = (
    Step("mill", N_("Mill"), _MILL, ("loads",)),
    Step("fermentation", N_("Tanks"), _TANKS, ("washes", "wash_readings")),
    Step("still-house", N_("Stills"), _STILLS, ("runs", "run_readings", "receivers")),
    Step("cask-store", N_("Casks"), _CASKS, ("fills", "gauges", "cask_events")),
    Step("bottling", N_("Blending and bottling"), _BOTTLING, ("received", "blends", "lots")),
)
"""Every step with its forms, in the order of the work."""
FORMS: Mapping[str, Form] = {form.name: form for step in STEPS for form in step.forms}
FORMS_OF_ROWS: Mapping[str, Form] = {
    kind.file: Form("row-" + kind.name.replace("_", "-"), kind.title, kind.fields, deriving.nothing)
    for kind in k.KINDS
}
"""A form for a held row of each file, with the fields of its kind."""
