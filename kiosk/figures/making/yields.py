"""Yields from cane to bottle, the cane and juice of one bottle, and the season of the cane."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from kiosk.figures.casks.age import Age, Draw, age
from kiosk.figures.errors import Bounds, FigureError, not_negative, within
from kiosk.figures.making.lineage import LEAST_SHARE, Lineage, cane_behind_kg, lineage, origins, shares

SUCROSE_L_PER_KG = 0.682
"""Litres of pure alcohol that 1 kg of sucrose can give at most: stoichiometry,
0.538 kg/kg over ethanol's 0.78924 kg/L at 20 °C (OIML R 22)."""


def alcohol_per_tonne_l(
    juice_kg_per_kg: float, brix: float, fermentable: float, fermentation: float, recovery: float
) -> float:
    """Return the litres of pure alcohol to expect from a tonne of cane, step by step.

    `juice_kg_per_kg` juice pressed per kg of cane, 0 to 1; `brix` of the juice,
    0 to 40 °Bx; `fermentable` share of the solids that ferments (0.85 to 0.90
    for cane juice, common practice); `fermentation` and `recovery` the shares of
    the possible alcohol that yeast and stills give, 0 to 1 each.
    Raises FigureError `out_of_range`. Source: product of the steps, `SUCROSE_L_PER_KG`.

    >>> round(alcohol_per_tonne_l(0.5, 15.0, 0.88, 0.88, 0.93), 1)
    36.8
    """
    steps = {
        "juice_kg_per_kg": juice_kg_per_kg,
        "fermentable": fermentable,
        "fermentation": fermentation,
        "recovery": recovery,
    }
    litres = 1000.0 * SUCROSE_L_PER_KG * within("brix", brix, 0.0, 40.0, "°Bx") / 100.0
    for name, share in steps.items():
        litres *= within(name, share, 0.0, 1.0)
    return litres


def cane_per_bottle_kg(cane_kg: float, pure_alcohol_l: float, bottle_ml: float, abv_percent: float) -> float:
    """Return the kg of cane from which one bottle was made.

    `cane_kg` of cane gave `pure_alcohol_l` litres of pure alcohol fit to bottle,
    both above 0, so the losses in stills and casks are shared among the
    bottles. `bottle_ml` 0 or more, `abv_percent` 0 to 100 % vol at 20 °C.
    Raises FigureError `out_of_range`, `too_few` when no alcohol was obtained.
    Source: a balance of masses.

    >>> round(cane_per_bottle_kg(1000.0, 37.0, 750.0, 40.0), 1)
    8.1
    """
    not_negative("cane_kg", cane_kg, "kg")
    if not not_negative("pure_alcohol_l", pure_alcohol_l, "L") > 0.0:
        raise FigureError("pure_alcohol_l", pure_alcohol_l, Bounds(0, unit="L", above=True), "too_few")
    bottled_l = not_negative("bottle_ml", bottle_ml, "mL") / 1000.0
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    return cane_kg * bottled_l * abv_percent / 100.0 / pure_alcohol_l


def juice_per_bottle_kg(
    juice_kg: float, pure_alcohol_l: float, bottle_ml: float, abv_percent: float
) -> float:
    """Return the kg of juice from which one bottle was made.

    `juice_kg` of juice gave `pure_alcohol_l` litres of pure alcohol fit to bottle,
    both above 0; `bottle_ml` 0 or more, `abv_percent` 0 to 100 % vol at 20 °C.
    Raises FigureError and has its source as `cane_per_bottle_kg`.

    >>> round(juice_per_bottle_kg(500.0, 37.0, 750.0, 40.0), 2)
    4.05
    """
    not_negative("juice_kg", juice_kg, "kg")
    return cane_per_bottle_kg(juice_kg, pure_alcohol_l, bottle_ml, abv_percent)


