"""The allowance of a guest, the cost of a pour, and the decision whether it may be served.

`decide` is `fits(allowance(...), cost(...))`. An allowance holds amounts and no
rules, so that a tablet away from the server can decide in the same way.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from kiosk.figures.service.policy import (
    COUNTED,
    EACH_PRODUCT,
    OF_ONE_POUR,
    Guest,
    Kind,
    Limit,
    Offer,
    Room,
    Server,
    ServicePolicy,
    ServiceState,
)
from kiosk.figures.service.servings import Served

NOT_APPROVED = "not_approved"
HOURS = "hours"
WAIT = "wait"
TOUR = "tour"
ROOM = "room"
GONE = "gone"
NEAT_ONLY = "neat_only"
NOT_OWN = "not_own"
SERVER_AGE = "server_age"
SERVER_PERMIT = "server_permit"
DRY = "dry"


@dataclass(frozen=True, slots=True)
class Left:
    """The remainder of a limit in its own unit; `window` when it is a rolling one."""

    remainder: int
    window: timedelta | None = None


@dataclass(frozen=True, slots=True)
class Refill:
    """An amount that a rolling limit gains again at the time `at`."""

    at: datetime
    limit: str
    amount: int


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a guest may still be served at `as_of`, between `from_` and before `until`.

    `left` is by limit; of a limit on each product, by "limit@product" for those
    served, and by "limit" for any other. `blocked` are reasons against any pour, `not_before`
    is the earliest next pour.
    """

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
    """What a pour takes from each limit or "limit@product"; `never` are reasons that always refuse it."""

    free: bool
    never: tuple[str, ...]
    amounts: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision on a pour: granted when it has no reasons. Reasons are codes or ids of limits."""

    reasons: tuple[str, ...]

    @property
    def granted(self) -> bool:
        """Whether the pour may be served."""
        return not self.reasons


def allowance(
    policy: ServicePolicy, guest: Guest, pours: Sequence[Served], server: Server, at: Room, now: datetime
) -> Allowance:
    """Return what a `guest` may still be served at `now` under a `policy`.

    `server` pours in the room `at`. `pours` are everything served to the guest from the
    start of the service day or of the longest window, whichever is earlier. Those dated
    after `now` count too, so that a clock set back allows nothing more. Glasses preset
    together are served at one instant: the gap applies after them, not between them.
    """
    strong = [served for served in pours if served.ethanol]
    now = now.astimezone(UTC)  # local time is ambiguous when the clocks change
    opens, closes = _hours(policy, at, now)
    gap = max((timedelta(seconds=x.most) for x in policy.limits if x.kind is Kind.GAP), default=timedelta(0))
    apart = (served.at for served in strong if not (served.preset and served.at == now))
    last = max(apart, default=None)
    left: dict[str, Left] = {}
    refills: list[Refill] = []
    for limit in policy.limits:
        if limit.kind not in COUNTED or not limit.binds(guest.ticket):
            continue
        counting = _counting(limit, guest, strong, at, now)
        left |= _left(limit, counting)
        if limit.window:
            refills += [Refill(when + limit.window, key, amount) for key, when, amount in counting]
    return Allowance(
        as_of=now,
        blocked=tuple(_blocked(policy, guest, strong, server, at, now)),
        from_=opens,
        until=min(closes, _day_ends(policy, at)),  # an allowance ends with its service day
        gap=gap,
        not_before=last + gap if last and gap else now,
        left=left,
        refills=tuple(refills),
    )


def cost(policy: ServicePolicy, offer: Offer) -> Cost:
    """Return what the pour `offer` takes from each limit of a `policy`, and why nobody may have it, if so."""
    never = [] if offer.approved else [NOT_APPROVED]
    if policy.own_only and not offer.own:
        never.append(NOT_OWN)
    if not policy.mixers and (not offer.neat or offer.liquids > 1):
        never.append(NEAT_ONLY)
    amounts: dict[str, int] = {}
    for limit in policy.limits:
        if not limit.covers(offer.product, offer.neat):
            continue
        if limit.kind in COUNTED:
            amounts[limit.key(offer.product)] = limit.amount(offer.volume_ul, offer.abv_e2)
        elif limit.kind in OF_ONE_POUR and not limit.allows(offer):
            never.append(limit.id)
    return Cost(offer.free, tuple(never), amounts)


def fits(given: Allowance, asked: Cost, now: datetime | None = None) -> tuple[str, ...]:
    """Return the reasons against a pour by an allowance; an empty tuple means that it may be served.

    `given` is the guest's allowance and `asked` the cost of the pour; `now` is by
    default the allowance's own time. Reasons are codes of the rules or ids of limits.
    """
    if asked.free:
        return ()  # alcohol-free is never refused
    at = given.as_of if now is None else now
    reasons = [*given.blocked, *asked.never]
    if not given.from_ <= at < given.until:
        reasons.append(HOURS)
    if at < given.not_before:
        reasons.append(WAIT)
    for key, wanted in asked.amounts.items():
        limit = key.partition("@")[0]
        left = given.left.get(key) or given.left.get(limit)
        if left is None or not wanted:
            continue  # a limit of other guests' tickets, or nothing of what it counts
        back = sum(r.amount for r in given.refills if r.limit == key and r.at <= at)
        if wanted > left.remainder + back:
            reasons.append(limit)
    return tuple(reasons)


def against_pouring(policy: ServicePolicy, server: Server, at: Room, offer: Offer) -> tuple[str, ...]:
    """Return the reasons against pouring an `offer` before its guest is known (preset glasses).

    A `policy` then judges the glass itself, the room `at` and the `server`; guest,
    hours and limits are judged when a guest sits down. Alcohol-free is always allowed.
    """
    if offer.free:
        return ()
    elsewhere = (ROOM,) if policy.rooms and at.id not in policy.rooms else ()
    dry = (DRY,) if policy.dry else ()
    return (*_server_lacks(policy, server), *elsewhere, *dry, *cost(policy, offer).never)


def decide(
    policy: ServicePolicy,
    guest: Guest,
    pours: Sequence[Served],
    server: Server,
    at: Room,
    now: datetime,
    offer: Offer,
) -> Decision:
    """Return the decision whether an `offer` may be served to a guest at `now`, with the reasons if not.

    `policy`, `guest`, `pours`, `server` and the room `at` are as for `allowance`.
    Alcohol-free is always granted.
    """
    return Decision(fits(allowance(policy, guest, pours, server, at, now), cost(policy, offer)))


def _counting(
    limit: Limit, guest: Guest, strong: Sequence[Served], at: Room, now: datetime
) -> list[tuple[str, datetime, int]]:
    """Return the key, time and amount of each pour that counts for a limit."""
    name = limit.key if limit.product == EACH_PRODUCT else None
    return [
        (name(one.product) if name else limit.id, one.at, limit.amount(one.volume_ul, one.abv_e2))
        for one in _within(limit, guest, strong, at, now)
        if limit.covers(one.product, one.neat)
    ]


def _within(
    limit: Limit, guest: Guest, strong: Sequence[Served], at: Room, now: datetime
) -> Sequence[Served]:
    """Return the pours within a limit's span of time; of glasses, those not yet done."""
    if limit.kind is Kind.GLASSES:
        strong = [one for one in strong if one.done_at is None or one.done_at > now]
    if limit.window:
        since = now - limit.window
        return [one for one in strong if one.at > since]
    if limit.per == "visit":
        return [one for one in strong if one.visit == guest.visit]
    first, until = at.day_from, at.day_until
    return [one for one in strong if first <= one.at < until]


