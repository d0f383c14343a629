"""The lines of records that each form makes of what was read in its fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kiosk.figures.strength import DENSITY_METER, density, volume_at
from kiosk.production.entering.asking import Known, LineOf, Lines, Parts, Values
from kiosk.production.importing import building as b
from kiosk.production.importing import kinds as k
from kiosk.production.importing.faults import Unreadable
from kiosk.production.lineage.chain import sugar_g
from kiosk.words.catalogs import N_

LESS_THAN_ADDED = N_("The cask would hold less pure alcohol than was added. Check both measurements.")
_OF_WATER = {"scale": DENSITY_METER, "reading": 0.0, "temperature_c": 20.0}
"""What holds no alcohol, as a reading says it."""


def gauge(how: str) -> Lines:
    """Make a gauge of the fill."""
    return lambda v, known: [(k.GAUGES, {**v, "how": how})]


def event(kind: str) -> Lines:
    """Make something that happened to the fill."""
    return lambda v, known: [(k.CASK_EVENTS, {**v, "kind": kind})]


def nothing(v: Values, known: Known) -> list[LineOf]:
    """Make no record: the form only ends what is under way."""
    return []


def wash_read(v: Values, known: Known) -> list[LineOf]:
    """Make a reading of a wash."""
    return [(k.WASH_READINGS, dict(v))]


def _draw(v: Values, made: Mapping[str, int], **ends: str) -> LineOf:
    """Draw what was measured: amounts at 20 °C."""
    amounts = {"alcohol_l": made["alcohol_ml"] / 1000, "volume_l": made["volume20_ml"] / 1000}
    return k.DRAWS, {"at": v["at"], "row": v.get("row", 1), **ends, **amounts}


def _source(v: Values) -> dict[str, str]:
    return {"from_kind": v["from_kind"], "from": v["from"]}


def _juice_at_20(litres: float, temperature_c: float) -> float:
    # Up to 25 °Bx juice is taken to expand like water (common practice).
    return litres * density(0.0, temperature_c) / density(0.0, 20.0)


def _measured(v: Values, known: Known) -> dict[str, int]:
    """Return volume and alcohol at 20 °C of a part, its strength read or already known."""
    abv = known.strength_of(v["from_kind"], v["from"]) if v["reading"] is None else None
    if abv is None:
        return b.spirit(v)
    litres = volume_at(v["volume_l"], abv, v["volume_temperature_c"], 20.0)
    return {"volume20_ml": round(litres * 1000), "alcohol_ml": round(litres * abv * 10)}


def _drawn(parts: Parts, v: Values, known: Known, to_kind: str) -> list[LineOf]:
    """Draw every part into the new batch, each strength read with the form's one instrument."""
    to = {"to_kind": to_kind, "to": v["code"]}

    def draw(part: Values) -> LineOf:
        whole = {**v, **part}
        return _draw(whole, _measured(whole, known), **_source(part), **to)

    return list(parts.each(v, draw))


def filled(v: Values, known: Known) -> list[LineOf]:
    """Fill a cask: the fill, its first gauge, the draw into it."""
    first = {**v, "fill": v["code"]}
    drawn = b.gauged(first, known.tare_of)
    draw = _draw(v, drawn, **_source(v), to_kind="fill", to=v["code"])
    return [(k.FILLS, {**v, "filled_at": v["at"]}), (k.GAUGES, first), draw]


def topped(v: Values, known: Known) -> list[LineOf]:
    """Top a cask up: a new fill of what lay in it and of what was added, gauged once it is full."""
    added = b.spirit(
        {
            **v,
            "volume_l": v["added_l"],
            "volume_temperature_c": v["added_temperature_c"],
            "reading": v["added_reading"],
            "temperature_c": v["added_reading_temperature_c"],
        }
    )
    full = b.spirit(v)
    rest = {name: full[name] - added[name] for name in full}
    if min(rest.values()) < 0:
        raise Unreadable(LESS_THAN_ADDED, "volume_l")
    to = {"to_kind": "fill", "to": v["code"]}
    return [
        (k.FILLS, {**v, "filled_at": v["at"]}),
        (k.GAUGES, {**v, "fill": v["code"], "how": "dip"}),
        _draw(v, rest, from_kind="fill", **{"from": v["fill"]}, **to),
        _draw(v, added, **_source(v), **to),
    ]


