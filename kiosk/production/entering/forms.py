"""The forms of those who write records: what each asks, and the lines of records that it makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from kiosk.figures.strength import density, volume_at
from kiosk.production.importing import building as b
from kiosk.production.importing import kinds as k
from kiosk.production.importing.columns import Column, choice, code, day, moment, number, whole
from kiosk.words.marker import N_

Values = Mapping[str, Any]
LineOf = tuple[k.Kind, dict[str, Any]]
Lines = Callable[[Values, b.TareOf], list[LineOf]]


@dataclass(frozen=True, slots=True)
class Form:
    """One form: its fields, and how what was read in them becomes lines of records.

    `closes` says whether the fill named is empty afterwards.
    """

    name: str
    title: str
    fields: tuple[Column, ...]
    lines: Lines
    closes: bool = False


INSTRUMENT = Column("instrument", lambda cell, zone: cell, sort="instrument")
VOLUME = (number("volume_l", 0, 500_000), number("volume_temperature_c", -20, 40))
STRENGTH = (INSTRUMENT, number("reading", 0, 200), k.TEMPERATURE_C)
SPIRIT = (*VOLUME, *STRENGTH)
CASK, AT = code("cask"), moment("at")
SOURCE = (choice("from_kind", "receiver", "fill", "received"), code("from"))


def maybe(*columns: Column) -> tuple[Column, ...]:
    """Return the same fields, which may stay empty."""
    return tuple(replace(column, needed=False) for column in columns)


def _gauge(how: str) -> Lines:
    return lambda v, tare_of: [(k.GAUGES, {**v, "how": how})]


def _event(kind: str) -> Lines:
    return lambda v, tare_of: [(k.CASK_EVENTS, {**v, "kind": kind})]


def _draw(v: Values, made: Mapping[str, int], **ends: str) -> LineOf:
    """Draw what was measured: amounts at 20 °C."""
    amounts = {"alcohol_l": made["alcohol_ml"] / 1000, "volume_l": made["volume20_ml"] / 1000}
    return k.DRAWS, {"at": v["at"], **ends, **amounts}


def _filled(v: Values, tare_of: b.TareOf) -> list[LineOf]:
    gauge = {**v, "fill": v["code"]}
    drawn = b.gauged(gauge, tare_of)
    ends = {"from_kind": v["from_kind"], "from": v["from"], "to_kind": "fill", "to": v["code"]}
    return [(k.FILLS, {**v, "filled_at": v["at"]}), (k.GAUGES, gauge), _draw(v, drawn, **ends)]


def _transferred(v: Values, tare_of: b.TareOf) -> list[LineOf]:
    return [_draw(v, b.spirit(v), from_kind="fill", **{"from": v["fill"]}, to_kind=v["to_kind"], to=v["to"])]


def _milled(v: Values, tare_of: b.TareOf) -> list[LineOf]:
    # Juice is counted at 20 °C; up to 25 °Bx it is taken to expand like water (common practice).
    at_20 = v["juice_l"] * density(0.0, v["juice_temperature_c"]) / density(0.0, 20.0)
    ends = {"from_kind": "field", "from": v["field"], "to_kind": "load", "to": v["code"]}
    draw = {**ends, "at": v["milled_at"], "cane_kg": v["cane_kg"]}
    return [(k.LOADS, {**v, "juice_l": at_20}), (k.DRAWS, draw)]


def _read_at_still(v: Values, tare_of: b.TareOf) -> list[LineOf]:
    abv = b.abv_percent(v)
    at_20 = volume_at(v["collected_l"], abv, v["collected_temperature_c"], 20.0)
    return [(k.RUN_READINGS, {**v, "collected_l": at_20})]


def _bottled(v: Values, tare_of: b.TareOf) -> list[LineOf]:
    ends = {"from_kind": v["from_kind"], "from": v["from"], "to_kind": "lot", "to": v["code"]}
    lot = {**v, "bottled_on": v["at"].date()}
    return [(k.LOTS, lot), _draw(v, b.spirit(v), **ends)]


_ALL = (
    Form(
        "cask-fill",
        N_("Fill a cask"),
        (
            code("code"),
            CASK,
            code("store"),
            AT,
            *SOURCE,
            choice("how", "dip", "weight"),
            *maybe(*VOLUME, number("gross_kg", 0, 5000)),
            *STRENGTH,
        ),
        _filled,
    ),
    Form("regauge-volume", N_("Regauge by volume"), (CASK, AT, *SPIRIT), _gauge("dip")),
    Form(
        "regauge-weight",
        N_("Regauge by weight"),
        (CASK, AT, number("gross_kg", 0, 5_000), *STRENGTH),
        _gauge("weight"),
    ),
    Form("leak", N_("Leak"), (CASK, AT, *maybe(*SPIRIT)), _event("leak")),
    Form("sample", N_("Sample from a cask"), (CASK, AT, *SPIRIT), _event("sample")),
    Form(
        "transfer",
        N_("Transfer out of a cask"),
        (CASK, AT, choice("to_kind", "fill", "run", "lot"), code("to"), *SPIRIT),
        _transferred,
    ),
    Form("dump", N_("Dump a cask"), (CASK, AT, *maybe(*SPIRIT)), _event("dump"), closes=True),
    Form("move", N_("Move a cask"), (CASK, AT, code("to_store")), _event("move")),
    Form(
        "mill-load",
        N_("Load milled"),
        (
            code("code"),
            code("field"),
            day("cut_on"),
            moment("milled_at"),
            number("cane_kg", 0, 200000),
            number("juice_l", 0, 200000),
            number("juice_temperature_c", 0, 40),
            *maybe(number("brix", 0, 25)),
        ),
        _milled,
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
        lambda v, tare_of: [(k.WASH_READINGS, dict(v))],
    ),
    Form(
        "still-reading",
        N_("Still reading"),
        (
            code("run"),
            AT,
            choice("cut", *k.CUTS),
            number("collected_l", 0, 100000),
            number("collected_temperature_c", -20, 40),
            *STRENGTH,
        ),
        _read_at_still,
    ),
    Form(
        "bottling",
        N_("Bottling"),
        (
            code("code"),
            code("product"),
            AT,
            whole("bottles", 1, 10000000),
            whole("bottle_ml", 1, 20000),
            number("abv_percent", 0, 100),
            *maybe(number("solids_g_per_l", 0, 600)),
            choice("strength_basis", "distilled", "label", "laboratory", "not_known"),
            *SOURCE,
            *SPIRIT,
        ),
        _bottled,
    ),
)
FORMS: Mapping[str, Form] = {form.name: form for form in _ALL}
