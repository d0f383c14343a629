"""The balance of a room's shift for each product: what was used by the stock and what by the entries."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.figures.service.bottles import (
    SCALE_HALF_DIVISION_G,
    BottleAccount,
    BottleEntry,
    Fate,
    Finding,
    by_pour,
)
from kiosk.figures.service.servings import Pour
from kiosk.figures.service.stocktaking import UNCHECKED, Balance, MeasureCheck, at_20_ml, tolerance_ml
from kiosk.site.settings import Site
from kiosk.tasting.bottles.measures import last_checks
from kiosk.tasting.bottles.shelf import BottleOnShelf, pour_of, shelf, strength_e2
from kiosk.tasting.bottles.stock import Key, Sealed, sealed_at_both_ends
from kiosk.tasting.rules.judging import JudgingData


@dataclass(frozen=True, slots=True)
class Shift:
    """A room on a service day, from `since` until before `until`, and the room's temperature."""

    room: str
    day: date
    since: datetime
    until: datetime
    temperature_c: float

    def entries(self, judging: JudgingData) -> list[Row[Any]]:
        """Return the pours, as they were entered, for the tours of the shift's room."""
        rows = judging.entries.values()
        return [row for row in rows if row.room == self.room and self.since <= row.at < self.until]


SCALE_DIVISION_G = 2 * SCALE_HALF_DIVISION_G
TYPED = "typed"
"""The key of a weighing that is typed at the closing and not recorded yet."""


@dataclass(frozen=True, slots=True)
class Typed:
    """Weights and counts that are typed at a closing and not recorded yet; the balance has them at `at`.

    `weights` are in g by the id of the bottle, `counts` sealed bottles by approval and size in mL.
    """

    at: datetime
    temperature_c: float
    weights: Mapping[int, int] = field(default_factory=dict)
    counts: Mapping[Key, int] = field(default_factory=dict)

    def weighed(self, bottle: BottleOnShelf) -> BottleOnShelf:
        """Return a bottle with the weight that was typed for it, if any."""
        if bottle.id not in self.weights:
            return bottle
        entry = BottleEntry(TYPED, self.at, "weigh", self.weights[bottle.id], self.temperature_c)
        return replace(bottle, entries=(*bottle.entries, entry))

    def counted(self, key: Key, stock: Sealed) -> Sealed:
        """Return sealed stock with the count that was typed for it, if any."""
        if key not in self.counts:
            return stock
        return replace(stock, bottles=self.counts[key], counted_at=self.at)


@dataclass(frozen=True, slots=True)
class OpenBottle:
    """A bottle that is open at the end of a shift, and its weighings in that shift."""

    id: int
    code: str
    size_ml: int
    weighable: bool  # its tare and its density are known
    level_ul: int  # at the room's temperature
    expected_ul: int  # the level by what was recorded before it was weighed in this shift
    left_ml: float  # at 20 °C
    weighed_at: datetime | None = None
    weighed_g: float | None = None
    least_g: float = 0.0
    most_g: float | None = None  # None where it was never weighed
    finding: Finding | None = None  # why the typed weight is not possible


@dataclass(frozen=True, slots=True)
class SealedCount:
    """Sealed bottles of one approval and size at the end of a shift."""

    key: Key
    code: str
    expected: int  # before a count that is typed
    counted: int | None  # in this shift


@dataclass(slots=True)
class ProductShift:
    """One product's balance, the pure alcohol that was used, and what was not weighed or counted."""

    product: str
    balance: Balance = field(default_factory=Balance)
    alcohol_ml: float = 0.0  # pure, at 20 °C
    not_weighed: list[str] = field(default_factory=list)  # codes of open bottles
    rejected: list[str] = field(default_factory=list)  # codes of bottles with a rejected weighing
    not_counted: bool = False
    without_bottle: int = 0  # pours for which no bottle was open
    bottles: list[OpenBottle] = field(default_factory=list)
    sealed: list[SealedCount] = field(default_factory=list)


def shift_of_day(site: Site, room: str, day: date, temperature_c: float) -> Shift:
    """Return a room's shift on a service day."""
    return Shift(room, day, *site.day_bounds(day), temperature_c)


