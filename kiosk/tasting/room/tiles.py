"""One guest's tile: what their marks and glasses make of it, and what may come next."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from sqlalchemy import Row

from kiosk.entries.typed_in import TypedIn
from kiosk.figures.drinks import (
    ANY_PRODUCT,
    Allowance,
    Guest,
    Kind,
    Mark,
    Offer,
    Room,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    allowance,
    cost,
    drinks_had,
    drinks_left,
    fits,
    guest_state,
)
from kiosk.figures.service.allowance import NOT_APPROVED
from kiosk.site.settings import Site
from kiosk.tasting.approvals.approvals import Approved, UnknownProduct, allergens_for_guest, offer
from kiosk.tasting.flights.planning import Item, items_left, sample_states
from kiosk.tasting.room.pouring import OTHER_DAY
from kiosk.tasting.rules.policy import NO_POLICY
from kiosk.tasting.rules.pour_context import guest_by_records


@dataclass(frozen=True, slots=True)
class Sample:
    """A proposed pour and the reasons against it, none when it fits; `pos` is its place in the flight.

    `allergens` of it concern the guest, who is asked before it is poured.
    """

    product: str
    volume_ul: int
    reasons: tuple[str, ...] = ()
    pos: int = 0
    allergens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tile:
    """One guest. `had` is rounded up and `left` down; None where no limit counts drinks.

    `served_as` is the state in which they had alcohol though that state allows none; `claimed` counts
    samples whose server is only claimed, and `typed_in` says who typed in some of them. `undo_until` is
    when the person who looks can no longer undo the last one, None where it is not theirs.
    `given` is what the rules leave them, `outside` what else is against any pour, and `flight` what
    became of each sample of the flight, as `sample_states` says.
    """

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
    not_before: datetime
    over: bool  # more is on record than a limit allows: recorded afterwards, or moved here
    served_as: ServiceState | None
    given: Allowance
    outside: tuple[str, ...]
    flight: tuple[str, ...]
    skipped: int
    claimed: int = 0
    typed_in: tuple[TypedIn, ...] = ()
    undo_until: datetime | None = None

    @property
    def may_be_served(self) -> bool:
        """Whether the guest's state allows pours with alcohol."""
        return not self.gone and self.state is ServiceState.MAY_BE_SERVED

    @property
    def tell_manager(self) -> bool:
        """Whether a pour is on record that the rules would have refused."""
        return self.over or self.served_as is not None

    def undoable(self, now: datetime) -> bool:
        """Return whether the last pour can still be undone at an instant."""
        return self.undo_until is not None and now <= self.undo_until


@dataclass(frozen=True, slots=True)
class RoomContext:
    """What every tile of a room shares. `offers` are the products and sizes that may be poured here."""

    site: Site
    now: datetime
    room: Room
    rules: ServicePolicy  # with the restrictions of the day
    server: Server
    flight: tuple[Item, ...]
    at_hand: Mapping[str, Approved]
    in_force: bool
    steps: Mapping[str, datetime]
    offers: tuple[Offer, ...] = ()
    undo_until: Mapping[str, datetime] = field(default_factory=dict)  # by keys of the server's own pours
    typed_in: Mapping[str, TypedIn] = field(default_factory=dict)  # by keys of pours
    doubles: Mapping[str, str] = field(default_factory=dict)  # keys of two pours that may be one


def offers(
    site: Site, rules: ServicePolicy, at_hand: Mapping[str, Approved], opened: Iterable[str]
) -> tuple[Offer, ...]:
    """Return what a room may pour beside the flight: what is open and approved, in the house's measures.

    A room that keeps no bottles on record has all that is approved open. What no
    rule could ever allow is left out; what has no alcohol is always there.
    """
    kept = set(opened)
    strong = [code for code, one in at_hand.items() if code in site.products or one.abv_e2 is not None]
    products = [code for code in strong if not kept or code in kept]
    free = [known.id for known in site.products.values() if known.abv_e2 == 0 and known.id not in products]
    order = {code: n for n, code in enumerate(site.products)}
    products = sorted([*products, *free], key=lambda code: (order.get(code, len(order)), code))
    measures = sorted(site.measures, key=lambda measure: measure.volume_ul)
    offered = [offer(site, at_hand, code, m.volume_ul) for code in products for m in measures]
    return tuple(one for one in offered if one.free or not cost(rules, one).never)


class GuestRecords(NamedTuple):
    """A guest's row with the kind of their ticket, their marks, and all that counts as served to them."""

    row: Row[Any, Any]
    marks: Sequence[Mark]
    served: Sequence[Served]


def tile(around: RoomContext, of: GuestRecords) -> Tile:
    """Return the tile of a guest, decided by the rules of the room."""
    site, row, served = around.site, of.row, of.served
    guest, given, outside = _decided(around, of)
    item = next(iter(samples_left(around, of)), None)
    named, free = row.allergens or (), alcohol_free(around, item)
    last = max(served, key=lambda one: (one.at, one.key), default=None)
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
        last=last,
        next=_asking(site, named, _next(around, given, outside, item)) if item else None,
        alcohol_free=_asking(site, named, free) if free else None,
        not_before=given.not_before,
        over=any(left.remainder < 0 for left in given.left.values()),
        served_as=_served_as(guest.state, of.marks, served),
        given=given,
        outside=outside,
        flight=_flight(around, of, guest.state),
        skipped=sum(mark.kind == "declined" for mark in of.marks),
        claimed=sum(not one.checked for one in served),
        typed_in=tuple(around.typed_in[one.key] for one in served if one.key in around.typed_in),
        undo_until=around.undo_until.get(last.key) if last and not last.preset else None,
    )


