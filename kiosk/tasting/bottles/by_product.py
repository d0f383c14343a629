"""A room's bottles by product: levels, sealed stock, what the day's tours still need, and what is next."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Literal, NamedTuple

from sqlalchemy import Row, exists, func, literal, null, select, union_all
from sqlalchemy.orm import Session

from kiosk.site.products import short_name
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, flight_items, steps, tours
from kiosk.tasting.bottles.shelf import UNDONE, BottleOnShelf, strength_e2
from kiosk.tasting.bottles.stock import RoomStock, Sealed
from kiosk.tasting.bottles.text import FINDINGS, tint_of
from kiosk.tasting.flights.planning import item
from kiosk.tasting.room.text import size_in_both
from kiosk.words import formats
from kiosk.words.catalogs import Words

LOW_SHARE = 0.2
"""A product is low when its open bottles together hold less than this share of one full bottle."""
USUAL_ML = 750
LONGEST_TOUR = timedelta(hours=4)
"""So long after its start nobody of a tour is expected at the bar any more."""
OPEN_LONG = timedelta(days=90)
"""An open bottle loses aroma to the air above it: so old a one is looked at (from memory; no source)."""


class Ahead(NamedTuple):
    """What the tours of a day still need of a product."""

    pours: int
    volume_ul: int


def pours_ahead(session: Session, site: Site, room: str, now: datetime) -> dict[str, Ahead]:
    """Return what today's tours in a room still need of each product by their flights, in one query.

    It is a glass for each booked person who is not marked as not come, less those that were poured.
    People who drink no alcohol or decline a glass are not known before, so it may be less.
    """
    people: dict[tuple[int, str], int] = {}
    poured: Counter[tuple[int, str]] = Counter()
    glasses: dict[tuple[int, str], list[tuple[str, int]]] = defaultdict(list)
    for tour_id, pos, code, volume_ul, n in session.execute(_needs(site, room, now)):
        if pos is None:
            poured[tour_id, code] += n
            continue
        planned = item(site, pos, code, volume_ul)
        people[tour_id, planned.glass] = n
        glasses[tour_id, planned.glass].append((planned.product, planned.volume_ul))
    needs: dict[str, Ahead] = {}
    for key, planned_glasses in glasses.items():
        left = max(0, people[key] * len(planned_glasses) - poured[key])
        product, volume_ul = planned_glasses[0]
        before = needs.get(product, Ahead(0, 0))
        needs[product] = Ahead(before.pours + left, before.volume_ul + left * volume_ul)
    return needs


def _needs(site: Site, room: str, now: datetime) -> Any:
    """Return the query for the samples of a day's flights with their people, and the glasses poured."""
    t, i, s, after = tours.c, flight_items.c, steps.c, steps.alias("after").c
    begin, end = site.day_bounds(site.service_day(now))
    reopened = exists().where(after.tour_id == t.id, after.kind.in_(("unfinish", "unstart")), after.at > s.at)
    finished = exists().where(s.tour_id == t.id, s.kind == "finish", ~reopened)
    here = (
        t.room == room,
        t.starts_at >= max(begin, now - LONGEST_TOUR),
        t.starts_at < end,
        t.cancelled_at.is_(None),
        ~finished,
    )
    coming = (bookings.c.tour_id == t.id, bookings.c.cancelled_at.is_(None), bookings.c.no_show_at.is_(None))
    people = select(func.coalesce(func.sum(bookings.c.size), 0)).where(*coming).correlate(tours)
    planned = select(t.id, i.pos, i.product, i.volume_ul, people.scalar_subquery()).join_from(
        tours, flight_items, i.flight_id == t.flight_id
    )
    glass = func.coalesce(pours.c.recipe, pours.c.product)
    served = select(t.id, null(), glass, literal(0), func.count()).join_from(
        tours, pours, pours.c.tour_id == t.id
    )
    return union_all(planned.where(*here), served.where(*here, ~UNDONE).group_by(t.id, glass))


@dataclass(frozen=True, slots=True)
class BottleText:
    """An open bottle as its page draws it."""

    id: int
    code: str
    share: float
    level: str  # whole mL, without the unit
    pours: int | None  # how many pours of `size` it holds; None before the first
    size: str  # of its last pour
    opened_at: datetime | None
    questions: Sequence[str]
    discard_at: datetime | None
    past: bool  # its time to be poured away has come
    old: bool  # open for long


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
    pours: int | None = None  # of the last size, in all its open bottles; None before the first pour
    ahead: int = 0  # the pours that today's tours still need


