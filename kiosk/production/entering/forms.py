"""The forms of those who write records: what each asks, in the order of the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from kiosk.production.entering import lines
from kiosk.production.entering.asking import Form, Parts
from kiosk.production.importing import kinds as k
from kiosk.production.importing.columns import Column, choice, code, day, moment, number, whole, words
from kiosk.words.catalogs import N_

INSTRUMENT = Column("instrument", lambda cell, zone: cell, sort="instrument")
VOLUME = (number("volume_l", 0, 500_000), number("volume_temperature_c", -20, 40))
STRENGTH = (INSTRUMENT, number("reading", 0, 200), k.TEMPERATURE_C)
SPIRIT = (*VOLUME, *STRENGTH)
CODE, CASK, AT = code("code"), code("cask"), moment("at")


def maybe(*columns: Column) -> tuple[Column, ...]:
    """Return the same fields, which may stay empty."""
    return tuple(replace(column, needed=False) for column in columns)


def source(*kinds: str) -> tuple[Column, Column]:
    """Return the two fields that name what is drawn from."""
    return choice("from_kind", *kinds), code("from")


def spirit_parts(*kinds: str) -> Parts:
    """Return rows of what goes in, each with its volume and, where it is not known already, its strength."""
    return Parts((*source(*kinds), *VOLUME, *maybe(STRENGTH[1], STRENGTH[2])), most=4)


SOURCE = source("receiver", "fill", "blend", "received")
JUICE = Parts((code("load"), number("juice_l", 0, 200_000), number("brix", 0, 25)), most=4)
CHARGE = spirit_parts("wash", "receiver", "fill", "received")
VATTED = spirit_parts("fill", "receiver", "blend", "received")

JUICE_HINT = N_("The volume of the whole wash, then the juice of each load that went into it.")
VAT_HINT = N_("The vat as it is measured once it is made up, then what went into it; water needs no reading.")

_STILL_HOUSE = (
    Form(
        "mill-load",
        N_("Load milled"),
        (
            CODE,
            code("field"),
            day("cut_on"),
            moment("milled_at"),
            number("cane_kg", 0, 200_000),
            number("juice_l", 0, 200_000),
            number("juice_temperature_c", 0, 40),
            *maybe(number("brix", 0, 25)),
        ),
        lines.milled,
    ),
    Form(
        "wash-set",
        N_("Set a wash"),
        (CODE, code("tank"), AT, *VOLUME),
        lines.wash_set(JUICE),
        JUICE,
        hint=JUICE_HINT,
    ),
    Form(
        "wash-reading",
        N_("Wash reading"),
        (
            code("wash"),
            AT,
            choice("kind", "gravity", "brix", "ph", "temperature"),
            number("value", -5, 100),
            *maybe(number("temperature_c", 0, 60)),
        ),
        lines.wash_read,
    ),
    Form("wash-end", N_("End a wash"), (code("wash"), AT), lines.nothing, closes="wash"),
    Form(
        "run-start",
        N_("Begin a run"),
        (CODE, code("still"), choice("kind", "wash", "spirit"), AT, *maybe(INSTRUMENT)),
        lines.run_begun(CHARGE),
        CHARGE,
        hint=N_("Leave the reading of a wash empty: its strength comes from its gravities."),
    ),
    Form(
        "still-reading",
        N_("Still reading or change of cut"),
        (
            code("run"),
            AT,
            choice("cut", *k.CUTS),
            number("collected_l", 0, 100_000),
            number("collected_temperature_c", -20, 40),
            *STRENGTH,
        ),
        lines.still_read,
    ),
    Form(
        "receiver",
        N_("Gauge a receiver"),
        (
            CODE,
            code("run"),
            choice("held_cut", *k.CUTS, "pot"),
            AT,
            *SPIRIT,
            choice("fate", "cask", "tank", "feints", "destroyed"),
        ),
        lambda v, known: lines.received_gauged({**v, "cut": v["held_cut"]}, known),
        hint=N_("One entry for each receiver, and one for what is left in the pot."),
    ),
    Form("run-end", N_("End a run"), (code("run"), AT), lines.nothing, closes="run"),
)
_CASKS = (
    Form(
        "cask-fill",
        N_("Fill a cask"),
        (
            CODE,
            CASK,
            code("store"),
            AT,
            *SOURCE,
            choice("how", "dip", "weight"),
            *maybe(*VOLUME, number("gross_kg", 0, 5_000)),
            *STRENGTH,
        ),
        lines.filled,
    ),
    Form(
        "top-up",
        N_("Top up a cask"),
        (
            CASK,
            CODE,
            code("store"),
            AT,
            *SOURCE,
            INSTRUMENT,
            number("added_l", 0, 2_000),
            number("added_temperature_c", -20, 40),
            number("added_reading", 0, 200),
            number("added_reading_temperature_c", -20, 40),
            *VOLUME,
            *STRENGTH[1:],
        ),
        lines.topped,
        closes="fill",
        hint=N_("First what is added, then the cask as it is measured once it is full: it gets a new code."),
    ),
    Form("regauge-volume", N_("Regauge by volume"), (CASK, AT, *SPIRIT), lines.gauge("dip")),
    Form(
        "regauge-weight",
        N_("Regauge by weight"),
        (CASK, AT, number("gross_kg", 0, 5_000), *STRENGTH),
        lines.gauge("weight"),
    ),
    Form("leak", N_("Leak"), (CASK, AT, *maybe(*SPIRIT)), lines.event("leak")),
    Form("sample", N_("Sample from a cask"), (CASK, AT, *SPIRIT), lines.event("sample")),
    Form(
        "transfer",
        N_("Transfer out of a cask"),
        (CASK, AT, choice("to_kind", "fill", "run", "blend", "lot"), code("to"), *SPIRIT),
        lines.transferred,
    ),
    Form("dump", N_("Dump a cask"), (CASK, AT, *maybe(*SPIRIT)), lines.event("dump"), closes="fill"),
    Form("move", N_("Move a cask"), (CASK, AT, code("to_store")), lines.event("move")),
)
_BOTTLING = (
    Form(
        "received",
        N_("Received from elsewhere"),
        (
            CODE,
            choice("kind", "spirit", "water", "sugar", "fruit"),
            words("what"),
            *maybe(words("origin"), words("document")),
            AT,
            *maybe(*SPIRIT),
        ),
        lines.received,
    ),
    Form(
        "blend",
        N_("Make up a vat"),
        (CODE, code("vat"), AT, *SPIRIT),
        lines.blended(VATTED),
        VATTED,
        hint=VAT_HINT,
    ),
    Form(
        "bottling",
        N_("Bottling"),
        (
            CODE,
            code("product"),
            AT,
            whole("bottles", 1, 10_000_000),
            whole("bottle_ml", 1, 20_000),
            number("abv_percent", 0, 100),
            *maybe(number("solids_g_per_l", 0, 600)),
            choice("strength_basis", "distilled", "label", "laboratory", "not_known"),
            *SOURCE,
            *SPIRIT,
        ),
        lines.bottled,
    ),
)
GROUPS: Mapping[str, tuple[Form, ...]] = {
    N_("Mill, tanks and stills"): _STILL_HOUSE,
    N_("Casks"): _CASKS,
    N_("Blending and bottling"): _BOTTLING,
}
"""Every form, by where it is needed."""
FORMS: Mapping[str, Form] = {form.name: form for group in GROUPS.values() for form in group}
