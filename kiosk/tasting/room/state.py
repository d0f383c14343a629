"""The room as data for its script: guests, glasses with their costs, limits, and the words for them.

Amounts and instants cross, no law: an allowance holds what a guest may still be served, and the tablet
only subtracts from it. Instants are milliseconds of Unix time by the server's clock.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from kiosk.figures.drinks import (
    COUNTED,
    ETHANOL_PER_ML,
    FL_OZ_ML,
    Allowance,
    Cost,
    Kind,
    Limit,
    Served,
    cost,
)
from kiosk.figures.service.allowance import NOT_APPROVED
from kiosk.site.products import allergen_names, product_name
from kiosk.site.settings import Site, Units
from kiosk.tasting.approvals.approvals import UnknownProduct, allergens_for_guest, offer
from kiosk.tasting.bottles.text import running_low
from kiosk.tasting.flights.planning import Item
from kiosk.tasting.room.room import BookingNeeds, Low, RoomView, booking_needs
from kiosk.tasting.room.text import GuestText, guest_text, size, size_in_both
from kiosk.tasting.room.tiles import RoomContext, Tile, alcohol_free
from kiosk.tasting.room.words import COUNTED_WORDS, LEFT_OF_LIMIT, WORDS
from kiosk.words import formats, reasons
from kiosk.words.catalogs import Words

MOST_INTERNODES = 12
COMMITTED = timedelta(seconds=5)
"""What was recorded longer ago is in the state: a slow commit is seen later than its own time."""


@dataclass(frozen=True, slots=True)
class Reader:
    """Who looks at the room: their site and words, the names of staff by their id, and the moment."""

    site: Site
    words: Words
    staff: Mapping[object, str]
    now: datetime


def room_state(view: RoomView, low: Iterable[Low], reader: Reader) -> dict[str, Any]:
    """Return the room for its script; `low` are the products of which the open bottles hold too little."""
    site, words, context = reader.site, reader.words, view.context
    flight = [(_planned(item), _without(context, item)) for item in context.flight]
    others = [(one.product, one.volume_ul) for one in context.offers]
    free = _without(context, None)
    every = {*others, *(one for pair in flight for one in pair if one), *([free] if free else [])}
    return {
        "as_of": _ms(reader.now),
        "known_at": _ms(reader.now - COMMITTED),
        "letter": view.tour.letter,
        "finished": "finish" in context.steps,
        "in_force": context.in_force,
        "flight": [{"glass": _code(strong), "free": _code(twin)} for strong, twin in flight],
        "free": _code(free),
        "offers": [_code(one) for one in others],
        "glasses": {_code(one): _glass(context, one, words) for one in sorted(every)},
        "limits": [_limit(one, site, words) for one in context.rules.limits if one.kind in COUNTED],
        "guests": [_guest(view, tile, every, reader) for tile in view.tiles],
        "preset": len(view.preset_glasses),
        "low": [_low(one, site, words) for one in low],
        "needs": [_need(one, words) for one in booking_needs(view)],
        "reasons": {code: reasons.for_staff(code, site.policy, words) for code in _codes(view)},
        "words": {name: words.unfilled(message) for name, message in WORDS.items()},
        "forms": {name: words.forms(*pair) for name, pair in COUNTED_WORDS.items()},
    }


Glass = tuple[str, int]
"""A glass by the code of its product or recipe and the volume from its bottle, in µL."""


def _planned(item: Item) -> Glass:
    return item.glass, item.volume_ul


def _without(context: RoomContext, item: Item | None) -> Glass | None:
    free = alcohol_free(context, item)
    return (free.product, free.volume_ul) if free else None


def _code(glass: Glass | None) -> str:
    return f"{glass[0]} {glass[1]}" if glass else ""


def _ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def _glass(context: RoomContext, glass: Glass, words: Words) -> dict[str, Any]:
    code, volume_ul = glass
    named = {
        "product": code,
        "volume_ul": volume_ul,
        "name": _short_name(context.site, code, words),
        "size": size(volume_ul, context.site, words) if volume_ul else "",
    }
    try:
        asked = cost(context.rules, offer(context.site, context.at_hand, code, volume_ul))
    except UnknownProduct:  # an experiment that is no product: without its approval nobody knows its strength
        return named | {"free": False, "never": [NOT_APPROVED], "cost": {}}
    return named | cost_data(asked)


def cost_data(asked: Cost) -> dict[str, Any]:
    """Return the cost of a glass for the script."""
    return {"free": asked.free, "never": list(asked.never), "cost": dict(asked.amounts)}


def _short_name(site: Site, code: str, words: Words) -> str:
    """Return a product's name without the house's own before it, which everybody in the room knows."""
    name = product_name(site, code, words)
    return name.removeprefix(site.name).strip() or name


def _guest(view: RoomView, tile: Tile, glasses: Iterable[Glass], reader: Reader) -> dict[str, Any]:
    site, words = reader.site, reader.words
    record = view.records[tile.guest_id]
    named = record.row.allergens or ()
    asks = {_code(one): allergens_for_guest(site, one[0], named) for one in glasses} if named else {}
    shown: GuestText = guest_text(tile, site, words)
    return {
        "id": tile.guest_id,
        "number": tile.number,
        "name": tile.first_name or "",
        "language": tile.language,
        "state": tile.state,
        "gone": tile.gone,
        "behind": shown.behind,
        "had": shown.had,
        "count": tile.samples,
        "skipped": tile.skipped,
        "flight": list(tile.flight),
        "allergens": allergen_names(named, words),
        "asks": {code: allergen_names(found, words) for code, found in asks.items() if found},
        "allowance": allowance_data(tile.given, tile.outside),
        "pours": [_poured(view, one, reader) for one in reversed(record.served)],
        "flag": shown.flag,
        "claimed": shown.claimed,
        "typed_in": [f"{one[:1].upper()}{one[1:]}." for one in shown.typed_in],
    }


def allowance_data(given: Allowance, outside: Sequence[str] = ()) -> dict[str, Any]:
    """Return an allowance for the script; `outside` are the reasons against any pour that no rule gives."""
    return {
        "blocked": [*outside, *given.blocked],
        "from": _ms(given.from_),
        "until": _ms(given.until),
        "gap": round(given.gap.total_seconds() * 1000),
        "not_before": _ms(given.not_before),
        "left": {
            limit: [left.remainder, round(left.window.total_seconds() * 1000) if left.window else None]
            for limit, left in given.left.items()
        },
        "refills": [[_ms(one.at), one.limit, one.amount] for one in given.refills],
    }


def _poured(view: RoomView, served: Served, reader: Reader) -> dict[str, Any]:
    context, words = view.context, reader.words
    by = view.poured_by.get(served.key)
    undo = context.undo_until.get(served.key)
    name = _short_name(reader.site, served.glass, words)
    return {
        "key": served.key,
        "name": ", ".join(
            [name, *([size(served.volume_ul, reader.site, words)] if served.volume_ul else [])]
        ),
        "at": _ms(served.at),
        "time": formats.time(served.at, reader.site.zone, words),
        "by": reader.staff.get(by, "") if by else "",
        "done": served.done_at is not None,
        "undo_until": _ms(undo) if undo and not served.preset else 0,
        "double": served.key in context.doubles,
    }


def _limit(limit: Limit, site: Site, words: Words) -> dict[str, Any]:
    """Return a limit with the unit in which it is shown, and the measure of one internode of its stalk."""
    unit, digits = _unit(limit, site)
    measure = min((one.volume_ul for one in site.measures), default=0)
    steps: Mapping[Kind, Sequence[Fraction]] = {
        Kind.VOLUME: [Fraction(measure) or unit],
        Kind.DRINKS: [unit / 4, unit / 2, unit],
    }
    fitting = [step for step in steps.get(limit.kind, [unit]) if limit.most / step <= MOST_INTERNODES]
    step = fitting[0] if fitting else Fraction(limit.most, MOST_INTERNODES)
    return {
        "id": limit.id,
        "most": limit.most,
        "unit": float(unit),
        "digits": digits,
        "internode": float(step),
        "left": words.forms(*LEFT_OF_LIMIT[limit.kind, site.units if limit.kind is Kind.VOLUME else None]),
    }


def _unit(limit: Limit, site: Site) -> tuple[Fraction, int]:
    """Return how much of a limit's amount is one of the unit in which it is shown, and its decimals."""
    if limit.kind is Kind.DRINKS:
        return site.standard_drink.ethanol_ml * ETHANOL_PER_ML, 1
    if limit.kind is not Kind.VOLUME:
        return Fraction(1), 0
    return (FL_OZ_ML * 1000, 2) if site.units is Units.US else (Fraction(1000), 0)


def _low(low: Low, site: Site, words: Words) -> dict[str, Any]:
    name, left = _short_name(site, low.product, words), size_in_both(low.level_ul, site, words, 0)
    return {"product": low.product, "name": name, "left": left, "sentence": running_low(low, site, words)}


def _need(need: BookingNeeds, words: Words) -> dict[str, Any]:
    named = allergen_names(need.allergens, words)
    parts = (named, need.allergy_notes, need.access_needs, need.notes)
    return {"numbers": list(need.numbers), "name": need.name, "asked": [part for part in parts if part]}


def _codes(view: RoomView) -> Sequence[str]:
    """Return every reason that a tablet may have to name: the rules' codes and the ids of the limits."""
    return (*reasons.REASONS, *(limit.id for limit in view.context.rules.limits))
