"""The provenance of a lot: each batch's share of it, the age of its youngest spirit, its alcohol by steps."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Any

from sqlalchemy import Row

from kiosk.figures.making.lineage import Lineage, inflows, lineage, upstream
from kiosk.figures.making.yields import SUCROSE_L_PER_KG, Age, Draw, age
from kiosk.production.lineage.chain import DESTROYED, Upstream

SPIRIT = "spirit"
STAGES = ("field", "load", "wash", "run", "receiver", "received", "fill", "blend")
"""The kinds of batch from the field to the bottle."""


@dataclass(frozen=True, slots=True)
class Part:
    """A batch that a lot came from. `share`, 0 to 1, is the part of the lot that passed through it."""

    kind: str
    id: int
    code: str
    share: float
    row: Row[Any]


@dataclass(frozen=True, slots=True)
class Provenance:
    """The batches that a lot came from, by kind.

    `earlier`, 0 to 1, is the share that came by feints of runs too small to follow.
    `age` is that of the youngest spirit. `drawn_from` is by fill the share of the lot
    that left the casks there.
    """

    parts: Mapping[str, tuple[Part, ...]]
    earlier: float
    age: Age
    drawn_from: Mapping[int, float]
    upstream: Upstream

    def of(self, kind: str) -> tuple[Part, ...]:
        """Return the parts of one kind, in the order of their time or code."""
        return self.parts.get(kind, ())

    @property
    def bought(self) -> tuple[Part, ...]:
        """The spirit that came from elsewhere, with its share."""
        return tuple(p for p in self.of("received") if p.row.kind == SPIRIT and p.share > 0.0)

    @property
    def added(self) -> tuple[Part, ...]:
        """What else was put in: fruit, sugar, water."""
        return tuple(p for p in self.of("received") if p.row.kind != SPIRIT)

    @property
    def known(self) -> bool:
        """Whether any batch of the lot's provenance is recorded."""
        return any(self.parts.values())


def trace_provenance(upstream: Upstream, zone: tzinfo) -> Provenance:
    """Return the provenance of the lot of `upstream`; its days are counted in `zone`.

    Raises FigureError `loop`, and `out_of_range` for a draw before its filling.
    """
    drawn = [(edge.from_id, edge.to_id, float(edge.amount)) for edge in upstream.edges]
    traced = lineage(upstream.lot_id, drawn, feints(upstream))
    parts = {kind: tuple(_parts(upstream, kind, traced)) for kind in STAGES}
    return Provenance(parts, traced.earlier, _age(upstream, zone), _drawn_from(upstream, traced), upstream)


def feints(upstream: Upstream) -> frozenset[int]:
    """Return the receivers whose spirit is recycled into the next run."""
    receivers = upstream.rows.get("receiver", {})
    return frozenset(row.id for row in receivers.values() if row.fate == "feints")


def _parts(upstream: Upstream, kind: str, traced: Lineage[int]) -> Iterable[Part]:
    rows = upstream.rows.get(kind, {})
    reached = [row for row in rows.values() if traced.shares.get(row.id, 0.0) > 0.0 or _is_addition(row)]
    for row in sorted(reached, key=_order):
        yield Part(kind, row.id, row.code, traced.shares.get(row.id, 0.0), row)


def _is_addition(row: Row[Any]) -> bool:
    """Return whether a batch is an addition without alcohol: fruit, sugar, water."""
    kind = row._mapping.get("kind")
    return "what" in row._mapping and kind != SPIRIT


def _order(row: Row[Any]) -> tuple[str, str]:
    times = ("milled_at", "set_at", "started_at", "gauged_at", "received_on", "filled_at", "made_at")
    when = next((row._mapping[name] for name in times if row._mapping.get(name) is not None), "")
    return str(when), row.code


def _age(upstream: Upstream, zone: tzinfo) -> Age:
    draws = [
        Draw(edge.from_id, edge.to_id, float(edge.amount), _day(edge.at, zone)) for edge in upstream.edges
    ]
    filled_on = {row.id: _day(row.filled_at, zone) for row in upstream.rows.get("fill", {}).values()}
    received = upstream.rows.get("received", {}).values()
    stated: dict[int, int | None] = {row.id: row.stated_age_years for row in received if row.kind == SPIRIT}
    return age(upstream.lot_id, draws, filled_on, stated)


