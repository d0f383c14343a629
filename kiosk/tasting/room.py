"""The room's tiles: every guest of a tour as the ledgers tell, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, Select, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    Allowance,
    Guest,
    Kind,
    Mark,
    Pour,
    PourMark,
    Room,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    allowance,
    born_on_or_before,
    cost,
    counted,
    drinks_had,
    drinks_left,
    fits,
    guest_gone,
    guest_state,
)
from kiosk.site.settings import Site
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import guests, marks, parties, steps, tours
from kiosk.tasting.correcting import UNDO
from kiosk.tasting.day_words import rules_of
from kiosk.tasting.flights import Item, items, next_item
from kiosk.tasting.policy import NO_POLICY, in_force
from kiosk.tasting.pouring import OTHER_DAY
from kiosk.tasting.releases import Released, offer, released


@dataclass(frozen=True, slots=True)
class Sample:
    """A proposed pour and the reasons against it, none when it fits."""

    product: str
    volume_ul: int
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tile:
    """One guest. `had` is rounded up and `left` down; None where no limit counts drinks."""

    guest_id: int
    number: int
    first_name: str | None
    language: str
    state: ServiceState
    gone: bool
    had: Decimal
    left: Decimal | None
    samples: int
    last: Served | None
    next: Sample | None
    alcohol_free: Sample | None
    over: bool  # beyond a limit by what was told afterwards or moved here

    def undoable(self, now: datetime) -> bool:
        """Say whether the last tap can still be undone."""
        return self.last is not None and now - self.last.at <= UNDO


@dataclass(frozen=True, slots=True)
class RoomView:
    """A tour's tasting: its tiles in order of guest number, and what the room may pour."""

    tour_id: int
    letter: str
    starts_at: datetime
    room: str
    tiles: tuple[Tile, ...]
    flight: tuple[Item, ...]
    in_force: bool
    born_on_or_before: date

    def tile(self, guest_id: int) -> Tile:
        """Return one guest's tile. Raises NoSuchRow for a guest of another tour."""
        for tile in self.tiles:
            if tile.guest_id == guest_id:
                return tile
        raise NoSuchRow(guests.name, guest_id)


@dataclass(frozen=True, slots=True)
class _Around:
    """What every tile of a room shares."""

    site: Site
    now: datetime
    room: Room
    flight: tuple[Item, ...]
    at_hand: Mapping[str, Released]
    in_force: bool
    steps: Mapping[str, datetime]
    rules: ServicePolicy  # with the words of the day


def room(session: Session, site: Site, tour_id: int, now: datetime) -> RoomView:
    """Return a tour's room. Raises NoSuchRow for an unknown tour."""
    tour = session.execute(select(tours).where(tours.c.id == tour_id)).one_or_none()
    if tour is None:
        raise NoSuchRow(tours.name, tour_id)
    now = now.astimezone(UTC)  # sums on a local clock go wrong where the clock is changed
    day = site.service_day(now)
    around = _Around(
        site,
        now,
        Room(tour.room, *site.day_bounds(day), site.zone),
        items(session, site, tour.flight_id),
        released(session, site, tour.room, now),
        in_force(session, site) is not None,
        _steps(session, tour_id),
        rules_of(session, site, tour.room, day),
    )
    people = session.execute(_people(tour_id)).all()
    marked, served = _marks(session, tour_id), _served(session, tour_id)
    return RoomView(
        tour_id,
        tour.letter,
        tour.starts_at,
        tour.room,
        tuple(_tile(around, one, marked[one.id], served[one.id]) for one in people),
        around.flight,
        around.in_force,
        born_on_or_before(day, site.policy.guest_age),
    )


