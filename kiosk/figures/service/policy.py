"""The rules of service and those whom they concern: limits, hours, guests, servers, offers.

Amounts are whole numbers: volumes in µL, ethanol in 1e-4 µL, gaps in seconds.
What the kinds of rules are comes from the tasting laws of several places; which
of them binds a house is for the house to say. A manager's restriction for one
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
"""A limit of every product for itself. No product is called so: ids hold no blanks."""

Per = Literal["pour", "visit", "day"] | int  # an int is a rolling window in minutes


class Kind(StrEnum):
    """What a limit bounds."""

    LARGEST = "largest"  # µL of one pour
    SIZES = "sizes"  # the allowed sizes of a pour
    POURS = "pours"  # how many
    VOLUME = "volume"  # µL of spirit
    DRINKS = "drinks"  # ethanol, 1e-4 µL
    GAP = "gap"  # seconds between pours
    GLASSES = "glasses"  # how many stand before a guest at one time
    VISITS = "visits"  # on how many visits of a day somebody is served


OF_ONE_POUR = frozenset({Kind.LARGEST, Kind.SIZES})
COUNTED = frozenset({Kind.POURS, Kind.VOLUME, Kind.DRINKS, Kind.GLASSES})
"""Kinds of which a pour takes an amount."""


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
        """Say whether a pour of this product falls under this limit."""
        return self.product in (ANY_PRODUCT, EACH_PRODUCT, product) and (neat or not self.neat_only)

    def binds(self, ticket: str) -> bool:
        """Say whether this limit binds a guest with such a ticket; not known ("") is bound by all."""
        return not self.tickets or not ticket or ticket in self.tickets

    def key(self, product: str) -> str:
        """Return the name under which a pour of this product is counted."""
        return f"{self.id}@{product}" if self.product == EACH_PRODUCT else self.id

    def amount(self, volume_ul: int, abv_e2: int) -> int:
        """Return what a pour takes from this limit."""
        if self.kind in (Kind.POURS, Kind.GLASSES):
            return 1
        return ethanol(volume_ul, abv_e2) if self.kind is Kind.DRINKS else volume_ul

    def allows(self, offer: Offer) -> bool:
        """Say whether a glass may be so large, for `largest` and `sizes`."""
        return (0 < self.liquids_below <= offer.liquids) or self.allows_size(offer.volume_ul)

    def allows_size(self, volume_ul: int) -> bool:
        """Say whether one pour may be this large, for `largest` and `sizes`."""
        if self.kind is Kind.LARGEST:
            return volume_ul <= self.most
        return any(_meets(volume_ul, size, self.multiples) for size in self.sizes_ul)


def _meets(volume_ul: int, size_ul: Fraction, multiples: bool) -> bool:
    times = max(1, round(volume_ul / size_ul)) if multiples else 1
    return volume_ul == int(times * size_ul)  # a pour is a whole number of µL, rounded down


@dataclass(frozen=True, slots=True)
class ServiceHours:
    """From when until when may be poured, by weekday (Monday 0) of the opening.

    The last pour is before `until`, or before `last_pour` where the house stops
    pouring earlier than it closes. A time at or before `from_` is past midnight.
    """

    days: frozenset[int]
    from_: time
    until: time
    last_pour: time | None = None

    def window(self, day: date, zone: tzinfo) -> tuple[datetime, datetime] | None:
        """Return the pouring hours that open on a calendar day, or None when closed."""
        if day.weekday() not in self.days:
            return None
        ends = [self._on(day, at, zone) for at in (self.until, self.last_pour) if at is not None]
        return datetime.combine(day, self.from_, zone), min(ends)

    def _on(self, day: date, at: time, zone: tzinfo) -> datetime:
        return datetime.combine(day if at > self.from_ else day + timedelta(days=1), at, zone)


@dataclass(frozen=True, slots=True)
class ServicePolicy:
    """Every rule of a site. No hours stated means the whole service day; no rooms, every room.

    `mixers` false means that spirits are poured neat only; `own_only`, that only
    what the house made is poured. `server_age` (years, 0: none) and `server_permit`
    (its kind, "": none) are what whoever pours must have. `mat` says how
    glasses that are set out are decided when a guest sits down at them: all or nothing
    ("whole"), or each for itself ("glass"). Only the restrictions of a day set
    `last_pour_s`, before which second of the service day the last pour is, and `dry`:
    nothing with alcohol.
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
    """What a guest's marks say about serving them."""

    NOT_CHECKED = "not_checked"
    MAY_BE_SERVED = "may_be_served"
    NO_ALCOHOL = "no_alcohol"
    UNDER_AGE = "under_age"
    SERVICE_STOPPED = "service_stopped"