def _drawn_from(upstream: Upstream, traced: Lineage[int]) -> dict[int, float]:
    """Return by fill the share of the lot that was drawn from it into anything but a cask."""
    fills = upstream.ids("fill")
    into: dict[int, float] = defaultdict(float)
    for edge in upstream.edges:
        into[edge.to_id] += edge.amount
    drawn: dict[int, float] = defaultdict(float)
    for edge in upstream.edges:
        if edge.from_id in fills and edge.to_id not in fills and into[edge.to_id]:
            drawn[edge.from_id] += traced.shares.get(edge.to_id, 0.0) * edge.amount / into[edge.to_id]
    return dict(drawn)


def _day(at: datetime, zone: tzinfo) -> date:
    return at.astimezone(zone).date()


@dataclass(frozen=True, slots=True)
class Proportions:
    """Litres of pure alcohol at each step to a lot, and the cane in kg.

    `possible` is what its sugar could give at most, `fermented` what the washes
    held, `hearts` what the stills gave to casks and bottles, `bought` spirit from
    elsewhere, `bottled` what is in the lot.
    """

    cane_kg: float
    possible: float
    fermented: float
    hearts: float
    bought: float
    bottled: float


def proportions(lot_upstream: Upstream) -> Proportions | None:
    """Return the lot's part of each step, the losses on the way charged to what was kept.

    A batch's losses are borne by all that was drawn from it, in proportion. None
    where a step is not recorded, where a cask of the lot is not empty yet, or
    where a step gives more than it was given. Raises FigureError `loop`.
    Source: a balance of what went in and out.
    """
    part = _parts_proportions(lot_upstream)
    fields, loads, washes = (lot_upstream.ids(kind) for kind in ("field", "load", "wash"))
    still = {row.id for row in lot_upstream.rows.get("receiver", {}).values()}
    beyond = {lot_upstream.lot_id, *lot_upstream.ids("fill"), *lot_upstream.ids("blend")}
    bought = {row.id for row in lot_upstream.rows.get("received", {}).values() if row.kind == SPIRIT}
    sums: dict[str, float] = defaultdict(float)
    for edge in lot_upstream.edges:
        amount = edge.amount * part.get(edge.to_id, 0.0)
        sums["cane"] += amount / 1000 if edge.from_id in fields else 0.0
        sums["sugar"] += amount / 1000 if edge.from_id in loads else 0.0
        sums["fermented"] += amount / 1000 if edge.from_id in washes else 0.0
        sums["hearts"] += amount / 1000 if edge.from_id in still and edge.to_id in beyond else 0.0
        sums["bought"] += amount / 1000 if edge.from_id in bought else 0.0
        sums["bottled"] += edge.amount / 1000 if edge.to_id == lot_upstream.lot_id else 0.0
    steps = Proportions(
        sums["cane"],
        sums["sugar"] * SUCROSE_L_PER_KG,
        sums["fermented"],
        sums["hearts"],
        sums["bought"],
        sums["bottled"],
    )
    open_casks = any(row.emptied_at is None for row in lot_upstream.rows.get("fill", {}).values())
    falls = steps.possible >= steps.fermented >= steps.hearts > 0.0
    return steps if falls and steps.hearts + steps.bought >= steps.bottled and not open_casks else None


def _parts_proportions(lot_upstream: Upstream) -> dict[int, float]:
    """Return what part of each batch went into the lot, of all that was kept of it."""
    receivers = lot_upstream.rows.get("receiver", {})
    destroyed = {row.id for row in receivers.values() if row.fate == DESTROYED}
    kept = [edge for edge in lot_upstream.edges if edge.to_id not in destroyed]
    into = inflows((edge.from_id, edge.to_id, float(edge.amount)) for edge in kept)
    part: dict[int, float] = defaultdict(float, {lot_upstream.lot_id: 1.0})
    for batch in upstream(lot_upstream.lot_id, into):
        for source, amount in into.get(batch, {}).items():
            gauged = receivers[source].alcohol_ml or 0 if source in receivers else 0
            whole = max(lot_upstream.given.get(source, 0), gauged)
            part[source] += part[batch] * amount / whole if whole else 0.0
    return part
