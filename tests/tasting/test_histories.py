"""Random shifts through the intake of entries, in any order of arrival: everything adds up, everywhere alike.

Each history is made once and handed in twice, to two databases, in two orders, some
rows more than once. A correction comes after its pour, as a queue sends it; nothing
else is kept in order. What guests, bottles, room, closing and judgement tell is then
held against each other and against a fold written here, of the rows as they were sent.
"""

from __future__ import annotations

import random
import shutil
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from kiosk.app import entry_kinds
from kiosk.entries.intake import Sender, take_in_entries
from kiosk.store import ledgers
from kiosk.store.engine import open_store
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.tasting.room.corrections import GIVING_BACK
from kiosk.tasting.rules.judging import judge
from kiosk.tasting.shift_closing import closing
from tests.bar import looked_at, opened, told
from tests.databases import sqlite_url
from tests.tasting_room import HALF_UL, QUARTER_UL, Tasting, tasting_site

Row = dict[str, Any]
GUESTS = 4
GLASSES = ("blanco", "anejo", "jengibre")
UNDONE = ("void", "not_served", "cleared")
PLACES = 3


def history(rng: random.Random, start: datetime) -> list[list[Row]]:
    """Return chains of rows: a pour, then what was said of it later, or marks of a guest.

    Guests are numbered from 1 as the databases of the test number them.
    """
    chains: list[list[Row]] = []
    for n in range(40):
        at = start + timedelta(seconds=rng.randrange(3 * 3600))
        glass, size = rng.choice(GLASSES), rng.choice([QUARTER_UL, HALF_UL])
        pour = row(
            "pours", n, at, guest=1 + rng.randrange(GUESTS), product=glass, volume_ul=size, asked=False
        )
        chains.append([pour, *corrections(rng, n, pour["key"], at)])
    for n in range(12):
        at = start + timedelta(seconds=rng.randrange(3 * 3600))
        kind = rng.choice(
            ["no_alcohol", "no_alcohol_lifted", "service_stopped", "gone", "back", "under_age", "liked"]
        )
        chains.append([row("marks", 900 + n, at, guest=1 + rng.randrange(GUESTS), kind=kind)])
    return chains


def corrections(rng: random.Random, n: int, pour: str, at: datetime) -> list[Row]:
    found = []
    for m in range(rng.choice([0, 0, 0, 1, 1, 2, 3])):
        kind = rng.choice(["void", "not_served", "cleared", "unfinished", "finished", *["reassign"] * 5])
        later = at + timedelta(seconds=rng.randrange(1, 19 if kind == "void" else 1200))
        to: dict[str, object] = {"guest": 1 + rng.randrange(GUESTS)} if kind == "reassign" else {}
        to |= {"reason": "not_taken"} if kind in GIVING_BACK else {}
        found.append(row("pour_marks", 100 + 10 * n + m, later, pour=pour, kind=kind, **to))
    return found


def row(ledger: str, n: int, at: datetime, **values: Any) -> Row:
    return {"ledger": ledger, "key": f"{n:032x}", "at": at.isoformat(), **values}


def arrival(rng: random.Random, chains: Sequence[Sequence[Row]]) -> Iterator[Row]:
    """Yield the rows of all chains mixed, each pour before what was said of it, one in five sent twice."""
    left = [[first, *rng.sample(later, len(later))] for first, *later in chains]
    while left:
        chain = rng.choice(left)
        sent = chain.pop(0)
        yield sent
        if rng.random() < 0.2:
            yield sent
        if not chain:
            left.remove(chain)


@contextmanager
def shift(folder: Path, template: Path, now: datetime) -> Iterator[Tasting]:
    """A room with three open bottles, one of them closed and followed by another half way."""
    folder.mkdir()
    store = open_store(sqlite_url(Path(shutil.copy(template, folder / "kiosk.sqlite"))))
    tasting = Tasting.begun(store, tasting_site(folder), now, guests=GUESTS)
    tasting.check(*tasting.guests[:3])
    bottles = [opened(tasting, name, gross_g=None) for name in GLASSES]
    half = now + timedelta(minutes=90)
    told(tasting, bottles[0], "close", at=half)
    bottles.append(opened(tasting, "blanco", gross_g=None, at=half + timedelta(seconds=1)))
    told(tasting, bottles[1], "spill", volume_ul=5000, at=half)
    told(tasting, bottles[2], "house_use", volume_ul=7000, used_by=tasting.bea, at=half)
    tasting.bottles = bottles  # type: ignore[attr-defined]
    tasting.now = now + timedelta(hours=4)
    preset_glasses(tasting, now)
    yield tasting
    store.close()


