"""The rules of service and what they apply to: limits, hours, guests, servers, rooms, offers.

Amounts are whole numbers: volumes in µL, ethanol in 1e-4 µL, gaps in seconds.
The kinds of rules come from the tasting laws of several places; a site chooses
those that bind it. A manager's restriction for one
service day tightens the rules and never loosens them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.figures.service.standard_drinks import ethanol

ANY_PRODUCT = "*"
EACH_PRODUCT = "each one"
"""The `product` of a limit that counts each product separately. Product ids contain no blanks."""

Per = Literal["pour", "visit", "day"] | int  # an int is a rolling window in minutes


class Kind(StrEnum):
    """The quantity that a limit bounds."""

    LARGEST = "largest"  # µL of one pour
    SIZES = "sizes"  # the allowed sizes of a pour
    POURS = "pours"  # how many
    VOLUME = "volume"  # µL of spirit
    DRINKS = "drinks"  # ethanol, 1e-4 µL
    GAP = "gap"  # seconds between pours
    GLASSES = "glasses"  # how many a guest has at one time
    VISITS = "visits"  # on how many visits of a day a guest is served


OF_ONE_POUR = frozenset({Kind.LARGEST, Kind.SIZES})
COUNTED = frozenset({Kind.POURS, Kind.VOLUME, Kind.DRINKS, Kind.GLASSES})
"""The kinds of limit from which each pour takes an amount."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One service rule with its legal or house basis and the year of that text.

    `most` is in the unit of its kind, a volume or ethanol rounded up; unused for
    `sizes`, whose `sizes_ul` are exact and, with `multiples`, may be met several
    times in one glass. `tour` "with" or "after" allows service only on a tour
    that has begun and not ended, or after one that has ended. Raises FigureError where the
    parts contradict each other.
    """

    id: str
    kind: Kind
    per: Per = "day"
    most: int = 0
    sizes_ul: tuple[Fraction, ...] = ()
    multiples: bool = False
    product: str = ANY_PRODUCT
    neat_only: bool = False
    tour: Literal["", "with", "after"] = ""
    basis: str = ""
    year: int = 0
    tickets: tuple[str, ...] = ()
    liquids_below: int = 0

    def __post_init__(self) -> None:
        of_one_pour = self.kind in OF_ONE_POUR
        if of_one_pour != (self.per == "pour") and self.kind is not Kind.GAP:
            raise FigureError(f"{self.id}.per", self.per, Need.WHAT_FITS_THE_KIND)
        if self.kind is Kind.VISITS and self.per != "day":
            raise FigureError(f"{self.id}.per", self.per, Need.WHAT_FITS_THE_KIND)
        if self.kind is Kind.SIZES and not self.sizes_ul:
            raise FigureError(f"{self.id}.sizes", self.sizes_ul, Need.WHAT_FITS_THE_KIND)
        if self.kind is not Kind.SIZES and self.most <= 0:
            raise FigureError(f"{self.id}.most", self.most, Bounds(0, above=True))
        if isinstance(self.per, int) and self.per <= 0:
            raise FigureError(f"{self.id}.per", self.per, Bounds(0, unit="min", above=True))
        if self.kind not in {*OF_ONE_POUR, *COUNTED} and (self.product != ANY_PRODUCT or self.neat_only):
            raise FigureError(f"{self.id}.product", self.product, Need.WHAT_FITS_THE_KIND)
        if self.tickets and self.kind not in COUNTED:
            raise FigureError(f"{self.id}.tickets", self.tickets, Need.WHAT_FITS_THE_KIND)
        if self.liquids_below and not of_one_pour:
            raise FigureError(f"{self.id}.liquids_below", self.liquids_below, Need.WHAT_FITS_THE_KIND)

    @property
    def window(self) -> timedelta | None:
        """The rolling window, or None when the limit has none."""
        return timedelta(minutes=self.per) if isinstance(self.per, int) else None

    def covers(self, product: str, neat: bool) -> bool:
        """Return whether this limit applies to a pour of `product`, neat or mixed."""
        return self.product in (ANY_PRODUCT, EACH_PRODUCT, product) and (neat or not self.neat_only)

    def binds(self, ticket: str) -> bool:
        """Return whether this limit applies to a guest's `ticket`; to "" (not known) every limit does."""
        return not self.tickets or not ticket or ticket in self.tickets

    def key(self, product: str) -> str:
        """Return the key under which this limit counts a pour of `product`: "limit" or "limit@product"."""
        return f"{self.id}@{product}" if self.product == EACH_PRODUCT else self.id

    def amount(self, volume_ul: int, abv_e2: int) -> int:
        """Return the amount that a pour takes from this limit, in the unit of its kind."""
        if self.kind in (Kind.POURS, Kind.GLASSES):
            return 1
        return ethanol(volume_ul, abv_e2) if self.kind is Kind.DRINKS else volume_ul

    def allows(self, offer: Offer) -> bool:
        """Return whether a limit of kind `largest` or `sizes` allows the size of an offered glass."""
        return (0 < self.liquids_below <= offer.liquids) or self.allows_size(offer.volume_ul)

    def allows_size(self, volume_ul: int) -> bool:
        """Return whether a limit of kind `largest` or `sizes` allows a pour of `volume_ul`."""
        if self.kind is Kind.LARGEST:
            return volume_ul <= self.most
        return any(_meets(volume_ul, size, self.multiples) for size in self.sizes_ul)


