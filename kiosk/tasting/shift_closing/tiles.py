"""A shift that is not signed as tiles: each product's bottles, stock and balance, and what is missing."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from kiosk.figures.figure import Unit
from kiosk.figures.service.stocktaking import ROUNDING_ML
from kiosk.site.products import short_name
from kiosk.site.settings import Site
from kiosk.tasting.bottles.text import EMPTY_UL, tint_of
from kiosk.tasting.shift_closing.balances import OpenBottle, ProductShift, SealedCount
from kiosk.tasting.shift_closing.typed import Missing, count_field, weight_field
from kiosk.words import formats, units
from kiosk.words.catalogs import N_, Words

State = Literal["open", "in", "out", "wrong"]
MOST_NAMED = 3
"""As many products as are named in a line of what is missing; more are counted."""


@dataclass(frozen=True, slots=True)
class BottleTile:
    """An open bottle: its drawing's shares of the full bottle, and the field for its weight."""

    id: int
    field: str
    code: str
    share: float
    expected: float
    level: str  # its content at 20 °C, once it is weighed
    weighable: bool
    weighed: str  # at what time and with how many g, where that is on record
    typed: str
    fault: str


@dataclass(frozen=True, slots=True)
class CountTile:
    """Sealed bottles of one approval and size, and the field for their count."""

    field: str
    code: str
    size: str
    expected: int
    counted: int | None
    typed: str
    fault: str


@dataclass(frozen=True, slots=True)
class ProductTile:
    """One product of a shift; `difference_ml` is None while one of its open bottles is not weighed."""

    product: str
    name: str
    tint: str
    state: State
    bottles: Sequence[BottleTile]
    sealed: Sequence[CountTile]
    difference_ml: float | None
    allowed_ml: float  # the tolerance and half a mL of rounding
    difference: str
    tolerance: str
    without_bottle: int
    opens: bool  # whether to offer opening a bottle: none is open, or none that holds anything


@dataclass(frozen=True, slots=True)
class ToDo:
    """A line of what is to be done or known before a shift is signed."""

    icon: str
    text: str
    about: str
    to: str  # the id of the field, or of the tile, to go to; empty where it is not on this page


def product_tiles(
    products: Iterable[ProductShift],
    site: Site,
    words: Words,
    as_typed: Mapping[str, str],
    faults: Mapping[str, str],
) -> list[ProductTile]:
    """Return the tiles of a shift; what was typed stands in its fields again, with what is wrong with it."""
    return [_product(one, site, words, as_typed, faults) for one in products]


def _product(
    one: ProductShift, site: Site, words: Words, as_typed: Mapping[str, str], faults: Mapping[str, str]
) -> ProductTile:
    bottles = [_bottle(b, site, words, as_typed, faults) for b in one.bottles]
    sealed = [_count(s, words, as_typed, faults) for s in one.sealed]
    known = not one.not_weighed
    wrong = any(b.fault for b in bottles) or any(s.fault for s in sealed)
    state: State = "wrong" if wrong else "open" if not known else "in" if one.balance.within else "out"
    return ProductTile(
        product=one.product,
        name=short_name(site, one.product, words),
        tint=tint_of(site, one.product),
        state=state,
        bottles=bottles,
        sealed=sealed,
        difference_ml=one.balance.difference_ml if known else None,
        allowed_ml=one.balance.tolerance_ml + ROUNDING_ML,
        difference=_difference(one.balance.difference_ml, words) if known else words.gettext("Not weighed"),
        tolerance=f"±{formats.number(round(one.balance.tolerance_ml), 0, words)}",
        without_bottle=one.without_bottle,
        opens=all(bottle.level_ul < EMPTY_UL for bottle in one.bottles),
    )


def _bottle(
    one: OpenBottle, site: Site, words: Words, as_typed: Mapping[str, str], faults: Mapping[str, str]
) -> BottleTile:
    name = weight_field(one.id)
    known = one.weighed_at is not None
    full_ul = one.size_ml * 1000
    typed, weighed = as_typed.get(name, ""), ""
    if one.weighed_at is not None and not typed:
        grams, time = formats.number(one.weighed_g or 0, 0, words), one.weighed_at
        weighed = words.gettext("{grams} g at {time}", grams=grams, time=formats.time(time, site.zone, words))
    return BottleTile(
        id=one.id,
        field=name,
        code=one.code,
        share=min(1.0, max(0.0, (one.level_ul if known else one.expected_ul) / full_ul)),
        expected=min(1.0, max(0.0, one.expected_ul / full_ul)),
        level=_ml(one.left_ml, words) if known else "",
        weighable=one.weighable,
        weighed=weighed,
        typed=typed,
        fault=faults.get(name, ""),
    )