def preset_glasses(tasting: Tasting, now: datetime) -> None:
    """Pour for three seats, seat a guest at the first, clear the second, leave the third."""
    with tasting.store.write() as session:
        for n in range(PLACES):
            at = now + timedelta(minutes=n)
            common = {"at": at, "recorded_at": at, "by": tasting.ana, "device_id": tasting.tablet}
            glass = {"seat": f"P{n}", "tour_id": tasting.tour, "product": "blanco", "volume_ul": QUARTER_UL}
            glass |= {"abv_e2": 4000, "neat": True, "asked": True, "server_checked": True}
            glass |= {"policy_key": "", "clock_ms": 0, "bottle_id": tasting.bottles[0]}  # type: ignore[attr-defined]
            ledgers.append(session, pours, {"key": f"{800 + n:032x}", **common, **glass})
        for n, kind in enumerate(("seated", "cleared")):
            said = {"pour_key": f"{800 + n:032x}", "kind": kind, "guest_id": 1 if kind == "seated" else None}
            said["server_checked"] = True
            common["at"] = now + timedelta(minutes=10)
            ledgers.append(session, pour_marks, {"key": f"{810 + n:032x}", **common, **said})


def handed_in(tasting: Tasting, rows: Iterator[Row]) -> set[str]:
    sender = Sender(tasting.tablet, person_id=tasting.ana, roles=frozenset({"manager"}))
    answers = take_in_entries(
        tasting.store, tasting.site, entry_kinds(), lambda *_: sender, list(rows), tasting.now
    )
    return {answer.outcome for answer in answers}


def everything(tasting: Tasting) -> dict[str, Any]:
    """Return what each part of the house tells of the shift."""
    since, until = tasting.site.day_bounds(tasting.site.service_day(tasting.now))
    with tasting.store.read() as session:
        body = closing.body(session, tasting.site, "main", tasting.site.service_day(tasting.now), 20.0)
        verdicts = judge(session, tasting.site, since, until)
    for one in body["products"]:  # codes of bottles are made up anew for each database
        one["not_weighed"] = len(one["not_weighed"])
    tiles = tasting.room().tiles
    return {
        "closing": body,
        "verdicts": [(one.served, one.reasons) for one in verdicts],
        "tiles": [(one.number, one.state, one.gone, one.had, one.samples, one.last) for one in tiles],
        "bottles": [looked_at(tasting, bottle).account() for bottle in tasting.bottles],  # type: ignore[attr-defined]
    }


def by_hand(chains: Sequence[Sequence[Row]]) -> dict[int, list[int]]:
    """Return the volumes that each guest was served, from the rows as they were sent."""
    found: dict[int, list[int]] = defaultdict(list)
    found[1].append(QUARTER_UL)  # the seat at which a guest sat down
    for pour, *later in (chain for chain in chains if chain[0]["ledger"] == "pours"):
        if any(said["kind"] in UNDONE for said in later):
            continue
        # A glass is moved when the server takes the entry in: here all in one moment, in order of their keys.
        moves = sorted((s["key"], s["guest"]) for s in later if s["kind"] == "reassign")
        found[moves[-1][1] if moves else pour["guest"]].append(pour["volume_ul"])
    return found


@pytest.mark.parametrize("seed", range(12))
def test_every_part_of_the_house_tells_the_same_in_any_order_of_arrival(
    sqlite_template: Path, tmp_path: Path, now: datetime, seed: int
) -> None:
    chains = history(random.Random(seed), now)
    told = []
    for order in (1, 2):
        with shift(tmp_path / str(order), sqlite_template, now) as tasting:
            outcomes = handed_in(tasting, arrival(random.Random(seed + 1000 * order), chains))
            assert outcomes == {"poured", "corrected", "marked"}
            told.append(everything(tasting))
    assert told[0] == told[1]
    adds_up(told[0], by_hand(chains))


def adds_up(told: dict[str, Any], served: dict[int, list[int]]) -> None:
    """Hold bottles, guests, room, closing and judgement against each other and against the rows."""
    for one in told["bottles"]:
        parts = one.served_ul + one.cleared_ul + one.preset_ul + one.spilt_ul + one.house_use_ul
        assert parts + one.left_ul == one.size_ul
    total = sum(map(sum, served.values()))
    assert sum(one.served_ul for one in told["bottles"]) == total
    assert sum(one.preset_ul for one in told["bottles"]) == QUARTER_UL
    assert {number: n for number, _, _, _, n, _ in told["tiles"] if n} == {
        g: len(v) for g, v in served.items()
    }
    verdicts = [one for one, _reasons in told["verdicts"]]
    assert sum(one.volume_ul for one in verdicts) == total
    body = told["closing"]
    assert (body["pours"], body["guests_served"]) == (len(verdicts), len(served))
    assert sum(one["pours"] for one in body["servers"]) == len(verdicts)
    assert sum(one["volume_ul"] for one in body["servers"]) == total
    assert body["breaches"]["servings"] == sum(bool(reasons) for _one, reasons in told["verdicts"])