@dataclass(frozen=True, slots=True)
class Guest:
    """A guest as the rules see one. `visit` is their tour; pours of the same visit carry it.

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
    """Who pours: at least how old by a document seen, and which permits hold today.

    What is not known does not hold. `blocked` are further codes against their
    pouring. Without an `id` it is nobody yet, as on a tile that nobody has pressed:
    then what servers must have is not asked.
    """

    id: int | None = None
    blocked: tuple[str, ...] = ()
    age: int = 0
    permits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """Where and within which service day: its first instant and that of the next."""

    id: str
    day_from: datetime
    day_until: datetime
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class Offer:
    """One proposed pour. Volumes count the spirit, not mixer, ice or water.

    `liquids` is how many there are in the glass, `own` whether the house made the spirit.
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
        """A proposal of 0 % is always allowed."""
        return ethanol(self.volume_ul, self.abv_e2) == 0


def born_on_or_before(day: date, age: int) -> date:
    """Return the latest birthday that makes a guest of `age` on `day`.

    Somebody born on 29 February comes of age on 1 March in a common year
    (Maryland Gen. Prov. 1-303 says so; others are silent).
    """
    try:
        return day.replace(year=day.year - age)
    except ValueError:  # 29 February, and no such day that many years ago
        return date(day.year - age, 2, 28)


LAST_POUR = "last pour"
GAP = "longer gap"
NO_ALCOHOL = "no alcohol"
"""What a restriction may speak of beside the id of a limit. No limit is called so: ids hold no blanks."""

LOWERED = frozenset({Kind.LARGEST, Kind.POURS, Kind.VOLUME, Kind.DRINKS, Kind.GLASSES, Kind.VISITS})
"""Kinds of limit whose most a restriction may lower."""


@dataclass(frozen=True, slots=True)
class DayRestriction:
    """A manager's restriction, from `at` on until its service day ends.

    `rule` is the id of a limit, then `most` is its new most in the limit's own unit;
    LAST_POUR: before so many seconds of the service day; GAP: at least so many seconds
    between two pours; NO_ALCOHOL: nothing with alcohol, and `most` says nothing.
    """

    rule: str
    most: int
    at: datetime


def tighten(policy: ServicePolicy, restrictions: Iterable[DayRestriction]) -> ServicePolicy:
    """Return a `policy` with the `restrictions` of a day put on it.

    Of a rule and a restriction on it the stricter holds, so that whatever is refused under
    the policy is refused still; a restriction on a limit that the policy has no more, or of a
    most of 0 or less, says nothing. Without restrictions it is the same policy.
    """
    for restriction in restrictions:
        policy = _put_on(policy, restriction)
    return policy


def _put_on(policy: ServicePolicy, restriction: DayRestriction) -> ServicePolicy:
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
    """Say whether a `restriction` would tighten a `policy`, which earlier restrictions may have tightened.

    `at` is the room in the service day that it is for. Who wants nothing poured at all
    says NO_ALCOHOL.
    """
    if restriction.rule == NO_ALCOHOL:
        return not policy.dry
    if restriction.rule == LAST_POUR:
        return 0 < restriction.most < last_pour_s(policy, at)
    if restriction.rule == GAP:
        return restriction.most > max((x.most for x in policy.limits if x.kind is Kind.GAP), default=0)
    return restriction.most > 0 and any(_lowered(limit, restriction) is not limit for limit in policy.limits)


def last_pour_s(policy: ServicePolicy, at: Room) -> int:
    """Return before which second of the service day of `at` the last pour under a `policy` is."""
    begun = at.day_from.astimezone(UTC)
    days = [at.day_from.date() + timedelta(days=shift) for shift in (-1, 0, 1)]
    windows = [w for hours in policy.hours for day in days if (w := hours.window(day, at.zone))]
    ends = [end for start, end in windows if start < at.day_until and end > at.day_from]
    latest = max(ends, default=at.day_from) if policy.hours else at.day_until
    closes = round((min(latest, at.day_until).astimezone(UTC) - begun).total_seconds())
    return closes if policy.last_pour_s is None else min(closes, policy.last_pour_s)
