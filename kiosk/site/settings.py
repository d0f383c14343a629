"""The settings of a site, after its folder was read without a fault.

`kiosk.site.loading.load_site` makes a `Site` from a folder or raises
`kiosk.site.faults.SiteFaults`, which holds every fault it found.
"""

import hmac
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from enum import StrEnum
from ipaddress import IPv4Network, IPv6Network
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.drawings.inks import Ink, house_inks
from kiosk.figures.drinks import ServicePolicy, StandardDrink
from kiosk.site.images import HouseImages
from kiosk.words.catalogs import readable_code


def instants_of(wall: datetime, zone: ZoneInfo) -> list[datetime]:
    """Return the instants at which a zone's clock shows a time without an offset: none, one or two.

    There is none in the first and the last hours of the calendar, which another zone cannot show.
    """
    try:
        both = dict.fromkeys(on_the_clock(wall, zone, fold) for fold in (0, 1))
    except OverflowError:
        return []
    return [one for one in both if one.astimezone(zone).replace(tzinfo=None, fold=0) == wall]


def on_the_clock(wall: datetime, zone: ZoneInfo, fold: int) -> datetime:
    """Return the instant of a time on a zone's clock before (`fold` 0) or after a change of the clock."""
    return wall.replace(tzinfo=zone, fold=fold).astimezone(UTC)


ID_KINDS = ("identity_card", "driving_license", "passport", "residence_permit", "military_id", "other_id")
"""The kinds of documents by which staff check an age; `Site.usual_id` is the one that is preset."""

APPROVAL_KINDS = ("bottled", "cask_sample", "new_make", "experiment", "mixed")
"""What an approval may be of."""


class Units(StrEnum):
    """Which trade's units a site speaks in."""

    METRIC = "metric"
    US = "us"


class WelcomeDrink(StrEnum):
    """When the welcome drink is served, and whether with alcohol."""

    ALCOHOL_FREE = "alcohol-free on arrival"
    SMALL = "small on arrival"
    AFTER = "after the tour"


@dataclass(frozen=True, slots=True)
class Language:
    """A language of the site and the CLDR locale that writes its numbers and dates."""

    code: str  # "en", "es": in addresses and file names
    locale: str  # "en_US", "es_PR"


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure that the house owns."""

    id: str
    volume_ul: int


@dataclass(frozen=True, slots=True)
class Product:
    """Something that may be poured or sold, as the label names it."""

    id: str
    names: Mapping[str, str]  # by language code
    legal_class: Mapping[str, str]
    notes: Mapping[str, str]
    abv_e2: int
    abv_basis: str  # label, distilled, laboratory, not_known
    allergens: tuple[str, ...] = ()
    sugar_g_per_l: float | None = None
    own: bool = True  # made by the house
    tint: str = "clear"  # how its bottle is drawn: clear, aged, fruit, cacao
    classes: tuple[str, ...] = ()  # its class in each law, by the table of facts
    price: Decimal | None = None  # of a bottle, in the site's currency


@dataclass(frozen=True, slots=True)
class TicketKind:
    """A kind of ticket that the house sells; the rules of service can depend on it."""

    id: str
    names: Mapping[str, str]  # by language code
    price: Decimal | None = None  # for one person, in the site's currency


@dataclass(frozen=True, slots=True)
class Mixer:
    """Juice, cream, syrup, ice or a garnish: of it the rules see nothing, and guests its allergens."""

    names: Mapping[str, str]  # by language code
    volume_ul: int = 0  # 0: not measured, as ice and garnish are
    allergens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Recipe:
    """A mixed glass with at most one product from a bottle, or the alcohol-free twin of one."""

    id: str
    names: Mapping[str, str]  # by language code
    glass: Mapping[str, str]  # what it is served in; its twin's is the same
    mixers: tuple[Mixer, ...]
    product: str | None = None
    volume_ul: int = 0  # of the product
    small_ul: int | None = None  # of the product, where a small one welcomes
    twin: str | None = None  # the id of its alcohol-free twin; None for a twin


@dataclass(frozen=True, slots=True)
class RouteStop:
    """A stop on the route: its slug, minutes there, minutes of walking to it."""

    slug: str
    minutes: int
    walk_minutes: int
    holds: int


@dataclass(frozen=True, slots=True)
class OpeningHours:
    """The hours in which the house receives guests, on the weekdays (Monday 0) on which it does."""

    days: frozenset[int]
    opens: time
    closes: time  # at or before `opens`: on the next day


@dataclass(frozen=True, slots=True)
class Colours:
    """The two colours that a site may choose, checked against the accessible range."""

    accent: str  # "#rrggbb" of light pages
    accent_dark: str  # of the dim room

    @property
    def inks(self) -> tuple[Ink, ...]:
        """The inks of the house, mixed from its colours."""
        return house_inks(self.accent, self.accent_dark)


@dataclass(frozen=True, slots=True)
class TrustedProxy:
    """The proxies in front of the server: their addresses, and how many one request passes."""

    addresses: tuple[IPv4Network | IPv6Network, ...]
    hops: int = 1


@dataclass(frozen=True, slots=True)
class DemoClock:
    """The clock of a prepared demo: it showed `shows` when the computer's clock showed `at`, and runs on."""

    shows: datetime
    at: datetime

    def reading(self, computers: datetime) -> datetime:
        """Return what this clock shows when the computer's clock shows `computers`."""
        return self.shows.astimezone(UTC) + (computers - self.at)


