"""The script of the room decides as the rules do: cases made by Python, judged by both."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    EACH_PRODUCT,
    Guest,
    Kind,
    Limit,
    Offer,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    allowance,
    cost,
    decide,
)
from kiosk.tasting.room.state import allowance_data, cost_data
from tests.browser.conftest import TABLET, Open
from tests.browser.conftest import Served as ServedDemo
from tests.figures.service_day import NOON, ROOM, served

pytestmark = pytest.mark.browser

CASES, PRESSES = 3_000, 8
PRODUCTS = ("blanco", "anejo", "reserva")
SIZES_UL = (3_696, 7_393, 14_786, 29_573, 15_000)
SERVER = Server(1)

JUDGE = """async ({ cases }) => {
    const { fits, spend } = await import("/static/js/room/allowance.js");
    const wrong = [];
    for (const one of cases) {
        for (const { at, glass, why } of one.presses) {
            const own = [...new Set(fits(one.allowance, glass, at))].sort();
            if (own.join() !== why.join()) wrong.push({ case: one.n, at, own, why });
            if (why.length === 0) spend(one.allowance, glass, at);
        }
    }
    return wrong;
}"""


def limits(pick: random.Random) -> Iterator[Limit]:
    """Draw limits of every kind that the rules know, each for a day, a visit or a window."""
    for n in range(pick.randint(1, 4)):
        kind = pick.choice([Kind.VOLUME, Kind.POURS, Kind.DRINKS, Kind.GLASSES, Kind.GAP, Kind.LARGEST])
        most = {
            Kind.VOLUME: pick.choice([22_180, 44_361, 60_000, 29_574]),
            Kind.DRINKS: pick.choice([88_720_589, 177_441_178, 354_882_355]),
            Kind.GAP: pick.choice([300, 900, 1_800]),
            Kind.LARGEST: pick.choice([14_787, 29_574]),
        }.get(kind, pick.randint(1, 6))
        per: Any = pick.choice(["day", "visit", 30, 60, 180])
        per = {Kind.LARGEST: "pour", Kind.GAP: "day"}.get(kind, per)
        plain = kind is Kind.GAP
        yield Limit(
            f"{kind}_{n}",
            kind,
            per,
            most=most,
            product=ANY_PRODUCT if plain else pick.choice([ANY_PRODUCT, ANY_PRODUCT, EACH_PRODUCT, "anejo"]),
            neat_only=not plain and pick.random() < 0.2,
            tour="" if pick.random() < 0.8 else "with",
            basis="house",
            year=2026,
            tickets=("short",) if kind in (Kind.VOLUME, Kind.POURS) and pick.random() < 0.15 else (),
        )


def offer(pick: random.Random) -> Offer:
    strength = pick.choice([0, 2_400, 4_000, 4_000, 4_200])
    return Offer(
        pick.choice(PRODUCTS),
        pick.choice(SIZES_UL),
        strength,
        neat=pick.random() < 0.8,
        approved=pick.random() < 0.95,
        liquids=pick.choice([1, 1, 2]),
    )


def case(n: int, pick: random.Random) -> dict[str, Any]:
    """Return an allowance and presses after it, each with the reasons that the rules give."""
    rules = ServicePolicy(21, "house", 2026, tuple(limits(pick)), mixers=pick.random() < 0.9)
    states = [ServiceState.MAY_BE_SERVED] * 6 + list(ServiceState)
    started = NOON - timedelta(hours=1) if pick.random() < 0.7 else None
    guest = Guest(
        pick.choice(states), 1, started, None, pick.random() < 0.05, pick.choice(["", "short", "long"])
    )
    had = sorted(NOON - timedelta(minutes=pick.randint(0, 240)) for _ in range(pick.randint(0, 4)))
    pours: list[Served] = [served(k, at, offer(pick)) for k, at in enumerate(had)]
    given = allowance(rules, guest, pours, SERVER, ROOM, NOON)
    presses, at = [], NOON
    for k in range(PRESSES):
        at += timedelta(seconds=pick.choice([20, 60, 300, 900, 1_800, 2_400]))
        asked = offer(pick)
        why = sorted(set(decide(rules, guest, pours, SERVER, ROOM, at, asked).reasons))
        presses.append({"at": _ms(at), "glass": cost_data(cost(rules, asked)), "why": why})
        if not why:
            pours.append(served(100 + k, at, asked))
    return {"n": n, "allowance": allowance_data(given), "presses": presses}


def _ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def judged(page: Page, seed: int, many: int) -> None:
    pick, granted, refused = random.Random(seed), 0, 0
    for first in range(0, many, 500):
        cases = [case(n, pick) for n in range(first, min(many, first + 500))]
        assert page.evaluate(JUDGE, {"cases": cases}) == []
        reasons = [press["why"] for one in cases for press in one["presses"]]
        granted, refused = granted + reasons.count([]), refused + len(reasons) - reasons.count([])
    assert min(granted, refused) > many  # both answers come up


def test_the_script_gives_the_reasons_that_the_rules_give(open_page: Open, demo: ServedDemo) -> None:
    page = open_page("en", TABLET)
    page.goto("/en/")
    judged(page, 20_261_201, CASES)


@pytest.mark.deep
def test_the_script_gives_the_reasons_that_the_rules_give_at_length(
    open_page: Open, demo: ServedDemo
) -> None:
    page = open_page("en", TABLET)
    page.goto("/en/")
    for seed in range(10):
        judged(page, seed, CASES)