def other_samples(around: RoomContext, of: GuestRecords) -> tuple[Sample, ...]:
    """Return the further products and sizes that the room may pour at all, each decided for a guest."""
    _guest, given, outside = _decided(around, of)
    named = of.row.allergens or ()
    return tuple(_asking(around.site, named, _sample(around, given, outside, one)) for one in around.offers)


def _decided(around: RoomContext, of: GuestRecords) -> tuple[Guest, Allowance, tuple[str, ...]]:
    """Return a guest as the rules see them, what is left of their limits, and what else is against a pour."""
    row = of.row
    guest = guest_by_records(of.marks, row.tour_id, around.steps, row.ticket)
    given = allowance(around.rules, guest, of.served, around.server, around.room, around.now)
    outside: tuple[str, ...] = () if around.in_force else (NO_POLICY,)
    outside += () if row.day == around.site.service_day(around.now) else (OTHER_DAY,)
    return guest, given, outside


def _sample(around: RoomContext, given: Allowance, outside: tuple[str, ...], proposed: Offer) -> Sample:
    asked = cost(around.rules, proposed)
    reasons = () if asked.free else (*outside, *fits(given, asked))
    return Sample(proposed.product, proposed.volume_ul, reasons)


def _asking(site: Site, named: Sequence[str], proposed: Sample) -> Sample:
    """Return a proposed pour with what of its allergens the guest `named`."""
    return (
        replace(proposed, allergens=allergens_for_guest(site, proposed.product, named)) if named else proposed
    )


def _flight(around: RoomContext, of: GuestRecords, state: ServiceState) -> tuple[str, ...]:
    """Return what became of each sample; who takes no alcohol has a glass without in the place of each."""
    declined = [mark.detail for mark in of.marks if mark.kind == "declined" and mark.detail]
    in_turn = [one for one in of.served if state in WITHOUT_ALCOHOL and not one.ethanol]
    had = [one.glass for one in of.served if one not in in_turn]
    states = sample_states(around.flight, had, declined)
    for _ in in_turn:
        if "" in states:
            states[states.index("")] = "free"
    return tuple(states)


WITHOUT_ALCOHOL = frozenset({ServiceState.NO_ALCOHOL, ServiceState.UNDER_AGE})


def samples_left(around: RoomContext, of: GuestRecords) -> list[Item]:
    """Return the samples of the flight that a guest has neither had nor declined."""
    declined = [mark.detail for mark in of.marks if mark.kind == "declined" and mark.detail]
    return items_left(around.flight, [one.glass for one in of.served], declined)


def _next(around: RoomContext, given: Allowance, outside: tuple[str, ...], item: Item) -> Sample:
    try:
        asked = _sample(
            around, given, outside, offer(around.site, around.at_hand, item.glass, item.volume_ul)
        )
    except UnknownProduct:  # an experiment that is no product: without its approval nobody knows its strength
        asked = Sample(item.glass, item.volume_ul, (NOT_APPROVED,))
    return replace(asked, product=item.glass, volume_ul=item.volume_ul, pos=item.pos)


def alcohol_free(around: RoomContext, item: Item | None) -> Sample | None:
    """Return the glass that is refused to nobody: the next one's twin, so that nobody sees who has which.

    Else the first product without alcohol, in the size of the flight's first sample.
    """
    twin = around.site.recipes.get((item.twin or item.recipe or "") if item else "")
    if twin and twin.twin is None:
        return Sample(twin.id, twin.volume_ul)
    size = around.flight[0].volume_ul if around.flight else None
    size = size or next((measure.volume_ul for measure in around.site.measures), None)
    product = next((product.id for product in around.site.products.values() if product.abv_e2 == 0), None)
    return Sample(product, size) if product and size else None


def _served_as(state: ServiceState, marked: Sequence[Mark], served: Sequence[Served]) -> ServiceState | None:
    """Return the state in which a guest had alcohol though it allows none; under age, whenever it was."""
    strong = [one for one in served if one.ethanol]
    if strong and state is ServiceState.UNDER_AGE:
        return state
    for one in strong:
        reached = one.moved_at or one.at
        then = guest_state(mark for mark in marked if mark.at <= reached)
        if then is not ServiceState.MAY_BE_SERVED:
            return then
    return None


def _drinks_left(around: RoomContext, given: Allowance) -> Decimal | None:
    """Return the least that is left of the limits that count every drink."""
    left = [
        given.left[limit.id].remainder
        for limit in around.rules.limits
        if limit.kind is Kind.DRINKS and limit.product == ANY_PRODUCT and not limit.neat_only
        if limit.id in given.left  # one of other tickets leaves nothing to say
    ]
    return drinks_left(min(left), around.site.standard_drink) if left else None
