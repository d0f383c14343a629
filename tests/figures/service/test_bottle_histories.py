"""Over random histories with every correction, in any order of arrival, a bottle adds up."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.service.bottles import Bottle, BottleEntry, account, by_pour
from kiosk.figures.service.servings import Pour, PourMark, counted

START = datetime(2026, 6, 16, 13, 0, tzinfo=UTC)
CORRECTIONS = ("void", "not_served", "cleared", "seated", "reassign", "unfinished", "finished")
TOLD = ("spill", "house_use", "weigh", "break", "close")
BOTTLE = Bottle(750, 0.948, 40.0)


def key(n: int) -> str:
    return f"{n:032x}"


def at(minute: int) -> datetime:
    return START + timedelta(minutes=minute)


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[Pour], list[PourMark], list[BottleEntry]]:
    """Draw pours for guests and at places, corrections of any kind, and what was told of the bottle."""
    pours, marks = [], []
    for n in range(draw(st.integers(0, 14))):
        guest = draw(st.sampled_from([None, 1, 2, 3]))
        volume = draw(st.sampled_from([7393, 14786, 25_000]))
        pours.append(Pour(key(n), at(draw(st.integers(0, 200))), guest, 1, "blanco", volume, 4000))
        for _ in range(draw(st.integers(0, 3))):
            kind = draw(st.sampled_from(CORRECTIONS))
            to = draw(st.sampled_from([1, 2, 3])) if kind in ("seated", "reassign") else None
            marks.append(PourMark(key(1000 + len(marks)), at(draw(st.integers(0, 260))), key(n), kind, to))
    entries = [BottleEntry(key(5000), at(0), "open", gross_g=1211)]
    for n in range(draw(st.integers(0, 6))):
        kind = draw(st.sampled_from(TOLD))
        gross = draw(st.integers(495, 1300)) if kind in ("weigh", "close") else None
        volume = draw(st.integers(0, 60_000)) if kind in ("spill", "house_use") else None
        entries.append(BottleEntry(key(5001 + n), at(draw(st.integers(1, 260))), kind, gross, 25.0, volume))
    return pours, marks, entries


@given(histories(), st.integers(0, 2**32))
def test_a_bottle_adds_up_in_any_order_of_arrival(
    history: tuple[list[Pour], list[PourMark], list[BottleEntry]], seed: int
) -> None:
    pours, marks, entries = history
    told = account(BOTTLE, entries, by_pour(pours, marks))
    parts = told.served_ul + told.cleared_ul + told.preset_ul + told.spilt_ul + told.house_use_ul
    assert parts + told.left_ul == 750_000
    shuffled = [list(pours), list(marks), list(entries)]
    for part in shuffled:
        random.Random(seed).shuffle(part)
    assert account(BOTTLE, shuffled[2], by_pour(shuffled[0], shuffled[1])) == told


@given(histories())
def test_the_guests_counts_sum_to_what_was_served(
    history: tuple[list[Pour], list[PourMark], list[BottleEntry]],
) -> None:
    """The count of the guests is another fold than the bottle's: both must tell the same."""
    pours, marks, entries = history
    told = account(BOTTLE, entries, by_pour(pours, marks))
    assert sum(one.volume_ul for one in counted(pours, marks)) == told.served_ul
    undone = {m.pour_key for m in marks if m.kind in ("void", "not_served", "cleared")}
    seats = {m.pour_key for m in marks if m.kind in ("seated", "reassign")}
    by_hand = [p.volume_ul for p in pours if p.key not in undone and (p.guest_id or p.key in seats)]
    assert told.served_ul == sum(by_hand)


@given(histories())
def test_what_is_weighed_and_believed_only_goes_down(
    history: tuple[list[Pour], list[PourMark], list[BottleEntry]],
) -> None:
    _pours, _marks, entries = history
    told = account(BOTTLE, entries, [])
    in_order = sorted((e.at, e.key, e.gross_g, e.key in told.findings) for e in entries if e.gross_g)
    believed = [gross for _at, _key, gross, doubted in in_order if not doubted]
    assert all(after <= before + 1 for before, after in pairwise(believed))
    assert told.level_ul >= 0


@given(histories())
def test_between_weighings_a_level_never_rises(
    history: tuple[list[Pour], list[PourMark], list[BottleEntry]],
) -> None:
    pours, marks, entries = history
    entries = [e for e in entries if e.kind in ("open", "spill", "house_use", "break")]
    fated = by_pour(pours, marks)
    moments = sorted({e.at for e in entries} | {p.at for p in pours})
    levels = []
    for moment in moments:
        known = [e for e in entries if e.at <= moment]
        levels.append(account(BOTTLE, known, [one for one in fated if one[0].at <= moment]).level_ul)
    assert levels == sorted(levels, reverse=True)