def transferred(v: Values, known: Known) -> list[LineOf]:
    """Draw out of a cask into another batch."""
    return [_draw(v, b.spirit(v), from_kind="fill", **{"from": v["fill"]}, to_kind=v["to_kind"], to=v["to"])]


def milled(v: Values, known: Known) -> list[LineOf]:
    """Mill a load: the load with its juice at 20 °C, the cane drawn from its field."""
    at_20 = _juice_at_20(v["juice_l"], v["juice_temperature_c"])
    ends = {"from_kind": "field", "from": v["field"], "to_kind": "load", "to": v["code"]}
    draw = {**ends, "at": v["milled_at"], "cane_kg": v["cane_kg"]}
    return [(k.LOADS, {**v, "juice_l": at_20}), (k.DRAWS, draw)]


def wash_set(parts: Parts) -> Lines:
    """Set a wash: its volume at 20 °C, and the sugar drawn from each load."""

    def lines(v: Values, known: Known) -> list[LineOf]:
        at_20 = _juice_at_20(v["volume_l"], v["volume_temperature_c"])

        def draw(part: Values) -> LineOf:
            juice_l = _juice_at_20(part["juice_l"], v["volume_temperature_c"])
            ends = {"from_kind": "load", "from": part["load"], "to_kind": "wash", "to": v["code"]}
            sugar_kg = round(sugar_g(juice_l * 1000, part["brix"]) / 1000, 3)
            drawn = {"at": v["at"], "row": part["row"], "sugar_kg": sugar_kg, "volume_l": juice_l}
            return k.DRAWS, {**ends, **drawn}

        return [(k.WASHES, {**v, "set_at": v["at"], "volume_l": at_20}), *parts.each(v, draw)]

    return lines


def run_begun(parts: Parts) -> Lines:
    """Begin a run: the run and its charge, receipt by receipt."""
    return lambda v, known: [(k.RUNS, {**v, "started_at": v["at"]}), *_drawn(parts, v, known, "run")]


def still_read(v: Values, known: Known) -> list[LineOf]:
    """Read a still: what was collected is kept at 20 °C."""
    abv = b.abv_percent(v)
    at_20 = volume_at(v["collected_l"], abv, v["collected_temperature_c"], 20.0)
    return [(k.RUN_READINGS, {**v, "collected_l": at_20})]


def received_gauged(v: Values, known: Known) -> list[LineOf]:
    """Gauge a receiver at the end of a run: the receiver, and what the run gave into it."""
    ends = {"from_kind": "run", "from": v["run"], "to_kind": "receiver", "to": v["code"]}
    return [(k.RECEIVERS, {**v, "gauged_at": v["at"]}), _draw(v, b.spirit(v), **ends)]


def received(v: Values, known: Known) -> list[LineOf]:
    """Take in what comes from elsewhere: spirit is measured, water, sugar and fruit hold no alcohol."""
    line: dict[str, Any] = {**v, "received_on": v["at"].date()}
    if v["kind"] == "spirit":
        b.needed(v, "volume_l")
    elif v["volume_l"] is not None and v["reading"] is None:
        line |= _OF_WATER
    return [(k.RECEIVED, line)]


def blended(parts: Parts) -> Lines:
    """Make up a vat: the blend as gauged, and every part drawn into it."""
    return lambda v, known: [(k.BLENDS, {**v, "made_at": v["at"]}), *_drawn(parts, v, known, "blend")]


def bottled(v: Values, known: Known) -> list[LineOf]:
    """Bottle a lot: the lot, and what was drawn into it."""
    lot = {**v, "bottled_on": v["at"].date()}
    return [(k.LOTS, lot), _draw(v, b.spirit(v), **_source(v), to_kind="lot", to=v["code"])]