@dataclass(frozen=True, slots=True)
class Site:
    """One distillery's settings, route and products. Times are in `zone`."""

    folder: Path
    key: str  # a short name of letters, digits and dashes
    name: str
    languages: tuple[Language, ...]
    zone: ZoneInfo
    currency: str
    units: Units
    standard_drink: StandardDrink
    policy: ServicePolicy
    day_starts: time
    measures: tuple[Measure, ...]
    rooms: tuple[str, ...]
    public_address: str | None  # "https://...", without a trailing slash
    trusted_hosts: tuple[str, ...]
    staff_over_http: bool
    retention_days: int
    colours: Colours
    route: tuple[RouteStop, ...]
    products: Mapping[str, Product]
    database: str  # SQLAlchemy URL
    secret: bytes = field(repr=False)
    # By room and language code; a room may have none.
    room_names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    # Of the tasting rooms, where nobody has read a thermometer.
    room_temperature_c: int = 25
    # Lines that stand with every product, by language: advertiser, warning, age.
    label_lines: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    # Products and kinds of approval for which the law asks a formula or an approval.
    formula_for: tuple[str, ...] = ()
    recipes: Mapping[str, Recipe] = field(default_factory=dict)  # twins among them
    welcome_drink: WelcomeDrink = WelcomeDrink.ALCOHOL_FREE
    opening: tuple[OpeningHours, ...] = ()  # empty: open at all hours of every day
    usual_id: str = ID_KINDS[0]  # what most guests show at check-in
    tickets: tuple[TicketKind, ...] = ()  # in the order in which they are offered
    trusted_proxy: TrustedProxy | None = None
    images: HouseImages = field(default_factory=HouseImages)
    access_log: str | None = None  # "-" for the console, else a file; None for no log
    demo_clock: DemoClock | None = None  # None where the computer's clock is the site's

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes of the languages, the one to fall back on first."""
        return tuple(known.code for known in self.languages)

    @property
    def volume_unit(self) -> str:
        """The unit in which a pour is typed, as `parse_volume_ul` reads it."""
        return "fl oz" if self.units is Units.US else "mL"

    @property
    def ticket_kinds(self) -> tuple[str, ...]:
        """The kinds of tickets of the house: those that it lists, then those that only its rules name."""
        by_rules = (kind for limit in self.policy.limits for kind in limit.tickets)
        return tuple(dict.fromkeys((*(ticket.id for ticket in self.tickets), *by_rules)))

    @property
    def gives_prices(self) -> bool:
        """Whether there is a price to show to guests."""
        prices = [ticket.price for ticket in self.tickets]
        return any(price is not None for price in (*prices, *(one.price for one in self.products.values())))

    def ticket_name(self, kind: str, language: str) -> str:
        """Return what a language calls a kind of ticket; the kind itself where the house gives no name."""
        named = next((ticket.names for ticket in self.tickets if ticket.id == kind), {})
        return named.get(language, kind)

    def language(self, code: str) -> Language | None:
        """Return a language of the site by its code, or None."""
        return next((known for known in self.languages if known.code == code), None)

    def room_name(self, room: str, language: str) -> str:
        """Return what a language calls a room; its id in readable form where the site gives no name."""
        return self.room_names.get(room, {}).get(language) or readable_code(room)

    def keyed_hash(self, use: str, text: str) -> str:
        """Return what is kept in place of a token of one use: its hash under the secret, 64 hex digits."""
        return hmac.digest(self.secret, f"{use}:{text}".encode(), "sha256").hex()

    def local(self, at: datetime) -> datetime:
        """Return an instant on the site's own clock."""
        return at.astimezone(self.zone)

    def service_day(self, at: datetime) -> date:
        """Return the service day of an instant: the day turns at `day_starts`."""
        today = self.local(at).date()
        # Compared in UTC: two times of one zone are compared by the clock's face, which repeats.
        begun = at.astimezone(UTC) >= self.day_bounds(today)[0].astimezone(UTC)
        return today if begun else today - timedelta(days=1)

    def oldest_kept(self, now: datetime) -> date:
        """Return the earliest service day of which personal values are still kept."""
        return self.service_day(now) - timedelta(days=self.retention_days)

    def day_bounds(self, day: date) -> tuple[datetime, datetime]:
        """Return the first instant of a service day and of the next one."""
        start = datetime.combine(day, self.day_starts, self.zone)
        return start, datetime.combine(day + timedelta(days=1), self.day_starts, self.zone)

    def welcomes_without_alcohol(self, recipe: Recipe) -> bool:
        """Return whether a welcome drink is served on arrival to everyone without alcohol."""
        return recipe.twin is None or self.welcome_drink is WelcomeDrink.ALCOHOL_FREE

    def opening_of(self, day: date) -> tuple[tuple[datetime, datetime], ...]:
        """Return when the house opens and closes on a service day, in order; empty for a day it is closed.

        A house without opening hours is open for the whole service day.
        """
        if not self.opening:
            return (self.day_bounds(day),)
        of_day = [hours for hours in self.opening if day.weekday() in hours.days]
        return tuple(sorted((self._at(day, one.opens), self._closing(day, one)) for one in of_day))

    def _at(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at, self.zone)

    def _closing(self, day: date, hours: OpeningHours) -> datetime:
        past_midnight = hours.closes <= hours.opens
        return self._at(day + timedelta(days=1) if past_midnight else day, hours.closes)
