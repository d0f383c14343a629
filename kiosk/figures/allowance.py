"""What is left for a guest, whether a pour fits, and the decision.

`decide` is `fits(allowance(...), cost(...))`. An allowance holds amounts and no
law, so that a tablet away from the server can spend from it by the same rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.folds import Served
from kiosk.figures.service import (
    Guest,
    Kind,
    Limit,
    Offer,
    Room,
    Server,
    ServicePolicy,
    ServiceState,
)

NOT_RELEASED = "not_released"
HOURS = "hours"
WAIT = "wait"
TOUR = "tour"
ROOM = "room"
GONE = "gone"


@dataclass(frozen=True, slots=True)
class Left:
    """What remains of a limit; `window` when it refills."""

    remainder: int
    window: timedelta | None = None


@dataclass(frozen=True, slots=True)
class Refill:
    """An amount that a rolling limit gets back at an instant."""

    at: datetime
    limit: str
    amount: int


@dataclass(frozen=True, slots=True)
class Allowance:
    """What the rules leave a guest at `as_of`. Pouring is open from `from_` until before `until`."""

    as_of: datetime
    blocked: tuple[str, ...]
    from_: datetime
    until: datetime
    gap: timedelta
    not_before: datetime
    left: Mapping[str, Left]
    refills: tuple[Refill, ...] = ()


@dataclass(frozen=True, slots=True)
class Cost:
    """What an offer takes from each limit; `never` names rules that it can never meet."""

    free: bool
    never: tuple[str, ...]
    amounts: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Decision:
    """Granted when no reason stands against it. Reasons are codes or ids of limits."""

    reasons: tuple[str, ...]

    @property
    def granted(self) -> bool:
        """Whether the pour may be served."""
        return not self.reasons


def allowance(
    policy: ServicePolicy,
    guest: Guest,
    pours: Sequence[Served],
    server: Server,
    at: Room,
    now: datetime,
) -> Allowance:
    """Return what is left for a guest at `now` in the room `at`.

    `pours` are everything served to the guest from the start of the service day
    or of the longest window, whichever is earlier. Those dated after `now` count
    too: a clock set back must not give anything away.
    """
    strong = [served for served in pours if served.ethanol]
    opens, closes = _hours(policy, at, now)
    gap = max((timedelta(seconds=x.most) for x in policy.limits if x.kind is Kind.GAP), default=timedelta(0))
    last = max((served.at for served in strong), default=None)
    summed = [limit for limit in policy.limits if limit.kind in (Kind.POURS, Kind.VOLUME, Kind.DRINKS)]
    left, refills = {}, []
    for limit in summed:
        counting = _counting(limit, guest, strong, at, now)
        left[limit.id] = Left(limit.most - sum(amount for _, amount in counting), limit.window)
        if limit.window:
            refills += [Refill(when + limit.window, limit.id, amount) for when, amount in counting]
    return Allowance(
        as_of=now,
        blocked=tuple(_blocked(policy, guest, server, at, now)),
        from_=opens,
        until=min(closes, at.day_until),  # what is left of a day says nothing of the next
        gap=gap,
        not_before=last + gap if last else now,
        left=left,
        refills=tuple(refills),
    )


def cost(policy: ServicePolicy, offer: Offer) -> Cost:
    """Return what an offer takes from each limit of a policy."""
    never = [] if offer.released else [NOT_RELEASED]
    amounts: dict[str, int] = {}
    for limit in policy.limits:
        if not limit.covers(offer.product, offer.neat):
            continue
        if limit.kind in (Kind.LARGEST, Kind.SIZES):
            never += [] if limit.allows_size(offer.volume_ul) else [limit.id]
        elif limit.kind is not Kind.GAP:
            amounts[limit.id] = limit.amount(offer.volume_ul, offer.abv_e2)
    return Cost(offer.free, tuple(never), amounts)


def fits(given: Allowance, asked: Cost, now: datetime | None = None) -> tuple[str, ...]:
    """Return the reasons against a pour at `now` (by default the allowance's own time); none: it fits."""
    if asked.free:
        return ()  # alcohol-free is refused to nobody
    at = given.as_of if now is None else now
    reasons = [*given.blocked, *asked.never]
    if not given.from_ <= at < given.until:
        reasons.append(HOURS)
    if at < given.not_before:
        reasons.append(WAIT)
    for limit, left in given.left.items():
        back = sum(r.amount for r in given.refills if r.limit == limit and r.at <= at)
        wanted = asked.amounts.get(limit, 0)
        if wanted and wanted > left.remainder + back:
            reasons.append(limit)
    return tuple(reasons)


def decide(
    policy: ServicePolicy,
    guest: Guest,
    pours: Sequence[Served],
    server: Server,
    at: Room,
    now: datetime,
    offer: Offer,
) -> Decision:
    """Say whether a pour may be served now, and if not, why not."""
    return Decision(fits(allowance(policy, guest, pours, server, at, now), cost(policy, offer)))


def _counting(
    limit: Limit, guest: Guest, strong: Iterable[Served], at: Room, now: datetime
) -> list[tuple[datetime, int]]:
    return [
        (served.at, limit.amount(served.volume_ul, served.abv_e2))
        for served in strong
        if limit.covers(served.product, served.neat) and _within(limit, guest, served, at, now)
    ]


def _within(limit: Limit, guest: Guest, served: Served, at: Room, now: datetime) -> bool:
    if limit.window:
        return served.at > now - limit.window
    if limit.per == "visit":
        return served.visit == guest.visit
    return at.day_from <= served.at < at.day_until


def _blocked(policy: ServicePolicy, guest: Guest, server: Server, at: Room, now: datetime) -> Iterable[str]:
    if guest.state is not ServiceState.MAY_BE_SERVED:
        yield str(guest.state)
    if guest.gone:
        yield GONE
    yield from server.blocked
    if policy.rooms and at.id not in policy.rooms:
        yield ROOM
    if any(not _tour_met(limit, guest, now) for limit in policy.limits):
        yield TOUR


def _tour_met(limit: Limit, guest: Guest, now: datetime) -> bool:
    if limit.tour == "with":
        return guest.tour_started_at is not None and guest.tour_started_at <= now
    if limit.tour == "after":
        return guest.tour_ended_at is not None and guest.tour_ended_at <= now
    return True


def _hours(policy: ServicePolicy, at: Room, now: datetime) -> tuple[datetime, datetime]:
    """Return the open window around `now`, else the next or last one of this service day."""
    if not policy.hours:
        return at.day_from, at.day_until
    today = now.astimezone(at.zone).date()
    days = [today + timedelta(days=shift) for shift in (-1, 0, 1)]
    windows = [w for hours in policy.hours for day in days if (w := hours.window(day, at.zone))]
    inside = [w for w in windows if w[0] <= now < w[1]]
    if inside:
        return max(inside, key=lambda w: w[1])
    ahead = [w for w in windows if w[0] > now]
    return min(ahead) if ahead else (at.day_until, at.day_until)
