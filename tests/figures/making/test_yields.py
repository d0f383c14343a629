"""Yields along the chain, cane and juice per bottle, and the season of the cane."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making import yields as y
from kiosk.figures.making.yields import season_start
from tests.figures.refusals import Call, refusal


# Reckoned from the chain of yields: 15 °Bx with half the cane's weight in juice, and
# 19 °Bx with seven tenths. Fermentable 0.88, fermentation 0.88, stills 0.93.
@pytest.mark.parametrize(("juice", "brix", "kg"), [(0.5, 15.0, 8.1), (0.7, 19.0, 4.6)])
def test_cane_behind_a_bottle_of_750_ml_at_40_per_cent(juice: float, brix: float, kg: float) -> None:
    litres = y.alcohol_per_tonne_l(juice, brix, 0.88, 0.88, 0.93)
    assert y.cane_per_bottle_kg(1000.0, litres, 750.0, 40.0) == pytest.approx(kg, abs=0.06)


def test_the_angels_share_puts_more_cane_behind_a_bottle() -> None:
    fresh = y.cane_per_bottle_kg(1000.0, 40.0, 750.0, 40.0)
    aged = y.cane_per_bottle_kg(1000.0, 40.0 * (1 - 0.06) ** 8, 750.0, 40.0)
    assert aged / fresh == pytest.approx(1 / 0.94**8)


def test_sucrose_gives_at_most_what_its_carbon_allows() -> None:
    """Stoichiometry: C12H22O11 + H2O -> 4 C2H5OH + 4 CO2; molar masses 342.297 and 46.068 g/mol."""
    litres = 4 * 46.068 / 342.297 / 0.78924
    assert litres == pytest.approx(y.SUCROSE_L_PER_KG, abs=5e-4)


@pytest.mark.parametrize(
    ("call", "field", "reason"),
    [
        (lambda: y.cane_per_bottle_kg(-1.0, 1.0, 750.0, 40.0), "cane_kg", "out_of_range"),
        (lambda: y.cane_per_bottle_kg(1.0, 0.0, 750.0, 40.0), "pure_alcohol_l", "too_few"),
        (lambda: y.cane_per_bottle_kg(1.0, -1.0, 750.0, 40.0), "pure_alcohol_l", "out_of_range"),
        (lambda: y.cane_per_bottle_kg(1.0, 1.0, -1.0, 40.0), "bottle_ml", "out_of_range"),
        (lambda: y.cane_per_bottle_kg(1.0, 1.0, 750.0, 100.1), "abv_percent", "out_of_range"),
        (lambda: y.alcohol_per_tonne_l(1.1, 15.0, 1.0, 1.0, 1.0), "juice_kg_per_kg", "out_of_range"),
        (lambda: y.alcohol_per_tonne_l(0.5, 41.0, 1.0, 1.0, 1.0), "brix", "out_of_range"),
        (lambda: y.alcohol_per_tonne_l(0.5, 15.0, 1.1, 1.0, 1.0), "fermentable", "out_of_range"),
        (lambda: y.alcohol_per_tonne_l(0.5, 15.0, 1.0, -0.1, 1.0), "fermentation", "out_of_range"),
        (lambda: y.alcohol_per_tonne_l(0.5, 15.0, 1.0, 1.0, 1.1), "recovery", "out_of_range"),
    ],
)
def test_what_cannot_be_answered_says_which_argument_and_why(
    call: Callable[[], object], field: str, reason: str
) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert (caught.value.field, caught.value.reason) == (field, reason)


# Shares of the chain of yields above: fermentation 0.88, stills 0.93 (in two runs).
CHAIN = y.Chain(
    cane_kg=1000.0,
    juice_kg=500.0,
    brix=15.0,
    wash_alcohol_l=39.61,
    low_wines_alcohol_l=38.42,
    hearts_alcohol_l=36.84,
    bottled_alcohol_l=33.16,
)


def test_every_step_of_a_chain_has_its_yield() -> None:
    found = y.chain_yields(CHAIN)
    assert found.juice_kg_per_kg == 0.5
    assert found.fermentation == pytest.approx(0.88, abs=5e-4)
    assert found.wash_run == pytest.approx(0.97, abs=5e-4)
    assert found.spirit_run == pytest.approx(36.84 / 38.42)
    assert found.ageing == pytest.approx(0.9, abs=5e-4)
    assert found.alcohol_per_tonne_l == pytest.approx(33.16)


def test_the_steps_multiply_to_the_whole() -> None:
    found = y.chain_yields(CHAIN)
    recovery = 1.0
    for step in (found.wash_run, found.spirit_run, found.ageing):
        assert step is not None
        recovery *= step
    assert found.juice_kg_per_kg is not None
    assert found.fermentation is not None
    whole = y.alcohol_per_tonne_l(found.juice_kg_per_kg, 15.0, 0.88, found.fermentation, recovery)
    assert whole == pytest.approx(found.alcohol_per_tonne_l)


@pytest.mark.parametrize(
    ("left_out", "unknown"),
    [
        ("cane_kg", {"juice_kg_per_kg", "alcohol_per_tonne_l"}),
        ("juice_kg", {"juice_kg_per_kg", "fermentation"}),
        ("brix", {"fermentation"}),
        ("wash_alcohol_l", {"fermentation", "wash_run"}),
        ("low_wines_alcohol_l", {"wash_run", "spirit_run"}),
        ("hearts_alcohol_l", {"spirit_run", "ageing"}),
        ("bottled_alcohol_l", {"ageing"}),
    ],
)
def test_what_was_not_measured_leaves_only_its_own_steps_unknown(left_out: str, unknown: set[str]) -> None:
    found = asdict(y.chain_yields(replace(CHAIN, **{left_out: None})))
    assert {name for name, value in found.items() if value is None} == unknown


def test_spirit_not_yet_bottled_is_counted_where_it_is() -> None:
    found = y.chain_yields(replace(CHAIN, bottled_alcohol_l=None))
    assert found.alcohol_per_tonne_l == pytest.approx(36.84)


def test_an_empty_chain_has_no_yield() -> None:
    assert set(asdict(y.chain_yields(y.Chain())).values()) == {None}
    assert y.chain_yields(y.Chain(cane_kg=0.0, juice_kg=0.0, brix=15.0)).fermentation is None


def test_juice_behind_a_bottle_is_the_canes_share_of_it() -> None:
    juice = y.juice_per_bottle_kg(500.0, 36.8, 750.0, 40.0)
    assert juice == pytest.approx(0.5 * y.cane_per_bottle_kg(1000.0, 36.8, 750.0, 40.0))


@pytest.mark.parametrize(
    ("chain", "field"),
    [
        (y.Chain(cane_kg=-1.0), "cane_kg"),
        (y.Chain(juice_kg=-1.0), "juice_kg"),
        (y.Chain(juice_kg=1.0, brix=41.0), "brix"),
        (y.Chain(wash_alcohol_l=1.0, hearts_alcohol_l=-1.0), "pure_alcohol_l"),
    ],
)
def test_an_impossible_chain_is_refused(chain: y.Chain, field: str) -> None:
    with pytest.raises(FigureError) as caught:
        y.chain_yields(chain)
    assert caught.value.field == field


@pytest.mark.parametrize("fermentable", [0.0, 1.1])
def test_a_fermentable_share_lies_above_nothing_and_up_to_all(fermentable: float) -> None:
    with pytest.raises(FigureError) as caught:
        y.chain_yields(CHAIN, fermentable)
    assert caught.value.field == "fermentable"


NOW = datetime(2026, 6, 16, tzinfo=UTC)


def ago(*days: float) -> list[datetime]:
    return [NOW - timedelta(days=one) for one in days]


def test_it_begins_after_the_last_long_rest() -> None:
    assert season_start(ago(300, 290, 100, 50, 1), NOW) == NOW - timedelta(days=100)


def test_the_first_of_all_millings_begins_one() -> None:
    assert season_start(ago(30, 59), NOW) == NOW - timedelta(days=59)


def test_a_rest_of_sixty_days_ends_it_and_one_less_does_not() -> None:
    assert season_start(ago(60), NOW) is None
    assert season_start(ago(59.9), NOW) is not None
    assert season_start(ago(70, 10), NOW) == NOW - timedelta(days=10)
    assert season_start(ago(69, 10), NOW) == NOW - timedelta(days=69)


def test_what_is_to_come_begins_nothing() -> None:
    assert season_start(ago(-1), NOW) is None
    assert season_start([], NOW) is None


BRIX, SHARE, VOL = Bounds(0, 40, "°Bx"), Bounds(0, 1), Bounds(0, 100, "% vol")
STEPS = {"juice_kg_per_kg": 0.5, "brix": 15.0, "fermentable": 0.88, "fermentation": 0.88, "recovery": 0.93}
EDGES: list[tuple[Call, str, Bounds]] = [
    *(
        (lambda name=name, value=value: y.alcohol_per_tonne_l(**{**STEPS, name: value}), name, allowed)
        for name, allowed in (("brix", BRIX), *((one, SHARE) for one in STEPS if one != "brix"))
        for value in (-0.001, 40.001 if name == "brix" else 1.001)
    ),
    (lambda: y.cane_per_bottle_kg(-1e-9, 37.0, 750.0, 40.0), "cane_kg", Bounds(0, unit="kg")),
    (lambda: y.cane_per_bottle_kg(1.0, -1e-9, 750.0, 40.0), "pure_alcohol_l", Bounds(0, unit="L")),
    (lambda: y.cane_per_bottle_kg(1.0, 37.0, -1e-9, 40.0), "bottle_ml", Bounds(0, unit="mL")),
    (lambda: y.cane_per_bottle_kg(1.0, 37.0, 750.0, 100.001), "abv_percent", VOL),
    (lambda: y.cane_per_bottle_kg(1.0, 37.0, 750.0, -0.001), "abv_percent", VOL),
    (lambda: y.juice_per_bottle_kg(-1e-9, 37.0, 750.0, 40.0), "juice_kg", Bounds(0, unit="kg")),
    (lambda: y.chain_yields(CHAIN, 0.0), "fermentable", Bounds(0, 1, above=True)),
    (lambda: y.chain_yields(CHAIN, 1.001), "fermentable", Bounds(0, 1, above=True)),
    (lambda: y.chain_yields(replace(CHAIN, brix=40.001)), "brix", BRIX),
    (lambda: y.chain_yields(replace(CHAIN, brix=-0.001)), "brix", BRIX),
    (lambda: y.chain_yields(replace(CHAIN, cane_kg=-1e-9)), "cane_kg", Bounds(0)),
    (lambda: y.chain_yields(replace(CHAIN, juice_kg=-1e-9)), "juice_kg", Bounds(0)),
    (lambda: y.chain_yields(replace(CHAIN, hearts_alcohol_l=-1e-9)), "pure_alcohol_l", Bounds(0)),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    whole = {**dict.fromkeys(STEPS, 1.0), "brix": 40.0}
    assert y.alcohol_per_tonne_l(**whole) == pytest.approx(1000.0 * 0.4 * 0.682)
    assert y.alcohol_per_tonne_l(**{**whole, "brix": 0.0}) == 0.0
    assert y.alcohol_per_tonne_l(**{**whole, "recovery": 0.0}) == 0.0
    assert y.cane_per_bottle_kg(0.0, 37.0, 0.0, 0.0) == 0.0
    assert y.cane_per_bottle_kg(1000.0, 100.0, 1000.0, 100.0) == pytest.approx(10.0)
    assert y.chain_yields(replace(CHAIN, brix=40.0), 1.0).fermentation is not None
    assert refusal(lambda: y.cane_per_bottle_kg(1.0, 0.0, 750.0, 40.0)) == (
        "pure_alcohol_l",
        "too_few",
        Bounds(0, unit="L", above=True),
    )
