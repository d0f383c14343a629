"""What became of the sugar behind a lot: pure alcohol at each step, in true proportions."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from kiosk.figures.lineage import inflows, upstream
from kiosk.figures.yields import SUCROSE_L_PER_KG
from kiosk.production.behind import SPIRIT
from kiosk.production.upstream import DESTROYED, Upstream


@dataclass(frozen=True, slots=True)
class Proportions:
    """Litres of pure alcohol behind a lot, and the cane in kg.

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


def proportions(found: Upstream) -> Proportions | None:
    """Return what stands behind the lot at each step, the losses on the way charged to what was kept.

    A batch's losses are borne by all that was drawn from it, in proportion. None
    where a step is not recorded, where a cask behind the lot is not empty yet, or
    where a step gives more than it was given. Raises FigureError `loop`.
    Source: a balance of what went in and out.
    """
    part = _parts(found)
    fields, loads, washes = (found.ids(kind) for kind in ("field", "load", "wash"))
    still = {row.id for row in found.rows.get("receiver", {}).values()}
    beyond = {found.lot_id, *found.ids("fill"), *found.ids("blend")}
    bought = {row.id for row in found.rows.get("received", {}).values() if row.kind == SPIRIT}
    sums: dict[str, float] = defaultdict(float)
    for edge in found.edges:
        amount = edge.amount * part.get(edge.to_id, 0.0)
        sums["cane"] += amount / 1000 if edge.from_id in fields else 0.0
        sums["sugar"] += amount / 1000 if edge.from_id in loads else 0.0
        sums["fermented"] += amount / 1000 if edge.from_id in washes else 0.0
        sums["hearts"] += amount / 1000 if edge.from_id in still and edge.to_id in beyond else 0.0
        sums["bought"] += amount / 1000 if edge.from_id in bought else 0.0
        sums["bottled"] += edge.amount / 1000 if edge.to_id == found.lot_id else 0.0
    told = Proportions(
        sums["cane"],
        sums["sugar"] * SUCROSE_L_PER_KG,
        sums["fermented"],
        sums["hearts"],
        sums["bought"],
        sums["bottled"],
    )
    open_casks = any(row.emptied_at is None for row in found.rows.get("fill", {}).values())
    falls = told.possible >= told.fermented >= told.hearts > 0.0
    return told if falls and told.hearts + told.bought >= told.bottled and not open_casks else None


def _parts(found: Upstream) -> dict[int, float]:
    """Return what part of each batch went into the lot, of all that was kept of it."""
    receivers = found.rows.get("receiver", {})
    destroyed = {row.id for row in receivers.values() if row.fate == DESTROYED}
    kept = [edge for edge in found.edges if edge.to_id not in destroyed]
    into = inflows((edge.from_id, edge.to_id, float(edge.amount)) for edge in kept)
    part: dict[int, float] = defaultdict(float, {found.lot_id: 1.0})
    for batch in upstream(found.lot_id, into):
        for source, amount in into.get(batch, {}).items():
            gauged = receivers[source].alcohol_ml or 0 if source in receivers else 0
            whole = max(found.given.get(source, 0), gauged)
            part[source] += part[batch] * amount / whole if whole else 0.0
    return part