def _tile(around: _Around, row: Row[Any, Any], marked: Sequence[Mark], served: Sequence[Served]) -> Tile:
    site = around.site
    guest = Guest(
        guest_state(marked),
        row.tour_id,
        around.steps.get("start"),
        around.steps.get("finish"),
        guest_gone(marked),
        row.ticket or "",
    )
    given = allowance(around.rules, guest, served, Server(), around.room, around.now)
    outside: tuple[str, ...] = () if around.in_force else (NO_POLICY,)
    outside += () if row.day == site.service_day(around.now) else (OTHER_DAY,)
    return Tile(
        guest_id=row.id,
        number=row.number,
        first_name=row.first_name,
        language=row.language,
        state=guest.state,
        gone=guest.gone,
        had=drinks_had(sum(one.ethanol for one in served), site.standard_drink),
        left=_drinks_left(around, given),
        samples=len(served),
        last=max(served, key=lambda one: (one.at, one.key), default=None),
        next=_next(around, given, outside, served, marked),
        alcohol_free=_alcohol_free(around),
        over=any(left.remainder < 0 for left in given.left.values()),
    )


def _next(
    around: _Around,
    given: Allowance,
    outside: tuple[str, ...],
    served: Iterable[Served],
    marked: Iterable[Mark],
) -> Sample | None:
    declined = [mark.detail for mark in marked if mark.kind == "declined" and mark.detail]
    item = next_item(around.flight, [one.glass for one in served], declined)
    if item is None:
        return None
    proposed = offer(around.site, around.at_hand, item.glass, item.volume_ul)
    asked = cost(around.rules, proposed)
    reasons = () if asked.free else (*outside, *fits(given, asked))
    return Sample(item.glass, item.volume_ul, reasons)


def _alcohol_free(around: _Around) -> Sample | None:
    """Return the glass that is refused to nobody, in the size of the flight's first sample."""
    size = around.flight[0].volume_ul if around.flight else None
    size = size or next((measure.volume_ul for measure in around.site.measures), None)
    product = next((product.id for product in around.site.products.values() if product.abv_e2 == 0), None)
    return Sample(product, size) if product and size else None


def _drinks_left(around: _Around, given: Allowance) -> Decimal | None:
    """Return the least that is left of the limits that count every drink."""
    left = [
        given.left[limit.id].remainder
        for limit in around.rules.limits
        if limit.kind is Kind.DRINKS and limit.product == ANY_PRODUCT and not limit.neat_only
        if limit.id in given.left  # one of other tickets leaves nothing to say
    ]
    return drinks_left(min(left), around.site.standard_drink) if left else None


def _people(tour_id: int) -> Select[Any]:
    found = select(guests, parties.c.ticket).join(parties, guests.c.party_id == parties.c.id)
    return found.where(guests.c.tour_id == tour_id).order_by(guests.c.number)


def _marks(session: Session, tour_id: int) -> Mapping[int, list[Mark]]:
    m = marks.c
    found: dict[int, list[Mark]] = defaultdict(list)
    rows = session.execute(
        select(m.guest_id, m.key, m.at, m.kind, m.by, m.detail)
        .join_from(marks, guests, m.guest_id == guests.c.id)
        .where(guests.c.tour_id == tour_id)
    )
    for guest_id, key, at, kind, by, detail in rows:
        found[guest_id].append(Mark(key, at, kind, by, detail))
    return found


def _served(session: Session, tour_id: int) -> Mapping[int, list[Served]]:
    """Fold all that was poured for, or moved to, the guests of a tour."""
    p, c = pours.c, pour_marks.c
    here = select(guests.c.id).where(guests.c.tour_id == tour_id)
    moved_here = select(c.pour_key).where(c.guest_id.in_(here))
    ours = p.guest_id.in_(here) | p.key.in_(moved_here)
    poured = session.execute(
        select(p.key, p.at, p.guest_id, p.tour_id, p.product, p.volume_ul, p.abv_e2, p.neat, p.recipe).where(
            ours
        )
    )
    corrected = session.execute(
        select(c.key, c.at, c.pour_key, c.kind, c.guest_id).where(c.pour_key.in_(select(p.key).where(ours)))
    )
    found: dict[int, list[Served]] = defaultdict(list)
    for one in counted((Pour(*row) for row in poured), (PourMark(*row) for row in corrected)):
        found[one.guest_id].append(one)
    return found


def _steps(session: Session, tour_id: int) -> Mapping[str, datetime]:
    found = session.execute(
        select(steps.c.kind, steps.c.at)
        .where(steps.c.tour_id == tour_id, steps.c.kind.in_(("start", "finish")))
        .order_by(steps.c.at, steps.c.key)
    )
    return {step.kind: step.at for step in found}