@dataclass(frozen=True, slots=True)
class Chain:
    """The amounts measured along one chain from cane to bottle; None where not measured.

    Cane and juice in kg, the juice's Brix, pure alcohol in litres at 20 °C: in the
    wash, in the low wines of its wash runs, in the hearts of its spirit runs, and
    in what was bottled of them. Feints that went in from earlier runs and out to
    later ones are the caller's to balance.
    """

    cane_kg: float | None = None
    juice_kg: float | None = None
    brix: float | None = None
    wash_alcohol_l: float | None = None
    low_wines_alcohol_l: float | None = None
    hearts_alcohol_l: float | None = None
    bottled_alcohol_l: float | None = None


@dataclass(frozen=True, slots=True)
class ChainYields:
    """The yield of each step of a chain; None where either end was not measured.

    `juice_kg_per_kg` of cane; `fermentation` is the share of the most alcohol that
    the juice's fermentable solids can give; `wash_run`, `spirit_run`, `ageing` the
    shares of pure alcohol that each step kept; `alcohol_per_tonne_l` litres of
    pure alcohol at the end of what is known, per tonne of cane.
    """

    juice_kg_per_kg: float | None
    fermentation: float | None
    wash_run: float | None
    spirit_run: float | None
    ageing: float | None
    alcohol_per_tonne_l: float | None


def _ratio(part: float | None, whole: float | None) -> float | None:
    return None if part is None or not whole else part / whole


def chain_yields(chain: Chain, fermentable: float = 0.88) -> ChainYields:
    """Return the yield of each step of a `chain` from cane to bottle.

    `fermentable` is the share of the juice's solids that ferments, above 0 to
    1 (0.85 to 0.90 for cane juice, common practice). Shares above one are
    returned unchanged: a record is wrong or belongs to other cane. Raises
    FigureError `out_of_range` for a negative amount.
    Source: ratios of masses; `SUCROSE_L_PER_KG` for what fermentation can give.

    >>> result = chain_yields(Chain(1000.0, 500.0, 15.0, 39.6, 38.4, 36.8))
    >>> round(result.fermentation, 2), round(result.alcohol_per_tonne_l, 1)
    (0.88, 36.8)
    """
    if not 0.0 < fermentable <= 1.0:
        raise FigureError("fermentable", fermentable, Bounds(0, 1, above=True))
    amounts = {
        "cane_kg": chain.cane_kg,
        "juice_kg": chain.juice_kg,
        "pure_alcohol_l": min((a for a in _alcohol(chain) if a is not None), default=None),
    }
    for name, amount in amounts.items():
        if amount is not None:
            not_negative(name, amount)
    most = None
    if chain.juice_kg is not None and chain.brix is not None:
        solids_kg = chain.juice_kg * within("brix", chain.brix, 0.0, 40.0, "°Bx") / 100.0
        most = solids_kg * fermentable * SUCROSE_L_PER_KG
    last = next((a for a in reversed(_alcohol(chain)) if a is not None), None)
    per_kg = _ratio(last, chain.cane_kg)
    return ChainYields(
        juice_kg_per_kg=_ratio(chain.juice_kg, chain.cane_kg),
        fermentation=_ratio(chain.wash_alcohol_l, most),
        wash_run=_ratio(chain.low_wines_alcohol_l, chain.wash_alcohol_l),
        spirit_run=_ratio(chain.hearts_alcohol_l, chain.low_wines_alcohol_l),
        ageing=_ratio(chain.bottled_alcohol_l, chain.hearts_alcohol_l),
        alcohol_per_tonne_l=None if per_kg is None else 1000.0 * per_kg,
    )


def _alcohol(chain: Chain) -> tuple[float | None, ...]:
    return (chain.wash_alcohol_l, chain.low_wines_alcohol_l, chain.hearts_alcohol_l, chain.bottled_alcohol_l)


LONG_REST = timedelta(days=60)
"""A season ends when the mill stands still for this long (common practice)."""


def season_start(millings: Iterable[datetime], now: datetime, rest: timedelta = LONG_REST) -> datetime | None:
    """Return the start of the milling season that `now` lies in; None between seasons.

    `millings` are times in any order, those after `now` are ignored; `rest` is
    the time without milling that ends a season. Source: common practice.
    """
    done = sorted(at for at in millings if at <= now)
    if not done or now - done[-1] >= rest:
        return None
    began = [after for before, after in pairwise(done) if after - before >= rest]
    return began[-1] if began else done[0]