def balances(
    session: Session, site: Site, shift: Shift, judging: JudgingData, typed: Typed | None = None
) -> list[ProductShift]:
    """Return the balance of every product that a room had, in the order of the site's products.

    What is `typed` counts as if it were recorded.
    """
    working = _Working(site, shift, {m: c.check for m, c in last_checks(session, shift.until).items()})
    for bottle in shelf(session, site, shift.room, shift.since):
        working.bottle(typed.weighed(bottle) if typed else bottle)
    approvals = {row.id: row for row in judging.approvals}
    opening, closing = sealed_at_both_ends(session, shift.room, shift.since, shift.until)
    for key, stock in closing.items():
        approval = approvals[stock.approval_id]
        abv_e2 = strength_e2(site, approval.product, approval.abv_e2)
        working.sealed(approval, abv_e2 / 100, opening.get(key), stock, typed)
    for pour, fate, bottle_id in poured(shift, judging):
        working.pour(pour, fate, bottle_id)
    order = {product: n for n, product in enumerate(site.products)}
    return sorted(working.done(), key=lambda one: (order.get(one.product, len(order)), one.product))


def poured(shift: Shift, judging: JudgingData) -> list[tuple[Pour, Fate, int | None]]:
    """Return each pour for the tours of a shift's room, what became of it, and the id of its bottle."""
    # A glass with nothing measured in it, as a mixed one without alcohol may be, touches no stock.
    rows = {row.key: row for row in shift.entries(judging) if row.volume_ul > 0}
    fates = by_pour([pour_of(row) for row in rows.values()], judging.corrections)
    return [(pour, fate, rows[pour.key].bottle_id) for pour, fate in fates]


