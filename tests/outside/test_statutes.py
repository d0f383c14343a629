"""Tasting laws written as a site's settings, in `content/laws`, and tried at their edges.

Citation and year stand in each file. "Read" is the issuing body's own text,
"copy" a page that quotes it, "from memory" neither. Law changes: these prove that
the rules can say what statutes say, not what any of them says today. How many
bottles may be sold is none of the rules' business.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Guest,
    Offer,
    Part,
    Room,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    born_on_or_before,
    decide,
    parse_volume,
    parse_volume_ul,
    serving,
    standard_drinks,
)
from tests.site.policies import policy_from

LAWS = Path(__file__).parents[2] / "content" / "laws"
ZONE = ZoneInfo("Etc/GMT+4")
SEVEN = datetime(2026, 6, 16, 7, tzinfo=ZONE)  # a Tuesday; the service day of OAR 845-006-0452 begins
NOON = SEVEN + timedelta(hours=5)
AS_READ = 2026  # the year in which a text without a year of its own was read


@dataclass(frozen=True)
class Row:
    """A law's words as settings; `last` samples of `size` are lawful, one more is refused by `by`."""

    place: str
    file: str
    size: str = "0.5 fl oz"
    last: int = 0  # 0: the text bounds no day
    by: tuple[str, ...] = ()
    too_large: tuple[str, str] = ("", "")  # a size, and the limit that refuses it
    server: Server = field(default_factory=lambda: Server(1))
    ticket: str = ""

    @property
    def table(self) -> dict[str, Any]:
        """Its `[service]`, as it would stand in `site.toml`."""
        with (LAWS / f"{self.file}.toml").open("rb") as file:
            read = tomllib.load(file)["service"]
        return {"limit": [], **read}


CLASS_12 = Server(1, permits=("class-12",))

ROWS = [
    Row(
        "Washington", "washington", last=4, by=("day",), too_large=("0.75 fl oz", "largest"), server=CLASS_12
    ),
    Row(
        "Washington, neat only",
        "washington-neat-only",
        last=4,
        by=("day",),
        too_large=("2.5 fl oz", "day"),
        server=CLASS_12,
    ),
    Row(
        "California of 2014",
        "california-of-2014",
        size="0.25 fl oz",
        last=6,
        by=("pours", "day"),
        too_large=("0.5 fl oz", "largest"),
        server=Server(1, age=21),
    ),
    Row(
        "California, later",
        "california-later",
        last=3,
        by=("day",),
        too_large=("1.75 fl oz", "day"),
        server=Server(1, age=21),
    ),
    Row("Kentucky", "kentucky", size="0.25 fl oz", last=7, by=("day",), too_large=("2 fl oz", "day")),
    Row(
        "Kentucky before 2016",
        "kentucky-before-2016",
        last=2,
        by=("pours",),
        too_large=("0.75 fl oz", "largest"),
    ),
    Row(
        "South Carolina",
        "south-carolina",
        last=9,
        by=("day",),
        too_large=("5 fl oz", "day"),
        ticket="4.5 fl oz",
    ),
    Row("Maryland", "maryland", last=3, by=("pours", "day"), too_large=("0.75 fl oz", "largest")),
    Row("New Jersey", "new-jersey", last=3, by=("pours", "day"), too_large=("0.75 fl oz", "largest")),
    Row("Nevada", "nevada", last=8, by=("day",), too_large=("4.5 fl oz", "day")),
    Row("Nevada, earlier", "nevada-earlier", last=4, by=("day",), too_large=("2.5 fl oz", "day")),
    Row("Georgia of 2012", "georgia-of-2012", last=1, by=("pours", "day"), too_large=("0.75 fl oz", "day")),
    Row("Georgia", "georgia", last=3, by=("day",), too_large=("2 fl oz", "day")),
    Row("Oregon", "oregon"),
    Row("Pennsylvania", "pennsylvania", last=3, by=("day",), too_large=("2 fl oz", "day")),
    Row("Virginia", "virginia", last=6, by=("day",), too_large=("1 fl oz", "largest")),
    Row("Puerto Rico", "puerto-rico"),
    Row("United Kingdom, a house of 25 mL", "united-kingdom-25", size="25 mL", too_large=("30 mL", "sizes")),
    Row("United Kingdom, a house of 35 mL", "united-kingdom-35", size="35 mL", too_large=("30 mL", "sizes")),
    Row("Ireland", "ireland", size="35.5 mL", too_large=("35 mL", "sizes")),
    Row("Spain", "spain"),
    Row("Australia", "australia", server=Server(1, permits=("rsa",))),
]
BOUND = [row for row in ROWS if row.last]
TOURS = [row for row in ROWS if any(limit.get("tour") for limit in row.table["limit"])]
OWN_ONLY = [row for row in ROWS if row.table.get("own_only")]