def _meets(volume_ul: int, size_ul: Fraction, multiples: bool) -> bool:
    times = max(1, round(volume_ul / size_ul)) if multiples else 1
    return volume_ul == int(times * size_ul)  # a pour is a whole number of µL, rounded down


@dataclass(frozen=True, slots=True)
class ServiceHours:
    """The hours of pouring, on the weekdays (Monday 0) on which they open.

    The last pour is before `until`, or before `last_pour` where pouring
    stops earlier. A time at or before `from_` is past midnight.
    """

    days: frozenset[int]
    from_: time
    until: time
    last_pour: time | None = None

    def window(self, day: date, zone: tzinfo) -> tuple[datetime, datetime] | None:
        """Return start and end of the pouring hours that open on `day`, or None when closed."""
        if day.weekday() not in self.days:
            return None
        ends = [self._on(day, at, zone) for at in (self.until, self.last_pour) if at is not None]
        return datetime.combine(day, self.from_, zone), min(ends)

    def _on(self, day: date, at: time, zone: tzinfo) -> datetime:
        return datetime.combine(day if at > self.from_ else day + timedelta(days=1), at, zone)


@dataclass(frozen=True, slots=True)
class ServicePolicy:
    """All service rules of a site. No hours means the whole service day; no rooms, every room.

    `mixers` false means that spirits are poured neat only; `own_only`, that only
    spirits made here are poured. `server_age` (years, 0: none) and `server_permit`
    (its kind, "": none) are what a server must have. `mat` says how
    preset glasses are judged when a guest sits down at them: all or none
    ("whole"), or each by itself ("glass"). Only the restrictions of a day set
    `last_pour_s`, the second of the service day before which the last pour must be, and
    `dry`: nothing with alcohol.
    """

    guest_age: int
    basis: str
    year: int
    limits: tuple[Limit, ...] = ()
    hours: tuple[ServiceHours, ...] = ()
    rooms: tuple[str, ...] = ()
    mixers: bool = True
    own_only: bool = False
    server_age: int = 0
    server_permit: str = ""
    mat: Literal["whole", "glass"] = "whole"
    last_pour_s: int | None = None
    dry: bool = False


class ServiceState(StrEnum):
    """Whether a guest may be served, by the entries about them."""

    NOT_CHECKED = "not_checked"
    MAY_BE_SERVED = "may_be_served"
    NO_ALCOHOL = "no_alcohol"
    UNDER_AGE = "under_age"
    SERVICE_STOPPED = "service_stopped"


@dataclass(frozen=True, slots=True)
class Guest:
    """A guest as the rules need it. `visit` is their tour; pours of the same visit have the same.

    `ticket` is the kind of their ticket, "" when it is not known.
    """

    state: ServiceState
    visit: int | None = None
    tour_started_at: datetime | None = None
    tour_ended_at: datetime | None = None
    gone: bool = False
    ticket: str = ""


@dataclass(frozen=True, slots=True)
class Server:
    """The person who pours: their proven age in years and the permits valid today.

    An unknown age is 0. `blocked` are further codes against their
    pouring. Without an `id` no server is chosen yet, and the rules for servers are
    not checked.
    """

    id: int | None = None
    blocked: tuple[str, ...] = ()
    age: int = 0
    permits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """A room within one service day, from `day_from` to before `day_until`."""

    id: str
    day_from: datetime
    day_until: datetime
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class Offer:
    """One proposed pour. Volumes count the spirit, not mixer, ice or water.

    `liquids` is how many there are in the glass, `own` whether the spirit was made here.
    """

    product: str
    volume_ul: int
    abv_e2: int
    neat: bool = True
    approved: bool = True
    own: bool = True
    liquids: int = 1

    @property
    def free(self) -> bool:
        """Whether the glass is free of alcohol; such a glass is always allowed."""
        return ethanol(self.volume_ul, self.abv_e2) == 0