class _Working:
    """The balances of a shift while bottles, stock and pours are added to them."""

    def __init__(self, site: Site, shift: Shift, checked: Mapping[str, MeasureCheck]) -> None:
        self.site, self.shift = site, shift
        self.measures = {m.volume_ul: checked.get(m.id, UNCHECKED) for m in site.measures}
        self.products: dict[str, ProductShift] = {}
        self.amounts: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        self.sizes: dict[str, Counter[int]] = defaultdict(Counter)
        self.weighed: dict[str, list[float]] = defaultdict(list)
        self.opened: dict[str, list[int]] = defaultdict(list)

    def _product(self, product: str) -> ProductShift:
        return self.products.setdefault(product, ProductShift(product))

    def _used(self, product: str, part: str, ml: float, abv_percent: float) -> None:
        """Count mL at 20 °C in a part of the stock, and its alcohol for or against what was used."""
        self.amounts[product][part] += ml
        sign = -1 if part in ("moved_out_ml", "closing_ml") else 1
        self._product(product).alcohol_ml += sign * ml * abv_percent / 100

    def bottle(self, bottle: BottleOnShelf) -> None:
        before, after = bottle.account(self.shift.since), bottle.account(self.shift.until)
        if after.opened_at is None:
            return
        product, abv = bottle.product, bottle.abv_e2 / 100
        one = self._product(product)
        if before.opened_at is not None:
            self._used(product, "opening_ml", self._left(bottle, before), abv)
        elif bottle.kind == "bottle":
            self.opened[product].append(bottle.size_ml)
        else:  # a jug comes mixed, from no sealed stock
            self._used(product, "received_ml", bottle.size_ml, abv)
        if after.ended_at is None:
            self._used(product, "closing_ml", self._left(bottle, after), abv)
        warm = self._at_20(1.0, abv)
        self.amounts[product]["spilt_ml"] += (after.spilt_ul - before.spilt_ul) / 1000 * warm
        self.amounts[product]["house_use_ml"] += (after.house_use_ul - before.house_use_ul) / 1000 * warm
        if set(after.findings) - set(before.findings):
            one.rejected.append(bottle.code)
        if after.weighed and after.weighed.at >= self.shift.since and after.weighed.at > after.opened_at:
            self.weighed[product].append(bottle.vessel.density_g_ml)
        elif after.ended_at is None:
            one.not_weighed.append(bottle.code)
        if after.ended_at is None:
            one.bottles.append(self._open(bottle, after))

    def _open(self, bottle: BottleOnShelf, after: BottleAccount) -> OpenBottle:
        since, until = self.shift.since, self.shift.until
        before = replace(
            bottle, entries=tuple(e for e in bottle.entries if e.kind != "weigh" or e.at < since)
        )
        recorded = replace(bottle, entries=tuple(e for e in bottle.entries if e.key != TYPED)).account(until)
        weighed = after.weighed if after.weighed and after.weighed.at > (after.opened_at or since) else None
        here = weighed if weighed and weighed.at >= since else None
        tare_g, last = after.tare_g, recorded.weighed
        return OpenBottle(
            id=bottle.id,
            code=bottle.code,
            size_ml=bottle.size_ml,
            weighable=tare_g is not None and bottle.density_g_ml is not None,
            level_ul=after.level_ul,
            expected_ul=before.account(until).level_ul,
            left_ml=self._left(bottle, after),
            weighed_at=here.at if here else None,
            weighed_g=here.gross_g if here else None,
            least_g=0.0 if tare_g is None else tare_g - SCALE_DIVISION_G,
            most_g=last.gross_g + SCALE_DIVISION_G if last else None,
            finding=after.findings.get(TYPED),
        )

    def _left(self, bottle: BottleOnShelf, account: BottleAccount) -> float:
        """Return what is in a bottle, in mL at 20 °C: by weight where it was weighed, less pours since."""
        weighed = account.weighed
        full_ul = weighed.volume_ul if weighed else account.size_ul
        full_ml = weighed.mass_g / bottle.vessel.density_g_ml if weighed else bottle.size_ml
        return full_ml - self._at_20((full_ul - account.level_ul) / 1000, bottle.abv_e2 / 100)

    def _at_20(self, ml: float, abv_percent: float) -> float:
        return at_20_ml(ml, abv_percent, self.shift.temperature_c)

    def sealed(
        self,
        approval: Row[Any],
        abv_percent: float,
        opening: Sealed | None,
        recorded: Sealed,
        typed: Typed | None,
    ) -> None:
        product, size, key = approval.product, recorded.size_ml, (recorded.approval_id, recorded.size_ml)
        closing = typed.counted(key, recorded) if typed else recorded
        before = opening.bottles if opening else 0
        counted = closing.counted_at is not None and closing.counted_at >= self.shift.since
        moved = closing.received or closing.moved_in or closing.moved_out
        if not (counted or before or closing.bottles or moved):
            return  # long gone: it is not counted again
        self._used(product, "opening_ml", before * size, abv_percent)
        self._used(product, "received_ml", (closing.received + closing.moved_in) * size, abv_percent)
        self._used(product, "moved_out_ml", closing.moved_out * size, abv_percent)
        self._used(product, "closing_ml", closing.bottles * size, abv_percent)
        one = self._product(product)
        one.not_counted |= not counted
        number = closing.bottles if counted else None
        one.sealed.append(SealedCount(key, approval.code, recorded.bottles, number))

    def pour(self, pour: Pour, fate: Fate, bottle_id: int | None) -> None:
        if fate is Fate.NOT_POURED:
            return
        part = {Fate.SERVED: "served_ml", Fate.CLEARED: "cleared_ml", Fate.PRESET: "preset_ml"}[fate]
        ml = self._at_20(pour.volume_ul / 1000, pour.abv_e2 / 100)
        self.amounts[pour.product][part] += ml
        self.sizes[pour.product][pour.volume_ul] += 1
        self._product(pour.product).without_bottle += bottle_id is None

    def done(self) -> Sequence[ProductShift]:
        for product, one in self.products.items():
            sizes = self.sizes[product]
            poured = [(n, self.measures.get(ul, UNCHECKED)) for ul, n in sizes.items()]
            tolerance = tolerance_ml(poured, self.weighed[product], self.opened[product])
            amounts: Mapping[str, Any] = self.amounts[product]
            one.balance = Balance(**amounts, pours=sum(sizes.values()), tolerance_ml=tolerance)
        return list(self.products.values())
