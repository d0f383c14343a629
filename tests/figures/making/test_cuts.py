from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making.cuts import (
    AsRead,
    Cut,
    Reading,
    corrected,
    cuts,
    hearts,
    next_abv_percent,
    run_now,
    run_so_far,
)
from kiosk.figures.strength import Certificate, density, mass_fraction_of_abv, mass_of_volume, true_abv
from tests.figures.refusals import Call, refusal

START = datetime(2026, 6, 16, 9, 0, tzinfo=UTC)


def run(*rows: tuple[str, float, float]) -> list[Reading]:
    """Readings ten minutes apart: cut, litres collected, % vol."""
    return [Reading(START + timedelta(minutes=10 * i), *row) for i, row in enumerate(rows)]


RUN = run(
    ("heads", 0.0, 80.0),
    ("heads", 4.0, 79.0),
    ("hearts", 6.0, 78.0),
    ("hearts", 30.0, 74.0),
    ("hearts", 60.0, 66.0),
    ("tails", 70.0, 60.0),
    ("tails", 90.0, 40.0),
)


def test_pure_alcohol_of_the_hearts_by_hand() -> None:
    """24 L at 76, 30 L at 70 and 10 L at 63 % vol: 18.24 + 21.00 + 6.30 litres of pure alcohol."""
    assert hearts(RUN).pure_alcohol_l == pytest.approx(45.54)


def test_hearts_are_strong_by_mass_not_by_the_plain_mean() -> None:
    """The mixture shrinks: 64 L run off make a little less, so a little stronger than 45.54 / 64."""
    found = hearts(RUN)
    assert found.volume_l == pytest.approx(64.0, abs=0.05)
    assert found.volume_l < 64.0
    assert found.abv_percent > 100.0 * 45.54 / 64.0
    assert found.pure_alcohol_l == pytest.approx(found.volume_l * found.abv_percent / 100.0, rel=1e-9)


def test_hearts_by_mass_by_hand() -> None:
    """Two readings: the mass is the mean density times the litres."""
    found = hearts(run(("hearts", 0.0, 80.0), ("hearts", 100.0, 60.0)))
    kg = 0.1 * (density(mass_fraction_of_abv(80.0), 20.0) + density(mass_fraction_of_abv(60.0), 20.0)) / 2.0
    assert mass_of_volume(found.volume_l, found.abv_percent, 20.0, in_air=False) == pytest.approx(kg)
    assert found.pure_alcohol_l == pytest.approx(70.0)


def test_what_runs_belongs_to_the_cut_of_the_reading_before_it() -> None:
    found = cuts(RUN)
    assert set(found) == {"heads", "hearts", "tails"}
    assert found["heads"].pure_alcohol_l == pytest.approx(4.0 * 0.795 + 2.0 * 0.785)
    assert found["tails"].pure_alcohol_l == pytest.approx(20.0 * 0.50)


def test_what_ran_before_the_first_reading_counts_at_its_strength() -> None:
    found = cuts(run(("heads", 5.0, 80.0), ("hearts", 6.0, 80.0)))
    assert found["heads"].pure_alcohol_l == pytest.approx(4.8)


def test_a_steady_run_keeps_its_strength_and_its_volume() -> None:
    found = hearts(run(("hearts", 0.0, 70.0), ("hearts", 10.0, 70.0), ("hearts", 25.0, 70.0)))
    assert found == Cut(pytest.approx(25.0), pytest.approx(70.0), pytest.approx(17.5))


def test_readings_may_come_in_any_order() -> None:
    assert cuts(reversed(RUN)) == cuts(RUN)
    assert run_now(reversed(RUN)) == RUN[-1]


def test_a_run_says_its_latest_reading() -> None:
    assert run_now(RUN[:4]) == RUN[3]


LEVELS = st.lists(st.tuples(st.floats(0.1, 50.0), st.floats(0.0, 95.0)), min_size=2, max_size=12)


@given(LEVELS)
def test_averaging_stays_between_the_extremes_and_keeps_mass_and_alcohol(
    levels: list[tuple[float, float]],
) -> None:
    collected = 0.0
    rows = []
    for litres, abv in levels:
        rows.append(("hearts", collected, abv))
        collected += litres
    found = hearts(run(*rows))
    strengths = [abv for _, _, abv in rows]
    assert found.pure_alcohol_l <= found.volume_l + 1e-9
    assert min(strengths) - 1e-9 <= 100.0 * found.pure_alcohol_l / rows[-1][1] <= max(strengths) + 1e-9
    # Summed by volume, the mass lies between what the lightest and the densest reading would weigh.
    masses = [mass_of_volume(rows[-1][1], abv, 20.0, in_air=False) for abv in strengths]
    mass = mass_of_volume(found.volume_l, found.abv_percent, 20.0, in_air=False)
    assert min(masses) - 1e-9 <= mass <= max(masses) + 1e-9


