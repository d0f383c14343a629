"""Lineage: the share of a batch that came from each batch before it, through blending and partial draws.

A lineage is a set of edges (from, to, amount): an amount drawn from one batch
into another, in the measure of the destination (grams of cane, grams of sugar,
millilitres of pure alcohol), the same measure for all edges into a
batch. A batch without anything drawn into it is an origin.
"""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from kiosk.figures.errors import FigureError, Need, not_negative, within

Id = TypeVar("Id", bound=Hashable)

LEAST_SHARE = 0.001
"""Feints below this share of a lot are not followed further (common practice)."""


def upstream(to: Id, inflows: Mapping[Id, Mapping[Id, float]]) -> list[Id]:
    """Return the batch `to` and every batch upstream of it, each after all batches that it was drawn into.

    `inflows` are amounts by destination and source. Raises FigureError `loop`.
    """
    done: list[Id] = []
    on_path: dict[Id, bool] = {}  # absent: not seen; True: on the present path; False: finished
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
                raise FigureError("edges", source, Need.NO_LOOP, "loop")
            stack.append((source, False))
    done.reverse()
    return done


def inflows(edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, dict[Id, float]]:
    """Return the amounts of `edges` drawn into each batch, by destination and source, draws summed.

    Raises FigureError `out_of_range` for an amount below 0, `loop` for a draw of a
    batch into itself.
    """
    into: dict[Id, dict[Id, float]] = defaultdict(dict)
    for source, destination, amount in edges:
        not_negative("amount", amount)
        if source == destination:
            raise FigureError("edges", source, Need.NO_LOOP, "loop")
        into[destination][source] = into[destination].get(source, 0.0) + amount
    # With nothing drawn in, in its own measure, a batch has no known ancestry: it is an origin.
    return {batch: amounts for batch, amounts in into.items() if sum(amounts.values()) > 0.0}


@dataclass(frozen=True, slots=True)
class Lineage(Generic[Id]):
    """The lineage of a batch: shares of it, 0 to 1, by the batches upstream.

    `shares` are of every batch upstream that was followed, the batch itself (1)
    among them; `origins` those without anything drawn into them (fields, received
    spirit); `earlier` is the share by feints too small to follow ('earlier runs').
    `origins` and `earlier` sum to one.
    """

    shares: Mapping[Id, float]
    origins: Mapping[Id, float]
    earlier: float

    def of(self, batches: Collection[Id]) -> dict[Id, float]:
        """Return the shares above 0 of `batches` (such as all fields or all casks)."""
        wanted = batches if isinstance(batches, Mapping | set | frozenset) else set(batches)
        return {batch: share for batch, share in self.shares.items() if share > 0.0 and batch in wanted}


def lineage(
    lot: Id, edges: Iterable[tuple[Id, Id, float]], feints: Collection[Id] = (), least: float = LEAST_SHARE
) -> Lineage[Id]:
    """Return the share that every batch upstream has in the batch `lot`.

    `edges` are (from, to, amount of 0 or more); edges elsewhere are ignored. A
    batch's share passes to what was drawn into it in proportion to the amounts.
    `feints` are the batches in which spirit is recycled: receivers of heads and
    tails, vats that are never emptied; they mix perfectly. Where one of them has
    a share below `least` (0 to 1), the part that it passes to a batch which also
    reaches the lot without feints is counted there; the rest is `earlier`. Other
    batches are followed to their origins however small their share. Time and
    memory grow with the edges, never with the paths. Raises FigureError `loop`,
    `out_of_range` for an amount or `least`. Source: a batch is mixed perfectly, so
    that each draw holds its parts in proportion (common practice).

    >>> result = lineage("lot", [("a", "lot", 3.0), ("b", "lot", 1.0)])
    >>> result.origins, result.earlier
    ({'a': 0.75, 'b': 0.25}, 0.0)
    """
    within("least", least, 0.0, 1.0)
    into = inflows(edges)
    recycled = frozenset(feints)
    direct = _without_feints(lot, into, recycled) if recycled else frozenset()
    reached: dict[Id, float] = {lot: 1.0}
    earlier = 0.0
    for batch in upstream(lot, into):  # every batch follows all batches that it was drawn into
        share = reached.get(batch)
        amounts = into.get(batch)
        if share is None or amounts is None:
            continue
        small = batch in recycled and batch != lot and share < least
        total = sum(amounts.values())
        for source, amount in amounts.items():
            passed = share * (amount / total)
            if small and source not in direct:
                earlier += passed
            else:
                reached[source] = reached.get(source, 0.0) + passed
    return Lineage(reached, {batch: share for batch, share in reached.items() if batch not in into}, earlier)


def _without_feints(lot: Id, into: Mapping[Id, Mapping[Id, float]], feints: Collection[Id]) -> frozenset[Id]:
    """Return the batches that reach the lot by some path without feints."""
    seen = {lot}
    stack = [lot]
    while stack:
        batch = stack.pop()
        if batch in feints and batch != lot:
            continue
        new = [source for source in into.get(batch, {}) if source not in seen]
        seen.update(new)
        stack.extend(new)
    return frozenset(seen)


def shares(to: Id, edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, float]:
    """Return the share, 0 to 1, that every batch upstream has in the batch `to`, however small.

    `edges`, errors and source are those of `lineage`. The batch itself has share 1.
    Over the origins the shares sum to one (`origins`); batches of one stage sum
    to one as well.

    >>> shares("lot", [("a", "lot", 3.0), ("b", "lot", 1.0)])
    {'lot': 1.0, 'a': 0.75, 'b': 0.25}
    """
    return dict(lineage(to, edges).shares)


def origins(to: Id, edges: Iterable[tuple[Id, Id, float]]) -> dict[Id, float]:
    """Return the shares of the origins (fields, received spirit) in the batch `to`; they sum to one.

    `to`, `edges`, errors and source are those of `shares`.
    """
    return dict(lineage(to, edges).origins)


def cane_behind_kg(
    to: Id,
    edges: Iterable[tuple[Id, Id, float]],
    cane_kg: Mapping[Id, float],
    remaining: Mapping[Id, float] | None = None,
    destroyed: Collection[Id] = (),
) -> float:
    """Return the kg of cane from which all of the batch `to` was made.

    `cane_kg` gives the cane of each load. `edges` must hold **all** draws out of
    every batch upstream, those into other batches too: a batch's cane is
    divided among what was drawn from it and what it still holds, `remaining`
    (in the measure of its draws; absent means empty). Draws into a batch in
    `destroyed` carry no cane: like what evaporates or stays in the pot, that
    cane is carried by what was kept. Raises FigureError as `shares`. Source: a
    balance of masses.

    >>> cane_behind_kg("lot", [("load", "lot", 30.0), ("load", "other", 10.0)], {"load": 1000.0})
    750.0
    """
    drawn = [edge for edge in edges if edge[1] not in destroyed]
    into = inflows(drawn)
    given: dict[Id, float] = defaultdict(float)
    for source, _, amount in drawn:
        given[source] += amount
    left = remaining or {}
    behind: dict[Id, float] = {}
    for batch in reversed(upstream(to, into)):  # from the origins down
        behind[batch] = cane_kg.get(batch, 0.0)
        drawn_in = {source: amount for source, amount in into.get(batch, {}).items() if amount > 0.0}
        for source, amount in drawn_in.items():
            behind[batch] += behind[source] * amount / (given[source] + left.get(source, 0.0))
    return behind[to]