def _count(
    one: SealedCount, words: Words, as_typed: Mapping[str, str], faults: Mapping[str, str]
) -> CountTile:
    name = count_field(one.key)
    typed, fault = as_typed.get(name, ""), faults.get(name, "")
    return CountTile(name, one.code, _ml(one.key[1], words), one.expected, one.counted, typed, fault)


def to_do(
    missing: Missing, tiles: Sequence[ProductTile], body: Mapping[str, Any], words: Words
) -> list[ToDo]:
    """Return what is to be done or known before a shift is signed: first what is missing."""
    names = {tile.product: tile.name for tile in tiles}
    lines = _missing_lines(missing, tiles, names, words)
    out = [tile for tile in tiles if tile.state == "out"]
    if len(out) > MOST_NAMED:
        text = words.ngettext("{n} product out of tolerance", "{n} products out of tolerance", len(out))
        lines.append(ToDo("check", text, _named([(t.product, "") for t in out], names), _place(out[0])))
    else:
        about = words.gettext("More than the tolerance: is a spill or a pour not entered?")
        lines += [ToDo("check", f"{tile.name}: {tile.difference}", about, _place(tile)) for tile in out]
    for tile in tiles:
        if tile.without_bottle:
            n = tile.without_bottle
            text = words.ngettext(
                "{n} pour while no bottle was open.", "{n} pours while no bottle was open.", n
            )
            lines.append(ToDo("check", tile.name, text, f"tile-{tile.product}"))
    preset = sum(product["preset_ul"] for product in body["products"])
    if preset:
        text = words.gettext("Pre-poured, not yet served")
        lines.append(ToDo("room", text, _ml(preset / 1000, words), ""))
    return lines


def _missing_lines(
    missing: Missing, tiles: Sequence[ProductTile], names: Mapping[str, str], words: Words
) -> list[ToDo]:
    """Return the lines for what is not weighed and not counted: by name where few are left."""
    lines = []
    if missing.bottles:
        n, of = len(missing.bottles), [(p, b.code) for p, b in missing.bottles]
        text = words.ngettext("Weigh {n} open bottle", "Weigh {n} open bottles", n)
        whole = sum(bottle.weighable for tile in tiles for bottle in tile.bottles)
        done = words.gettext("{done} of {whole} are weighed", done=whole - n, whole=whole)
        about = _named(of, names) if n <= MOST_NAMED else done
        lines.append(ToDo("scale", text, about, f"f-{weight_field(missing.bottles[0][1].id)}"))
    if missing.counts:
        n, of = len(missing.counts), [(p, s.code) for p, s in missing.counts]
        text = words.ngettext("Count {n} sealed product", "Count {n} sealed products", n)
        whole = sum(len(tile.sealed) for tile in tiles)
        done = words.gettext("{done} of {whole} are counted", done=whole - n, whole=whole)
        about = _named(of, names) if n <= MOST_NAMED else done
        lines.append(ToDo("bottles", text, about, f"f-{count_field(missing.counts[0][1].key)}"))
    return lines


def _place(tile: ProductTile) -> str:
    """Return the id of the field for a product's first bottle, or of its tile where none is weighed."""
    weighable = (bottle.field for bottle in tile.bottles if bottle.weighable)
    return next((f"f-{field}" for field in weighable), f"tile-{tile.product}")


def _named(of: Sequence[tuple[str, str]], names: Mapping[str, str]) -> str:
    """Return products by name; with its code, where there are several of one."""
    several = Counter(product for product, _code in of)
    return ", ".join(f"{names[p]} {code}" if several[p] > 1 else names[p] for p, code in of)


def _difference(short_ml: float, words: Words) -> str:
    amount = _ml(abs(short_ml), words)
    if round(short_ml) == 0:
        return amount
    message = N_("Short {amount}") if short_ml > 0 else N_("Over {amount}")
    return words.gettext(message, amount=amount)


def _ml(ml: float, words: Words) -> str:
    return str(units.amount(round(ml), Unit.ML, 0, words, "metric"))