def rules(row: Row) -> ServicePolicy:
    return policy_from(row.table, STANDARD_DRINKS["US"])


def room(day_from: datetime = SEVEN) -> Room:
    return Room("main", day_from, day_from + timedelta(days=1), ZONE)


def toured(row: Row, visit: int = 1, *, at: datetime = SEVEN, **more: Any) -> Guest:
    """Return a guest of age whose tour has begun, and ended where the text wants it over."""
    ended = at if wants_it_over(row) else None
    return Guest(ServiceState.MAY_BE_SERVED, visit, at, ended, **more)


def wants_it_over(row: Row) -> bool:
    return any(limit.get("tour") == "after" for limit in row.table["limit"])


def sample(size: str, product: str = "own-rum", **more: Any) -> Offer:
    return Offer(product, parse_volume_ul(size, round_up=False), 4000, **more)


def asked(row: Row, offer: Offer, had: list[Served], now: datetime, **more: Any) -> tuple[str, ...]:
    given = {"guest": toured(row, ticket=row.ticket), "server": row.server, "room": room(), **more}
    return decide(rules(row), given["guest"], had, given["server"], given["room"], now, offer).reasons


def served(n: int, at: datetime, offer: Offer, visit: int = 1) -> Served:
    return Served(f"{n:032x}", at, 1, visit, offer.product, offer.volume_ul, offer.abv_e2, offer.neat)


def filled(row: Row) -> list[Served]:
    """Ask for sample after sample of different products from noon on; each is granted."""
    had: list[Served] = []
    for n in range(row.last):
        offer, now = sample(row.size, f"own-{n}"), NOON + timedelta(minutes=n)
        assert asked(row, offer, had, now) == (), (row.place, n)
        had.append(served(n, now, offer))
    return had


def by_place(rows: list[Row]) -> Any:
    return pytest.mark.parametrize("row", rows, ids=lambda row: row.place)


@by_place(ROWS)
def test_every_row_is_expressed_whole_and_a_lawful_sample_granted(row: Row) -> None:
    assert {limit.id for limit in rules(row).limits} == {limit["id"] for limit in row.table["limit"]}
    assert row.table["basis"]
    assert 1980 < row.table["year"] <= AS_READ
    assert asked(row, sample(row.size), [], NOON) == ()


@by_place(BOUND)
def test_the_last_lawful_sample_is_granted_and_the_next_refused(row: Row) -> None:
    had = filled(row)
    assert asked(row, sample(row.size, "own-next"), had, NOON + timedelta(hours=1)) == row.by


@by_place([row for row in ROWS if row.too_large[0]])
def test_a_larger_glass_is_refused(row: Row) -> None:
    size, limit = row.too_large
    assert limit in asked(row, sample(size), [], NOON)


@by_place(BOUND)
def test_the_day_turns_at_seven(row: Row) -> None:
    """OAR 845-006-0452 runs a day from 7:00; a house says so by when its service day starts."""
    had, open_all_day = filled(row), replace(rules(row), hours=())
    next_seven = SEVEN + timedelta(days=1)
    next_guest = toured(row, 2, at=SEVEN, ticket=row.ticket)

    def reasons(now: datetime, day_from: datetime) -> tuple[str, ...]:
        offer = sample(row.size, "own-next")
        return decide(open_all_day, next_guest, had, row.server, room(day_from), now, offer).reasons

    assert reasons(next_seven - timedelta(microseconds=1), SEVEN)
    assert reasons(next_seven, next_seven) == ()