def born_on_or_before(day: date, age: int) -> date:
    """Return the latest date of birth with which a guest has reached `age` years on `day`.

    A guest born on 29 February comes of age on 1 March in a common year
    (Maryland Gen. Prov. 1-303 says so; others are silent).
    """
    try:
        return day.replace(year=day.year - age)
    except ValueError:  # 29 February, and no such day that many years ago
        return date(day.year - age, 2, 28)


LAST_POUR = "last pour"
GAP = "longer gap"
NO_ALCOHOL = "no alcohol"
"""The rules of a restriction that is not on a limit. Ids of limits contain no blanks."""

LOWERED = frozenset({Kind.LARGEST, Kind.POURS, Kind.VOLUME, Kind.DRINKS, Kind.GLASSES, Kind.VISITS})
"""The kinds of limit that a restriction may lower."""


@dataclass(frozen=True, slots=True)
class DayRestriction:
    """A manager's restriction of the rules, from `at` until its service day ends.

    `rule` is the id of a limit, and `most` its lower maximum in the limit's own unit;
    or LAST_POUR with the second of the service day before which the last pour must be,
    GAP with the least seconds between two pours, or NO_ALCOHOL, where `most` is unused.
    """

    rule: str
    most: int
    at: datetime


def tighten(policy: ServicePolicy, restrictions: Iterable[DayRestriction]) -> ServicePolicy:
    """Return a `policy` tightened by the `restrictions` of a day.

    Of a rule and its restriction the stricter applies, so a pour refused under
    the policy is still refused. A restriction on a limit that the policy no longer has is
    ignored, and so is a maximum of 0 or less.
    """
    for restriction in restrictions:
        policy = _restricted(policy, restriction)
    return policy


def _restricted(policy: ServicePolicy, restriction: DayRestriction) -> ServicePolicy:
    if restriction.rule == NO_ALCOHOL:
        return replace(policy, dry=True)
    if restriction.most <= 0:
        return policy
    if restriction.rule == LAST_POUR:
        before = policy.last_pour_s
        return replace(
            policy, last_pour_s=restriction.most if before is None else min(before, restriction.most)
        )
    if restriction.rule == GAP:  # of several gaps the longest counts
        return replace(policy, limits=(*policy.limits, Limit(GAP, Kind.GAP, most=restriction.most)))
    return replace(policy, limits=tuple(_lowered(limit, restriction) for limit in policy.limits))


def _lowered(limit: Limit, restriction: DayRestriction) -> Limit:
    lower = limit.id == restriction.rule and limit.kind in LOWERED and restriction.most < limit.most
    return replace(limit, most=restriction.most) if lower else limit


def is_stricter(policy: ServicePolicy, restriction: DayRestriction, at: Room) -> bool:
    """Return whether a `restriction` would tighten a `policy`, which may be tightened already.

    `at` is the room in the restriction's service day. A maximum of 0 or less tightens
    nothing: NO_ALCOHOL stops all pouring.
    """
    if restriction.rule == NO_ALCOHOL:
        return not policy.dry
    if restriction.rule == LAST_POUR:
        return 0 < restriction.most < last_pour_s(policy, at)
    if restriction.rule == GAP:
        return restriction.most > max((x.most for x in policy.limits if x.kind is Kind.GAP), default=0)
    return restriction.most > 0 and any(_lowered(limit, restriction) is not limit for limit in policy.limits)


def last_pour_s(policy: ServicePolicy, at: Room) -> int:
    """Return the second of the service day of room `at` before which a `policy` has its last pour."""
    start = at.day_from.astimezone(UTC)
    days = [at.day_from.date() + timedelta(days=shift) for shift in (-1, 0, 1)]
    windows = [w for hours in policy.hours for day in days if (w := hours.window(day, at.zone))]
    ends = [end for opens, end in windows if opens < at.day_until and end > at.day_from]
    latest = max(ends, default=at.day_from) if policy.hours else at.day_until
    closes = round((min(latest, at.day_until).astimezone(UTC) - start).total_seconds())
    return closes if policy.last_pour_s is None else min(closes, policy.last_pour_s)