@pytest.mark.parametrize(
    ("readings", "field", "reason"),
    [
        ([], "readings", "too_few"),
        (run(("hearts", 0.0, 70.0)), "readings", "too_few"),
        (run(("heads", 0.0, 70.0), ("heads", 5.0, 70.0), ("hearts", 6.0, 70.0)), "readings", "too_few"),
        (run(("hearts", 5.0, 70.0), ("hearts", 4.0, 69.0)), "collected_l", "out_of_range"),
        (run(("hearts", -1.0, 70.0)), "collected_l", "out_of_range"),
        (run(("hearts", 0.0, 100.1)), "abv_percent", "out_of_range"),
    ],
)
def test_hearts_that_cannot_be_told_say_why(readings: list[Reading], field: str, reason: str) -> None:
    with pytest.raises(FigureError) as caught:
        hearts(readings)
    assert (caught.value.field, caught.value.reason) == (field, reason)


def test_a_run_without_a_reading_says_nothing() -> None:
    with pytest.raises(FigureError) as caught:
        run_now([])
    assert caught.value.reason == "too_few"


def test_a_run_that_stands_still_has_fallen_nowhere() -> None:
    assert run_now(run(("hearts", 5.0, 70.0), ("hearts", 5.0, 69.0))).abv_percent == 69.0


def test_the_latest_reading_too_must_be_a_strength() -> None:
    with pytest.raises(FigureError) as caught:
        run_now(run(("hearts", 0.0, 70.0), ("hearts", 5.0, 100.5)))
    assert caught.value.field == "abv_percent"


def test_a_run_says_where_it_runs_what_it_holds_and_how_fast() -> None:
    now = run_so_far(RUN[:5])
    assert now.latest == RUN[4]
    assert now.cuts == cuts(RUN[:5])
    assert now.pure_alcohol_l == pytest.approx(sum(cut.pure_alcohol_l for cut in now.cuts.values()))
    assert now.litres_per_h == pytest.approx(30.0 * 6.0)  # 30 L in ten minutes


def test_a_run_of_one_reading_has_no_pace_yet() -> None:
    now = run_so_far(run(("heads", 0.0, 80.0)))
    assert (now.cuts, now.pure_alcohol_l, now.litres_per_h) == ({}, 0.0, None)


def test_two_readings_at_one_moment_have_no_pace() -> None:
    one, other = Reading(START, "heads", 0.0, 80.0), Reading(START, "hearts", 1.0, 80.0)
    assert run_so_far([one, other]).litres_per_h is None


def test_what_was_read_is_corrected_reading_by_reading() -> None:
    certified = Certificate(scale=-0.2)
    read = [
        AsRead(START, "hearts", 5.0, "glass_abv20", 72.0, 27.0),
        AsRead(START, "hearts", 9.0, "density_meter", 68.0, 27.0),
    ]
    found = corrected(read, certified)
    assert [r.collected_l for r in found] == [5.0, 9.0]
    assert found[0].abv_percent == true_abv(72.0, 27.0, certificate=certified)
    assert found[1].abv_percent == pytest.approx(67.8)
    assert corrected(read[:1])[0] == Reading(START, "hearts", 5.0, true_abv(72.0, 27.0))


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: run_now(run(("hearts", -1e-9, 70.0))), "collected_l", Bounds(0, unit="L")),
    (lambda: run_now(run(("hearts", 0.0, 100.001))), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: run_now(run(("hearts", 0.0, -0.001))), "abv_percent", Bounds(0, 100, "% vol")),
    (
        lambda: run_now(run(("hearts", 5.0, 70.0), ("hearts", 4.999, 69.0))),
        "collected_l",
        Bounds(5, unit="L"),
    ),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert run_now(run(("hearts", 0.0, 100.0))).abv_percent == 100.0
    assert run_now(run(("hearts", 0.0, 70.0), ("tails", 0.0, 0.0))).abv_percent == 0.0


@pytest.mark.parametrize(
    ("rows", "minutes", "expected"),
    [
        # 0.4 and 0.8 % vol a minute between the hearts: ten minutes on 58 to 62, half a percent wider.
        (RUN[2:5], 10, (57.5, 62.5)),
        (RUN[2:5], 0, (65.5, 66.5)),
        # Only the cut that runs counts: the fall from hearts to tails is none of it.
        (RUN, 5, (29.5, 30.5)),
        # One reading of the cut, a pause of more than an hour, a time before the last: nothing is said.
        (RUN[:3], 10, None),
        (RUN[2:5], 61, None),
        (RUN[2:5], -1, None),
        ([], 10, None),
    ],
)
def test_the_next_reading_falls_as_the_last_ones_did(
    rows: list[Reading], minutes: int, expected: tuple[float, float] | None
) -> None:
    at = (rows[-1].at if rows else START) + timedelta(minutes=minutes)
    assert next_abv_percent(rows, at) == (pytest.approx(expected) if expected else None)


def test_an_expected_strength_stays_one() -> None:
    steep = run(("tails", 0.0, 20.0), ("tails", 5.0, 5.0))
    assert next_abv_percent(steep, steep[-1].at + timedelta(minutes=10)) == (0.0, pytest.approx(0.5))