@by_place(TOURS)
def test_where_the_text_wants_a_tour_nothing_is_granted_without(row: Row) -> None:
    after = wants_it_over(row)
    never = Guest(ServiceState.MAY_BE_SERVED, 1)
    later = replace(never, tour_started_at=NOON + timedelta(seconds=1))
    begun = replace(never, tour_started_at=NOON)
    over = replace(begun, tour_ended_at=NOON)
    offer = sample(row.size)
    assert [asked(row, offer, [], NOON, guest=guest) for guest in (never, later, begun, over)] == [
        ("tour",),
        ("tour",),
        ("tour",) if after else (),
        () if after else ("tour",),
    ]


@by_place(OWN_ONLY)
def test_where_the_text_wants_own_make_nothing_else_is_granted(row: Row) -> None:
    assert asked(row, sample(row.size, own=False), [], NOON) == ("not_own",)


@by_place([row for row in ROWS if row.server != Server(1)])
def test_where_the_text_wants_an_age_or_a_permit_of_servers_another_is_refused(row: Row) -> None:
    reason = "server_permit" if row.table.get("server_permit") else "server_age"
    assert asked(row, sample(row.size), [], NOON, server=Server(1, age=20, permits=("other",))) == (reason,)


@by_place(ROWS)
def test_nobody_who_was_stopped_is_served_anywhere(row: Row) -> None:
    # NSW Liquor Act 2007 s 5, OAR 845-006-0452: nobody visibly intoxicated
    stopped = replace(toured(row), state=ServiceState.SERVICE_STOPPED)
    assert "service_stopped" in asked(row, sample(row.size), [], NOON, guest=stopped)


def named(place: str) -> Row:
    return next(row for row in ROWS if row.place == place)


def test_washington_of_2024_caps_neat_spirits_and_leaves_mixed_ones() -> None:
    row = named("Washington, neat only")
    had = filled(row)
    mixed = serving([Part("own-rum", 14_786, 4000), Part("juice", 90_000)]).offer("punch")
    assert asked(row, mixed, had, NOON) == ()
    assert asked(named("Washington"), mixed, had, NOON) == ("day",)


def test_california_of_2014_pours_no_cocktails() -> None:
    mixed = serving([Part("own-rum", 7393, 4000), Part("soda", 60_000)]).offer("highball")
    two_spirits = serving([Part("own-rum", 3000, 4000), Part("own-gin", 3000, 4000)]).offer("pair")
    for offer in (mixed, two_spirits):
        assert asked(named("California of 2014"), offer, [], NOON) == ("neat_only",)


def test_south_carolina_grants_zero_alcohol_mixers_and_counts_the_spirit_only() -> None:
    offer = serving([Part("own-rum", 14_786, 4000), Part("lime", 100_000)]).offer("sour")
    had = [served(n, NOON, offer) for n in range(8)]
    assert asked(named("South Carolina"), offer, had, NOON) == ()
    assert asked(named("South Carolina"), offer, [*had, served(8, NOON, offer)], NOON) == ("day",)


@pytest.mark.parametrize(("ticket", "last"), [("1 fl oz", 2), ("1.5 fl oz", 3), ("2 fl oz", 4), ("", 2)])
def test_south_carolinas_price_steps_bound_each_ticket_and_an_unknown_one_by_the_least(
    ticket: str, last: int
) -> None:
    row, offer = named("South Carolina"), sample("0.5 fl oz")
    guest = toured(row, ticket=ticket)
    had = [served(n, NOON, offer) for n in range(last)]
    assert asked(row, offer, had[:-1], NOON, guest=guest) == ()
    assert asked(row, offer, had, NOON, guest=guest)[0].startswith("step_")


def test_south_carolina_grants_one_tasting_a_day() -> None:
    row, offer = named("South Carolina"), sample("0.5 fl oz")
    had = [served(0, NOON, offer, visit=1)]
    assert asked(row, offer, had, NOON, guest=toured(row, 1, ticket=row.ticket)) == ()
    assert asked(row, offer, had, NOON, guest=toured(row, 2, ticket=row.ticket)) == ("tasting",)