@dataclass(frozen=True, slots=True)
class Next:
    """The one product, and of its bottles the one, that needs attention first, with the reason."""

    shelf: ProductShelf
    why: Literal["past", "low", "old"]
    bottle: BottleText | None = None


def next_of(shelves: Sequence[ProductShelf]) -> Next | None:
    """Return what needs attention first: to be poured away, then to be opened, then open for long."""
    past = (Next(one, "past", bottle) for one in shelves for bottle in one.bottles if bottle.past)
    low = sorted((one for one in shelves if one.low), key=lambda one: (not one.sealed, not one.ahead))
    old = (Next(one, "old", bottle) for one in shelves for bottle in one.bottles if bottle.old)
    return next(past, None) or next((Next(one, "low") for one in low), None) or next(old, None)


def by_product(
    bottles: Sequence[BottleOnShelf],
    stock: RoomStock,
    ahead: Mapping[str, Ahead],
    site: Site,
    words: Words,
    now: datetime,
) -> list[ProductShelf]:
    """Return a room's products in the order of the site's: those approved, open or in stock."""
    shelves: dict[str, ProductShelf] = {}

    def shelf(product: str, abv_e2: int) -> ProductShelf:
        name, strength = short_name(site, product, words), formats.plain_number(abv_e2 / 100, words)
        return shelves.setdefault(product, ProductShelf(product, name, tint_of(site, product), strength))

    for row in stock.approved:
        shelf(row.product, strength_e2(site, row.product, row.abv_e2)).may_open = True
    for bottle in bottles:
        shelf(bottle.product, bottle.abv_e2).bottles.append(_bottle(bottle, site, words, now))
    for row, sealed in stock.sealed:
        if sealed.bottles:
            _add_sealed(shelf(row.product, strength_e2(site, row.product, row.abv_e2)), sealed)
    for one in shelves.values():
        _judge(one, [bottle for bottle in bottles if bottle.product == one.product], ahead.get(one.product))
    order = {product: n for n, product in enumerate(site.products)}
    return sorted(shelves.values(), key=lambda one: (order.get(one.product, len(order)), one.product))


def _judge(shelf: ProductShelf, bottles: Sequence[BottleOnShelf], ahead: Ahead | None) -> None:
    """Set what a product's open bottles hold, what is needed of it, and whether that makes it low."""
    accounts = [bottle.account() for bottle in bottles]
    level_ul = sum(account.level_ul for account in accounts)
    last = max((bottle.pours[-1][0] for bottle in bottles if bottle.pours), key=lambda p: p.at, default=None)
    if last and last.volume_ul:
        shelf.pours = int(level_ul // last.volume_ul)
    shelf.ahead = ahead.pours if ahead else 0
    nearly_empty = sum(account.level_ul / account.size_ul for account in accounts) < LOW_SHARE
    short = ahead is not None and ahead.volume_ul > level_ul
    shelf.low = bool(bottles) and (nearly_empty or short)


def _add_sealed(shelf: ProductShelf, sealed: Sealed) -> None:
    shelf.sealed += sealed.bottles
    known = [at for at in (shelf.counted_at, sealed.counted_at) if at]
    shelf.counted_at = min(known) if known else None


def _bottle(bottle: BottleOnShelf, site: Site, words: Words, now: datetime) -> BottleText:
    account = bottle.account()
    size_ul = bottle.pours[-1][0].volume_ul if bottle.pours else 0
    return BottleText(
        id=bottle.id,
        code=bottle.code,
        share=min(1.0, account.level_ul / account.size_ul),
        level=formats.number(round(account.level_ul / 1000), 0, words),
        pours=int(account.level_ul // size_ul) if size_ul else None,
        size=size_in_both(size_ul, site, words) if size_ul else "",
        opened_at=account.opened_at,
        questions=sorted({words.gettext(FINDINGS[finding]) for finding in account.findings.values()}),
        discard_at=bottle.discard_at,
        past=bottle.discard_at is not None and bottle.discard_at <= now,
        old=account.opened_at is not None and account.opened_at <= now - OPEN_LONG,
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