def _left(limit: Limit, counting: Iterable[tuple[str, datetime, int]]) -> dict[str, Left]:
    window, remainders = limit.window, {limit.id: limit.most}
    for key, _, amount in counting:
        remainders[key] = remainders.get(key, limit.most) - amount
    return {key: Left(remainder, window) for key, remainder in remainders.items()}


def _blocked(
    policy: ServicePolicy, guest: Guest, strong: Iterable[Served], server: Server, at: Room, now: datetime
) -> Iterable[str]:
    if guest.state is not ServiceState.MAY_BE_SERVED:
        yield str(guest.state)
    if policy.dry:
        yield DRY
    if guest.gone:
        yield GONE
    yield from _server_lacks(policy, server)
    if policy.rooms and at.id not in policy.rooms:
        yield ROOM
    if any(not _tour_met(limit, guest, now) for limit in policy.limits):
        yield TOUR
    for limit in policy.limits:
        if limit.kind is Kind.VISITS and limit.most <= len(_other_visits(guest, strong, at)):
            yield limit.id


def _server_lacks(policy: ServicePolicy, server: Server) -> Iterable[str]:
    yield from server.blocked
    if server.id is None:
        return
    if server.age < policy.server_age:
        yield SERVER_AGE
    if policy.server_permit and policy.server_permit not in server.permits:
        yield SERVER_PERMIT


def _other_visits(guest: Guest, strong: Iterable[Served], at: Room) -> set[int | None]:
    today = {served.visit for served in strong if at.day_from <= served.at < at.day_until}
    return today - {guest.visit}


def _tour_met(limit: Limit, guest: Guest, now: datetime) -> bool:
    started = guest.tour_started_at is not None and guest.tour_started_at <= now
    over = guest.tour_ended_at is not None and guest.tour_ended_at <= now
    return {"with": started and not over, "after": over}.get(limit.tour, True)


def _day_ends(policy: ServicePolicy, at: Room) -> datetime:
    if policy.last_pour_s is None:
        return at.day_until
    return min(at.day_until, at.day_from.astimezone(UTC) + timedelta(seconds=policy.last_pour_s))


def _hours(policy: ServicePolicy, at: Room, now: datetime) -> tuple[datetime, datetime]:
    """Return the pouring hours that contain `now`, else the next ones of this service day."""
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