@pytest.mark.parametrize(
    ("at", "granted"),
    [
        (NOON.replace(hour=9), True),
        (NOON.replace(hour=8, minute=59, second=59), False),
        (NOON.replace(hour=18, minute=59, second=59), True),
        (NOON.replace(hour=19), False),
        (NOON + timedelta(days=4), True),  # Saturday
        (NOON + timedelta(days=5), False),  # Sunday
    ],
)
def test_south_carolina_pours_from_nine_to_seven_monday_to_saturday(at: datetime, granted: bool) -> None:
    reasons = asked(named("South Carolina"), sample("0.5 fl oz"), [], at, room=room(at.replace(hour=7)))
    assert reasons == (() if granted else ("hours",))


def test_maryland_grants_one_sample_of_each_product() -> None:
    row = named("Maryland")
    had = [served(0, NOON, sample("0.5 fl oz", "own-rum"))]
    assert asked(row, sample("0.5 fl oz", "own-rum"), had, NOON) == ("each",)
    assert asked(row, sample("0.5 fl oz", "own-gin"), had, NOON) == ()


@pytest.mark.parametrize(
    ("at", "granted"),
    [
        (SEVEN - timedelta(seconds=1), False),
        (SEVEN, True),
        (SEVEN.replace(hour=2, minute=29), True),
        (SEVEN.replace(hour=2, minute=30), False),
    ],
)
def test_oregons_day_runs_from_seven_to_half_past_two(at: datetime, granted: bool) -> None:
    begun = at.replace(hour=7, minute=0, second=0) - timedelta(days=at.hour < 7)
    reasons = asked(named("Oregon"), sample("0.5 fl oz"), [], at, room=room(begun))
    assert reasons == (() if granted else ("hours",))


def test_oregon_pours_in_the_identified_area_only() -> None:
    elsewhere = replace(room(), id="car-park")
    assert asked(named("Oregon"), sample("0.5 fl oz"), [], NOON, room=elsewhere) == ("room",)


@pytest.mark.parametrize(
    ("house", "size", "granted"),
    [
        ("25 mL", "50 mL", True),
        ("25 mL", "75 mL", True),
        ("25 mL", "35 mL", False),  # one size in a house
        ("25 mL", "20 mL", False),
        ("35 mL", "70 mL", True),
        ("35 mL", "25 mL", False),
        ("35 mL", "50 mL", False),
    ],
)
def test_the_united_kingdom_pours_one_size_or_multiples_of_it(house: str, size: str, granted: bool) -> None:
    row = named(f"United Kingdom, a house of {house}")
    assert asked(row, sample(size), [], NOON) == (() if granted else ("sizes",))


def test_the_united_kingdom_frees_mixes_of_three_liquids() -> None:
    row = named("United Kingdom, a house of 25 mL")
    two = [Part("own-rum", 20_000, 4000), Part("cola", 100_000)]
    three = [*two, Part("lime", 5000)]
    with_ice = [*two, Part("ice", 50_000, liquid=False)]
    assert asked(row, serving(two).offer("long"), [], NOON) == ("sizes",)
    assert asked(row, serving(with_ice).offer("long"), [], NOON) == ("sizes",)
    assert asked(row, serving(three).offer("long"), [], NOON) == ()


@pytest.mark.parametrize(
    ("place", "born"),
    [("Puerto Rico", date(2008, 6, 16)), ("Spain", date(2008, 6, 16)), ("Nevada", date(2005, 6, 16))],
)
def test_the_age_is_the_places_own(place: str, born: date) -> None:
    assert born_on_or_before(NOON.date(), rules(named(place)).guest_age) == born


# the last column of the table of statutes: the day's cap in US drinks at 40 %, computed
CAPS = [
    ("2 fl oz", "1.33"),
    ("1.5 fl oz", "1.0"),
    ("1.75 fl oz", "1.17"),
    ("4.5 fl oz", "3.0"),
    ("4 fl oz", "2.67"),
    ("0.5 fl oz", "0.33"),
    ("3 fl oz", "2.0"),
]


@pytest.mark.parametrize(("cap", "drinks"), CAPS)
def test_a_days_cap_in_us_drinks_at_40_percent(cap: str, drinks: str) -> None:
    exact = standard_drinks(parse_volume(cap) / 1000, 40, STANDARD_DRINKS["US"])
    assert float(exact) == pytest.approx(float(drinks), abs=0.005)
