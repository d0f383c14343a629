"""The records that each form makes of its values: amounts at 20 °C, and the draws between batches."""

from collections.abc import Mapping

from kiosk.figures.strength import DENSITY_METER, density, volume_at
from kiosk.production.lineage.chain import sugar_g
from kiosk.production.records import kinds as k
from kiosk.production.records import measuring as m
from kiosk.production.records.faults import FaultCode, ValueFault
from kiosk.production.records.fields import Values
from kiosk.production.records.forms import Derive, Derived, FormContext, Parts

_OF_WATER = {"scale": DENSITY_METER, "reading": 0.0, "temperature_c": 20.0}
"""The reading of what holds no alcohol."""


def gauge(how: str) -> Derive:
    """Return what derives a gauge of the fill."""
    return lambda v, context: [(k.GAUGES, {**v, "how": how})]


def nothing(v: Values, context: FormContext) -> list[Derived]:
    """Derive no record: the form only ends what is under way."""
    return []


def _draw(v: Values, amounts: Mapping[str, int], **ends: str) -> Derived:
    """Draw what was measured: amounts at 20 °C."""
    measured = {"alcohol_l": amounts["alcohol_ml"] / 1000, "volume_l": amounts["volume20_ml"] / 1000}
    return k.DRAWS, {"at": v["at"], "row": v.get("row", 1), **ends, **measured}


def _source(v: Values) -> dict[str, str]:
    return {"from_kind": v["from_kind"], "from": v["from"]}


def _juice_at_20(litres: float, temperature_c: float) -> float:
    # Juice is taken to expand like water (common practice).
    return litres * density(0.0, temperature_c) / density(0.0, 20.0)


def _measured(v: Values, context: FormContext) -> dict[str, int]:
    """Return volume and alcohol at 20 °C of a part, its strength read or already known."""
    abv = context.strength_of(v["from_kind"], v["from"]) if v["reading"] is None else None
    if abv is None:
        return m.spirit(v)
    litres = volume_at(v["volume_l"], abv, v["volume_temperature_c"], 20.0)
    return {"volume20_ml": round(litres * 1000), "alcohol_ml": round(litres * abv * 10)}


def _drawn(parts: Parts, v: Values, context: FormContext, to_kind: str) -> list[Derived]:
    """Draw every part into the new batch, each strength read with the form's one instrument."""
    to = {"to_kind": to_kind, "to": v["code"]}

    def draw(part: Values) -> Derived:
        whole = {**v, **part}
        return _draw(whole, _measured(whole, context), **_source(part), **to)

    return list(parts.each(v, draw))


def fill(v: Values, context: FormContext) -> list[Derived]:
    """Fill a cask: the fill, its first gauge, the draw into it."""
    first = {**v, "fill": v["code"]}
    amounts = m.gauged(first, context.tare_of)
    draw = _draw(v, amounts, **_source(v), to_kind="fill", to=v["code"])
    return [(k.FILLS, {**v, "filled_at": v["at"]}), (k.GAUGES, first), draw]


def top_up(v: Values, context: FormContext) -> list[Derived]:
    """Top a cask up: a new fill of what lay in it and of what was added, gauged once it is full."""
    added = m.spirit(
        {
            **v,
            "volume_l": v["added_l"],
            "volume_temperature_c": v["added_temperature_c"],
            "reading": v["added_reading"],
            "temperature_c": v["added_reading_temperature_c"],
        }
    )
    full = m.spirit(v)
    rest = {name: full[name] - added[name] for name in full}
    if min(rest.values()) < 0:
        raise ValueFault(FaultCode.LESS_THAN_ADDED, "volume_l")
    to = {"to_kind": "fill", "to": v["code"]}
    return [
        (k.FILLS, {**v, "filled_at": v["at"]}),
        (k.GAUGES, {**v, "fill": v["code"], "how": "dip"}),
        _draw(v, rest, from_kind="fill", **{"from": v["fill"]}, **to),
        _draw(v, added, **_source(v), **to),
    ]


def transfer(v: Values, context: FormContext) -> list[Derived]:
    """Draw out of a cask into another batch."""
    return [_draw(v, m.spirit(v), from_kind="fill", **{"from": v["fill"]}, to_kind=v["to_kind"], to=v["to"])]


def load(v: Values, context: FormContext) -> list[Derived]:
    """Mill a load: the load with its juice at 20 °C, the cane drawn from its field."""
    at_20 = _juice_at_20(v["juice_l"], v["juice_temperature_c"])
    ends = {"from_kind": "field", "from": v["field"], "to_kind": "load", "to": v["code"]}
    draw = {**ends, "at": v["milled_at"], "cane_kg": v["cane_kg"]}
    return [(k.LOADS, {**v, "juice_l": at_20}), (k.DRAWS, draw)]


def wash(parts: Parts) -> Derive:
    """Return what derives a wash: its volume at 20 °C, and the sugar drawn from each load."""

    def derive(v: Values, context: FormContext) -> list[Derived]:
        def draw(part: Values) -> Derived:
            juice_l = _juice_at_20(part["juice_l"], v["volume_temperature_c"])
            ends = {"from_kind": "load", "from": part["load"], "to_kind": "wash", "to": v["code"]}
            sugar_kg = round(sugar_g(juice_l * 1000, part["brix"]) / 1000, 3)
            drawn = {"at": v["at"], "row": part["row"], "sugar_kg": sugar_kg, "volume_l": juice_l}
            return k.DRAWS, {**ends, **drawn}

        at_20 = _juice_at_20(v["volume_l"], v["volume_temperature_c"])
        return [(k.WASHES, {**v, "set_at": v["at"], "volume_l": at_20}), *parts.each(v, draw)]

    return derive


def run(parts: Parts) -> Derive:
    """Return what derives a run and its charge, receipt by receipt."""
    return lambda v, context: [(k.RUNS, {**v, "started_at": v["at"]}), *_drawn(parts, v, context, "run")]


def receiver(v: Values, context: FormContext) -> list[Derived]:
    """Gauge a receiver at the end of a run: the receiver, and what the run gave into it."""
    ends = {"from_kind": "run", "from": v["run"], "to_kind": "receiver", "to": v["code"]}
    gauged = {**v, "cut": v["held_cut"], "gauged_at": v["at"]}
    return [(k.RECEIVERS, gauged), _draw(v, m.spirit(v), **ends)]


def received(v: Values, context: FormContext) -> list[Derived]:
    """Take in what comes from elsewhere: spirit is measured, water, sugar and fruit hold no alcohol."""
    values = {**v, "received_on": context.day(v["at"])}
    if v["kind"] == "spirit":
        m.needed(v, "volume_l")
    elif v["volume_l"] is not None and v["reading"] is None:
        values |= _OF_WATER
    return [(k.RECEIVED, values)]


def blend(parts: Parts) -> Derive:
    """Return what derives a blend as gauged, and every part drawn into it."""
    return lambda v, context: [(k.BLENDS, {**v, "made_at": v["at"]}), *_drawn(parts, v, context, "blend")]


def lot(v: Values, context: FormContext) -> list[Derived]:
    """Bottle a lot: the lot, and what was drawn into it."""
    draw = _draw(v, m.spirit(v), **_source(v), to_kind="lot", to=v["code"])
    return [(k.LOTS, {**v, "bottled_on": context.day(v["at"])}), draw]
