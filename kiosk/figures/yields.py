"""Yields from cane to bottle, and lineage: what share of a lot came from where.

A lineage is a set of edges (from, to, amount): so much was drawn from one batch
into another, in the measure of the destination (grams of cane, grams of sugar,
millilitres of pure alcohol), whatever the unit, the same for all edges into a
batch. A batch without anything drawn into it is an origin.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from typing import TypeVar

from kiosk.figures.errors import FigureError
from kiosk.figures.ranges import not_negative, within

Id = TypeVar("Id", bound=Hashable)

SUCROSE_L_PER_KG = 0.682
"""Litres of pure alcohol that 1 kg of sucrose can give at most: stoichiometry,
0.538 kg/kg over ethanol's 0.78924 kg/L at 20 °C (OIML R 22)."""


def alcohol_per_tonne_l(
    juice_kg_per_kg: float, brix: float, fermentable: float, fermentation: float, recovery: float
) -> float:
    """Return the litres of pure alcohol to expect from a tonne of cane.

    `juice_kg_per_kg` juice pressed per kg of cane, 0 to 1; `brix` of the juice,
    0 to 40 °Bx; `fermentable` share of the solids that yeast can eat (0.85 to 0.90
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
    """Return the kg of cane behind one bottle.

    `cane_kg` of cane gave `pure_alcohol_l` litres of pure alcohol fit to bottle,
    both above 0: what stills and casks lost on the way is thereby carried by the
    bottles. `bottle_ml` 0 or more, `abv_percent` 0 to 100 % vol at 20 °C.
    Raises FigureError `out_of_range`, `too_few` when no alcohol was obtained.

    >>> round(cane_per_bottle_kg(1000.0, 37.0, 750.0, 40.0), 1)
    8.1
    """
    not_negative("cane_kg", cane_kg, "kg")
    if not not_negative("pure_alcohol_l", pure_alcohol_l, "L") > 0.0:
        raise FigureError("pure_alcohol_l", pure_alcohol_l, "above 0 L", "too_few")
    bottled_l = not_negative("bottle_ml", bottle_ml, "mL") / 1000.0
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    return cane_kg * bottled_l * abv_percent / 100.0 / pure_alcohol_l


def _upstream(to: Id, inflows: Mapping[Id, Mapping[Id, float]]) -> list[Id]:
    """Return `to` and every batch before it, each after all that it was drawn into."""
    done: list[Id] = []
    on_path: dict[Id, bool] = {}  # absent: not seen; True: on the path walked now; False: finished
    stack: list[tuple[Id, bool]] = [(to, False)]
    while stack:
        batch, leaving = stack.pop()
        if leaving:
            on_path[batch] = False
            done.append(batch)
            continue
        if batch in on_path:  # reached by another way too, and finished since
            continue
        on_path[batch] = True
        stack.append((batch, True))
        for source in inflows.get(batch, {}):
            if on_path.get(source):
                raise FigureError("edges", source, "draws that never lead back to the batch", "loop")
            stack.append((source, False))
    done.reverse()
    return done


def _inflows(edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, dict[Id, float]]:
    into: dict[Id, dict[Id, float]] = defaultdict(dict)
    for source, destination, amount in edges:
        not_negative("amount", amount)
        if source == destination:
            raise FigureError("edges", source, "draws that never lead back to the batch", "loop")
        into[destination][source] = into[destination].get(source, 0.0) + amount
    # With nothing drawn in, in its own measure, a batch has no known ancestry: it is an origin.
    return {batch: amounts for batch, amounts in into.items() if sum(amounts.values()) > 0.0}


def shares(to: Id, edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, float]:
    """Return the share, 0 to 1, that every batch upstream has in the batch `to`.

    `edges` are (from, to, amount of 0 or more); edges elsewhere do no harm. The
    batch itself has share 1; a batch's share passes to what was drawn into it in
    proportion to the amounts. Over the origins the shares sum to one (`origins`);
    batches of one stage sum to one as well. Time grows with the edges, not with
    the paths. Raises FigureError `loop`, `out_of_range` for an amount.

    >>> shares("lot", [("a", "lot", 3.0), ("b", "lot", 1.0)])
    {'lot': 1.0, 'a': 0.75, 'b': 0.25}
    """
    into = _inflows(edges)
    found: dict[Id, float] = dict.fromkeys(_upstream(to, into), 0.0)
    found[to] = 1.0
    for batch in found:  # every batch is met after all that it was drawn into
        amounts = into.get(batch, {})
        total = sum(amounts.values())
        for source, amount in amounts.items():
            found[source] += found[batch] * amount / total
    return found


def origins(to: Id, edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, float]:
    """Return the shares of the origins alone (fields, received spirit): they sum to one.

    `to`, `edges` and the errors are those of `shares`.
    """
    drawn = list(edges)
    into = _inflows(drawn)
    return {batch: share for batch, share in shares(to, drawn).items() if batch not in into}


def cane_behind_kg(
    to: Id,
    edges: Iterable[tuple[Id, Id, float]],
    cane_kg: Mapping[Id, float],
    remaining: Mapping[Id, float] | None = None,
    destroyed: Collection[Id] = (),
) -> float:
    """Return the kg of cane behind all of the batch `to`.

    `cane_kg` gives the cane of each load. `edges` must hold **all** draws out of
    every batch upstream, those towards other batches too: a batch's cane is
    divided among what was drawn from it and what it still holds, `remaining`
    (in the measure of its draws; absent means empty). Draws into a batch in
    `destroyed` carry no cane: like what evaporates or stays in the pot, that
    cane is carried by what was kept. Raises FigureError as `shares`.

    >>> cane_behind_kg("lot", [("load", "lot", 30.0), ("load", "other", 10.0)], {"load": 1000.0})
    750.0
    """
    drawn = [edge for edge in edges if edge[1] not in destroyed]
    into = _inflows(drawn)
    given: dict[Id, float] = defaultdict(float)
    for source, _, amount in drawn:
        given[source] += amount
    held = remaining or {}
    behind: dict[Id, float] = {}
    for batch in reversed(_upstream(to, into)):  # from the origins down
        behind[batch] = cane_kg.get(batch, 0.0)
        drawn_in = {source: amount for source, amount in into.get(batch, {}).items() if amount > 0.0}
        for source, amount in drawn_in.items():
            behind[batch] += behind[source] * amount / (given[source] + held.get(source, 0.0))
    return behind[to]
