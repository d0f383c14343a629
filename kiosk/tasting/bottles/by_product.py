"""A room's bottles by product: levels, sealed stock, what runs low, and what may be opened."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Row

from kiosk.site.products import short_name
from kiosk.site.settings import Site
from kiosk.tasting.bottles.shelf import BottleOnShelf, strength_e2
from kiosk.tasting.bottles.stock import RoomStock, Sealed
from kiosk.tasting.bottles.text import FINDINGS, tint_of
from kiosk.tasting.room.text import size_in_both
from kiosk.words import formats
from kiosk.words.catalogs import Words

LOW_SHARE = 0.2
"""A product is low when its open bottles together hold less than this share of one full bottle."""
USUAL_ML = 750


@dataclass(frozen=True, slots=True)
class BottleText:
    """An open bottle as its page draws it."""

    id: int
    code: str
    share: float
    level: str  # whole mL, without the unit
    pours: str  # how many pours of the last one's size it holds; empty before the first
    questions: Sequence[str]
    discard_at: datetime | None
    past: bool  # its time to be poured away has come


@dataclass(slots=True)
class ProductShelf:
    """A product of a room: its open bottles and its sealed ones."""

    product: str
    name: str
    tint: str
    strength: str  # % vol, for the label
    bottles: list[BottleText] = field(default_factory=list)
    sealed: int = 0
    counted_at: datetime | None = None
    may_open: bool = False
    low: bool = False


def by_product(
    bottles: Iterable[BottleOnShelf], stock: RoomStock, site: Site, words: Words, now: datetime
) -> list[ProductShelf]:
    """Return a room's products in the order of the site's: those approved, open or in stock."""
    shelves: dict[str, ProductShelf] = {}
    level_ul: dict[str, float] = {}

    def shelf(product: str, abv_e2: int) -> ProductShelf:
        name, strength = short_name(site, product, words), formats.plain_number(abv_e2 / 100, words)
        return shelves.setdefault(product, ProductShelf(product, name, tint_of(site, product), strength))

    for row in stock.approved:
        shelf(row.product, strength_e2(site, row.product, row.abv_e2)).may_open = True
    for bottle in bottles:
        shelf(bottle.product, bottle.abv_e2).bottles.append(_bottle(bottle, site, words, now))
        account = bottle.account()
        share = account.level_ul / account.size_ul
        level_ul[bottle.product] = level_ul.get(bottle.product, 0.0) + share
    for row, sealed in stock.sealed:
        if sealed.bottles:
            _add_sealed(shelf(row.product, strength_e2(site, row.product, row.abv_e2)), sealed)
    for product, share in level_ul.items():
        shelves[product].low = share < LOW_SHARE
    order = {product: n for n, product in enumerate(site.products)}
    return sorted(shelves.values(), key=lambda one: (order.get(one.product, len(order)), one.product))


def _add_sealed(shelf: ProductShelf, sealed: Sealed) -> None:
    shelf.sealed += sealed.bottles
    known = [at for at in (shelf.counted_at, sealed.counted_at) if at]
    shelf.counted_at = min(known) if known else None


def _bottle(bottle: BottleOnShelf, site: Site, words: Words, now: datetime) -> BottleText:
    account = bottle.account()
    size_ul = bottle.pours[-1][0].volume_ul if bottle.pours else 0
    n = account.level_ul // size_ul if size_ul else 0
    pours = f"{formats.number(n, 0, words)} × {size_in_both(size_ul, site, words)}" if size_ul else ""
    return BottleText(
        id=bottle.id,
        code=bottle.code,
        share=min(1.0, account.level_ul / account.size_ul),
        level=formats.number(round(account.level_ul / 1000), 0, words),
        pours=pours,
        questions=sorted({words.gettext(FINDINGS[finding]) for finding in account.findings.values()}),
        discard_at=bottle.discard_at,
        past=bottle.discard_at is not None and bottle.discard_at <= now,
    )


@dataclass(frozen=True, slots=True)
class OpeningChoice:
    """An approval of which a bottle may be opened, and the size that its bottles have."""

    approval_id: int
    product: str
    code: str
    size_ml: int
    sealed: int


def opening_choices(stock: RoomStock, product: str = "") -> list[OpeningChoice]:
    """Return what may be opened in a room, of one product or of all; what is in stock comes first."""
    sealed: Mapping[int, Sealed] = {
        row.id: one for row, one in sorted(stock.sealed, key=lambda pair: pair[1].bottles)
    }
    choices = [_choice(row, sealed.get(row.id)) for row in stock.approved if product in ("", row.product)]
    return sorted(choices, key=lambda one: one.sealed <= 0)


def _choice(approval: Row[Any], sealed: Sealed | None) -> OpeningChoice:
    size_ml, n = (sealed.size_ml, sealed.bottles) if sealed else (USUAL_ML, 0)
    return OpeningChoice(approval.id, approval.product, approval.code, size_ml, n)
