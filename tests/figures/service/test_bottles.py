"""A bottle's own tare and density, and a level that only ever goes down."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.service.bottles import (
    Bottle,
    BottleEntry,
    Fate,
    Finding,
    Weighed,
    account,
    density_at,
    fate,
    left_ml,
    plain_density_g_ml,
    rejection,
    tare_at_opening_g,
)
from kiosk.figures.service.servings import Pour, PourMark
from tests.figures.refusals import Call, refusal

START = datetime(2026, 6, 16, 13, 0, tzinfo=UTC)
QUARTER_UL = 7393
# A 28 % infusion with 150 g/L of sugar weighs about 1 022 g/L, ethanol and water of 28 % 964.6
# (computed with OIML R 22; the sugar's part from memory).
SWEET = Bottle(750, 1.022, 28.0)


def key(n: int) -> str:
    return f"{n:032x}"


def entry(n: int, kind: str, **values: object) -> BottleEntry:
    return BottleEntry(key(n), START + timedelta(minutes=n), kind, **values)  # type: ignore[arg-type]


def poured(n: int, volume_ul: int = QUARTER_UL, guest: int | None = 1) -> Pour:
    return Pour(key(n), START + timedelta(minutes=n), guest, 1, "blanco", volume_ul, 4000)


def test_the_density_of_plain_spirit_is_the_published_one() -> None:
    # OIML R 22 (1975), table: 40 % vol at 20 °C is 948.05 kg/m3; in g/mL to four places.
    assert plain_density_g_ml(40.0) == pytest.approx(0.9480, abs=1e-4)


def test_a_warm_room_thins_what_is_in_the_bottle() -> None:
    # 1 000 L of 63 % at 30 °C weigh as much as 991 L at 20 °C (computed with OIML R 22).
    assert density_at(0.9, 63.0, 30.0) == pytest.approx(0.9 * 0.991, abs=5e-4)
    assert density_at(1.022, 28.0, 20.0) == 1.022


def test_the_tare_is_the_full_bottles_weight_less_its_content() -> None:
    assert tare_at_opening_g(1266.5, 750, 1.022) == pytest.approx(500.0)
    with pytest.raises(FigureError) as refused:
        tare_at_opening_g(700.0, 750, 1.022)
    assert refused.value.reason == "lighter_than_content"
    assert refused.value.allowed == Bounds(766, unit="g", above=True)  # 750 mL of 1.022 g/mL


def test_an_infusion_weighed_as_plain_spirit_is_six_quarter_ounces_wrong() -> None:
    """Trade practice: 6 %, about 44 mL of a 750 mL bottle, six quarter-ounces of 7.39 mL (computed)."""
    right = left_ml(1266.5, 500.0, 1.022)
    wrong = left_ml(1266.5, 500.0, plain_density_g_ml(28.0))
    assert right == pytest.approx(750.0)
    assert wrong - right == pytest.approx(44.0, abs=1.0)


@pytest.mark.parametrize(
    ("guest", "kinds", "became"),
    [
        (1, [], Fate.SERVED),
        (None, [], Fate.PRESET),
        (None, ["seated"], Fate.SERVED),
        (None, ["cleared"], Fate.CLEARED),
        (1, ["not_served"], Fate.CLEARED),
        (1, ["void"], Fate.NOT_POURED),
        (1, ["reassign"], Fate.SERVED),
        (1, ["unfinished"], Fate.SERVED),
        (1, ["finished"], Fate.SERVED),
        (1, ["reassign", "not_served"], Fate.CLEARED),
    ],
)
def test_a_pour_becomes_one_thing(guest: int | None, kinds: list[str], became: Fate) -> None:
    marks = [
        PourMark(
            key(90 + n),
            START + timedelta(minutes=n),
            key(1),
            kind,
            2 if kind in ("seated", "reassign") else None,
        )
        for n, kind in enumerate(kinds)
    ]
    assert fate(poured(1, guest=guest), reversed(marks)) is became


def test_the_parts_of_a_bottle_add_up() -> None:
    pours = [(poured(n), Fate.SERVED) for n in range(10, 20)]
    pours += [(poured(20), Fate.CLEARED), (poured(21), Fate.PRESET), (poured(22), Fate.NOT_POURED)]
    entries = [
        entry(0, "open"),
        entry(30, "spill", volume_ul=15_000),
        entry(31, "house_use", volume_ul=30_000),
    ]
    told = account(Bottle(750, 0.948, 40.0), entries, pours)
    assert told.pours == 12
    assert (told.served_ul, told.cleared_ul, told.preset_ul) == (10 * QUARTER_UL, QUARTER_UL, QUARTER_UL)
    assert (told.spilt_ul, told.house_use_ul) == (15_000, 30_000)
    assert told.left_ul == told.level_ul == 750_000 - 12 * QUARTER_UL - 45_000


def test_a_weighing_takes_the_place_of_what_was_reckoned() -> None:
    entries = [entry(0, "open", gross_g=1266), entry(10, "weigh", gross_g=1162, temperature_c=20.0)]
    told = account(SWEET, entries, [(poured(5), Fate.SERVED), (poured(11), Fate.SERVED)])
    assert told.tare_g == pytest.approx(1266 - 766.5)
    weighed_ul = round((1162 - (1266 - 766.5)) / 1.022 * 1000)
    assert told.level_ul == weighed_ul - QUARTER_UL
    assert told.left_ul == 750_000 - 2 * QUARTER_UL


def test_a_bottle_of_known_tare_that_is_not_full_when_opened_is_weighed_at_once() -> None:
    told = account(Bottle(750, 0.948, 40.0, tare_g=500.0), [entry(0, "open", gross_g=1100)], [])
    assert (told.tare_g, told.level_ul, told.left_ul) == (500.0, round(600 / 0.948 * 1000), 750_000)
    assert told.weighed is not None
    assert (told.weighed.mass_g, told.weighed.gross_g) == (600.0, 1100)


def test_a_bottle_is_opened_once_and_a_broken_one_ends_empty() -> None:
    entries = [entry(0, "open", gross_g=1266), entry(5, "open", gross_g=1200), entry(9, "break")]
    told = account(SWEET, entries, [(poured(7), Fate.SERVED)])
    assert (told.opened_at, told.ended_at) == (START, START + timedelta(minutes=9))
    assert told.tare_g == pytest.approx(1266 - 766.5)
    assert (told.level_ul, told.spilt_ul) == (0, 750_000 - QUARTER_UL)


def test_what_was_poured_away_is_spilt_and_never_more_than_there_was() -> None:
    told = account(SWEET, [entry(0, "open"), entry(1, "break", volume_ul=100_000)], [])
    assert (told.spilt_ul, told.left_ul) == (100_000, 650_000)
    overdrawn = [(poured(n, 400_000), Fate.SERVED) for n in (1, 2)]
    broken = account(SWEET, [entry(0, "open"), entry(5, "break")], overdrawn)
    assert (broken.spilt_ul, broken.level_ul, broken.left_ul) == (0, 0, -50_000)
    closed = account(SWEET, [entry(0, "open"), entry(5, "close", volume_ul=30_000)], [])
    assert (closed.spilt_ul, closed.level_ul, closed.left_ul) == (30_000, 0, 720_000)


def test_a_bottle_from_which_more_was_poured_than_it_held_is_empty_and_told_as_overdrawn() -> None:
    overdrawn = account(SWEET, [entry(0, "open")], [(poured(n, 400_000), Fate.SERVED) for n in (1, 2)])
    assert (overdrawn.level_ul, overdrawn.left_ul) == (0, -50_000)


def test_a_bottle_of_which_nothing_is_entered_is_full_and_not_open() -> None:
    told = account(SWEET, [], [])
    assert (told.opened_at, told.ended_at, told.weighed, told.tare_g) == (None, None, None, None)
    assert (told.level_ul, told.left_ul, told.pours, told.findings) == (750_000, 750_000, 0, {})


def test_a_heavier_bottle_is_not_believed() -> None:
    entries = [
        entry(0, "open", gross_g=1266),
        entry(10, "weigh", gross_g=1100),
        entry(20, "weigh", gross_g=1102),
        entry(30, "weigh", gross_g=490),
    ]
    told = account(SWEET, reversed(entries), [])
    assert told.findings == {key(20): Finding.RISES, key(30): Finding.BELOW_EMPTY}
    assert told.weighed is not None
    assert told.weighed.gross_g == 1100


def test_one_gram_more_is_the_scale_and_not_the_bottle() -> None:
    entries = [
        entry(0, "open", gross_g=1266),
        entry(9, "weigh", gross_g=1100),
        entry(10, "weigh", gross_g=1101),
    ]
    assert account(SWEET, entries, []).findings == {}


def test_a_broken_bottle_has_spilt_what_was_in_it() -> None:
    told = account(SWEET, [entry(0, "open"), entry(9, "break")], [(poured(5), Fate.SERVED)])
    assert told.spilt_ul == 750_000 - QUARTER_UL
    assert (told.left_ul, told.level_ul) == (0, 0)
    assert told.ended_at == START + timedelta(minutes=9)


def test_a_closed_bottle_keeps_its_account_and_has_no_level() -> None:
    told = account(SWEET, [entry(0, "open"), entry(9, "close")], [(poured(5), Fate.SERVED)])
    assert told.left_ul == 750_000 - QUARTER_UL
    assert told.level_ul == 0


@pytest.mark.parametrize(
    ("gross_g", "finding"),
    [
        (499.0, None),  # the scale shows whole grams: one less is the empty bottle
        (498.9, Finding.BELOW_EMPTY),
        (500.0, None),
        (1101.0, None),  # one more than before is the scale as well
        (1101.1, Finding.RISES),
    ],
)
def test_a_weighing_may_differ_by_the_scales_one_gram_and_no_more(
    gross_g: float, finding: Finding | None
) -> None:
    before = Weighed(key(1), START, 1100.0, 600.0, 633_000)
    assert rejection(gross_g, 500.0, before) is finding


DENSITY = Bounds(0.7, 1.5, "g/mL")
EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: density_at(0.699, 40.0, 20.0), "density_g_ml", DENSITY),
    (lambda: density_at(1.501, 40.0, 20.0), "density_g_ml", DENSITY),
    (lambda: tare_at_opening_g(1266.0, 750, 0.699), "density_g_ml", DENSITY),
    (lambda: tare_at_opening_g(2266.0, 750, 1.501), "density_g_ml", DENSITY),
    (lambda: tare_at_opening_g(-1e-9, 750, 1.0), "gross_g", Bounds(0, unit="g")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert density_at(0.7, 40.0, 20.0) == 0.7
    assert tare_at_opening_g(2000.0, 1000, 1.5) == 500.0
    assert refusal(lambda: tare_at_opening_g(750.0, 750, 1.0))[1] == "lighter_than_content"
