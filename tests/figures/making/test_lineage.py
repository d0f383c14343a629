from __future__ import annotations

import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making import lineage as y
from kiosk.figures.making.lineage import lineage
from tests.figures.refusals import Call, refusal

# A blend of two runs, one of which also took feints of the other.
DRAWS = [
    ("field-1", "load-1", 10.0),
    ("field-2", "load-1", 30.0),
    ("field-2", "load-2", 20.0),
    ("load-1", "wash-1", 6.0),
    ("load-2", "wash-2", 3.0),
    ("wash-1", "run-1", 400.0),
    ("run-1", "feints", 40.0),
    ("run-1", "fill-1", 300.0),
    ("wash-2", "run-2", 160.0),
    ("feints", "run-2", 40.0),
    ("run-2", "fill-2", 100.0),
    ("fill-1", "lot", 150.0),
    ("fill-2", "lot", 50.0),
    ("fill-1", "other lot", 100.0),
    ("received", "lot", 50.0),
]


def test_a_share_follows_the_draws_through_blend_and_feints() -> None:
    found = y.shares("lot", DRAWS)
    assert found["fill-1"] == pytest.approx(0.6)
    assert found["run-1"] == pytest.approx(0.6 + 0.2 * 0.2)
    assert found["wash-2"] == pytest.approx(0.2 * 0.8)
    assert found["field-1"] == pytest.approx(0.64 * 0.25)
    assert "other lot" not in found


def test_origins_are_the_fields_and_what_was_received() -> None:
    found = y.origins("lot", DRAWS)
    assert set(found) == {"field-1", "field-2", "received"}
    assert math.fsum(found.values()) == pytest.approx(1.0)


def test_two_draws_between_the_same_batches_add_up() -> None:
    assert y.shares("c", [("a", "c", 1.0), ("b", "c", 2.0), ("a", "c", 1.0)])["a"] == pytest.approx(0.5)


def test_a_batch_without_draws_is_its_own_origin() -> None:
    assert y.origins("lot", []) == {"lot": 1.0}


def test_a_batch_whose_draws_are_all_nothing_is_an_origin() -> None:
    """Water in spirit has no part in its alcohol; a lot of water alone has no ancestry in alcohol."""
    assert y.origins("lot", [("water", "lot", 0.0)]) == {"lot": 1.0}
    assert y.origins("lot", [("water", "lot", 0.0), ("fill", "lot", 5.0)]) == {"fill": 1.0, "water": 0.0}


@st.composite
def lineages(draw: st.DrawFn) -> list[tuple[int, int, float]]:
    """Any graph without loops: draws lead from lower to higher numbers."""
    n = draw(st.integers(2, 25))
    pairs = st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)).filter(lambda p: p[0] != p[1])
    found = draw(st.lists(st.tuples(pairs, st.floats(0.0, 1e6)), max_size=80))
    return [(min(pair), max(pair), amount) for pair, amount in found]


@given(lineages())
def test_shares_sum_to_one_over_the_origins(edges: list[tuple[int, int, float]]) -> None:
    to = max((b for _, b, _ in edges), default=0)
    assert math.fsum(y.origins(to, edges).values()) == pytest.approx(1.0, abs=1e-9)
    assert all(-1e-12 <= share <= 1.0 + 1e-12 for share in y.shares(to, edges).values())


@given(lineages(), st.randoms(use_true_random=False))
def test_the_order_of_the_records_does_not_matter(
    edges: list[tuple[int, int, float]], random: object
) -> None:
    to = max((b for _, b, _ in edges), default=0)
    turned = list(edges)
    random.shuffle(turned)  # type: ignore[attr-defined]
    assert y.shares(to, turned) == pytest.approx(y.shares(to, edges))


@given(lineages())
def test_shares_equal_the_sum_over_all_paths(edges: list[tuple[int, int, float]]) -> None:
    """The slow way round: walk every path back and multiply."""
    kept = [edge for edge in edges if edge[1] <= 8]
    to = max((b for _, b, _ in kept), default=0)
    totals: dict[int, float] = {}
    for _, b, amount in kept:
        totals[b] = totals.get(b, 0.0) + amount
    walked: dict[int, float] = {}

    def walk(batch: int, share: float) -> None:
        walked[batch] = walked.get(batch, 0.0) + share
        for a, b, amount in kept:
            if b == batch and totals[b] > 0.0 and amount > 0.0:
                walk(a, share * (amount / totals[b]))

    walk(to, 1.0)
    found = {batch: share for batch, share in y.shares(to, kept).items() if share > 0.0}
    assert found == pytest.approx({batch: share for batch, share in walked.items() if share > 0.0})


@pytest.mark.parametrize(
    "edges",
    [
        [("lot", "lot", 1.0)],
        [("a", "lot", 1.0), ("lot", "a", 1.0)],
        [("a", "lot", 1.0), ("b", "a", 1.0), ("c", "b", 1.0), ("a", "c", 1.0)],
        [("x", "lot", 1.0), ("y", "lot", 1.0), ("y", "x", 1.0), ("z", "y", 1.0), ("x", "z", 1.0)],
    ],
)
def test_a_loop_is_an_error(edges: list[tuple[str, str, float]]) -> None:
    with pytest.raises(FigureError) as caught:
        y.shares("lot", edges)
    assert caught.value.reason == "loop"


def test_a_diamond_is_no_loop() -> None:
    assert y.shares("d", [("a", "b", 1.0), ("a", "c", 1.0), ("b", "d", 1.0), ("c", "d", 1.0)])["a"] == 1.0


def test_doubling_paths_cost_no_time() -> None:
    """Forty blends of two: a million million paths, eighty draws each way."""
    edges = [(f"{side}{i}", f"{other}{i + 1}", 1.0) for i in range(40) for side in "ab" for other in "ab"] + [
        ("a40", "lot", 1.0),
        ("b40", "lot", 1.0),
    ]
    started = time.perf_counter()
    assert y.origins("lot", edges) == pytest.approx({"a0": 0.5, "b0": 0.5})
    assert time.perf_counter() - started < 1.0


def test_a_chain_longer_than_the_stack_is_followed() -> None:
    edges = [(i, i + 1, 1.0) for i in range(20_000)]
    assert y.origins(20_000, edges) == {0: 1.0}


def test_a_negative_draw_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        y.shares("b", [("a", "b", -1.0)])
    assert (caught.value.field, caught.value.reason) == ("amount", "out_of_range")


def test_cane_behind_a_lot_by_hand() -> None:
    """The whole of load 2 and six parts in ten of run 1's fill stand behind the two lots together."""
    cane = {"load-1": 1000.0, "load-2": 500.0}
    # run-1 gave 40 to feints and 300 to its cask; the feints went on to run 2.
    run_1 = 1000.0 * 300.0 / 340.0 * 150.0 / 250.0
    run_2 = 500.0 + 1000.0 * 40.0 / 340.0
    assert y.cane_behind_kg("lot", DRAWS, cane) == pytest.approx(run_1 + run_2)


def test_all_cane_is_behind_the_lots_together() -> None:
    cane = {"load-1": 1000.0, "load-2": 500.0}
    lots = y.cane_behind_kg("lot", DRAWS, cane) + y.cane_behind_kg("other lot", DRAWS, cane)
    assert lots == pytest.approx(1500.0)


def test_water_carries_no_cane() -> None:
    draws = [("load", "lot", 10.0), ("water", "lot", 0.0)]
    assert y.cane_behind_kg("lot", draws, {"load": 1000.0}) == pytest.approx(1000.0)


def test_what_a_cask_still_holds_keeps_its_cane() -> None:
    draws = [("load", "fill", 100.0), ("fill", "lot", 40.0)]
    assert y.cane_behind_kg("lot", draws, {"load": 1000.0}) == pytest.approx(1000.0)
    # 50 left after the angels took 10: the lot carries four ninths.
    assert y.cane_behind_kg("lot", draws, {"load": 1000.0}, {"fill": 50.0}) == pytest.approx(4000.0 / 9.0)


def test_the_cane_of_what_was_destroyed_is_carried_by_what_was_kept() -> None:
    draws = [("load", "run", 50.0), ("run", "heads", 5.0), ("run", "lot", 40.0)]
    cane = {"load": 900.0}
    assert y.cane_behind_kg("lot", draws, cane) == pytest.approx(800.0)
    assert y.cane_behind_kg("lot", draws, cane, destroyed={"heads"}) == pytest.approx(900.0)


# Feints that go round and round


def rounds(runs: int, part: float = 0.25) -> list[tuple[str, str, float]]:
    """Spirit runs, latest 0, each charged with low wines of its own and feints of the run before."""
    edges = [("run-0", "lot", 1.0)]
    for n in range(runs):
        edges += [(f"wash-{n}", f"run-{n}", 1.0 - part), (f"feints-{n + 1}", f"run-{n}", part)]
        edges += [(f"run-{n + 1}", f"feints-{n + 1}", 1.0)]
    return edges


FEINTS = [f"feints-{n}" for n in range(5000)]


def test_feints_are_cut_off_below_a_tenth_of_a_per_cent_and_told() -> None:
    """A quarter of each charge: 0.25^4 = 0.39 % is still followed, 0.25^5 = 0.098 % is earlier runs."""
    found = lineage("lot", rounds(1000), FEINTS)
    assert found.earlier == pytest.approx(0.25**5)
    assert found.origins == pytest.approx({f"wash-{n}": 0.75 * 0.25**n for n in range(5)})
    assert found.shares["run-4"] == pytest.approx(0.25**4)
    assert "run-5" not in found.shares


def test_the_cut_is_at_the_share_that_was_asked() -> None:
    assert lineage("lot", rounds(50), FEINTS, least=0.05).earlier == pytest.approx(0.25**3)
    assert lineage("lot", rounds(50), FEINTS, least=0.25).earlier == pytest.approx(0.25**2)
    assert lineage("lot", rounds(50), FEINTS, least=0.0).earlier == 0.0


def test_without_feints_nothing_is_cut_off() -> None:
    found = lineage("lot", rounds(50))
    assert found.earlier == 0.0
    assert math.fsum(found.origins.values()) == pytest.approx(1.0)


def test_a_wide_blend_of_many_runs_is_not_cut_away() -> None:
    """A thousand runs of a tenth of a per cent each: their thin feints come from runs in the lot itself."""
    edges = rounds(1000)[1:] + [(f"run-{n}", "lot", 1.0) for n in range(1000)]
    found = lineage("lot", edges, FEINTS)
    assert found.earlier < 0.0005
    assert len(found.of([f"run-{n}" for n in range(1000)])) == 1000


def test_thin_feints_of_a_run_that_is_in_the_lot_by_casks_are_counted_to_it() -> None:
    """Run 1 went into a cask of the lot, run 2 did not: only its part of the thin feints is earlier runs."""
    edges = [
        *(("cask-a", "lot", 1.0), ("cask-b", "lot", 1.0), ("run-0", "cask-a", 1.0), ("run-1", "cask-b", 1.0)),
        *(("feints", "run-0", 0.0004), ("wash", "run-0", 0.9996), ("run-1", "feints", 3.0)),
        ("run-2", "feints", 1.0),
    ]
    found = lineage("lot", edges, ["feints"])
    assert found.earlier == pytest.approx(0.0002 / 4)
    assert found.origins == pytest.approx({"run-1": 0.5 + 0.0002 * 3 / 4, "wash": 0.4998})


def test_what_has_no_part_in_a_lot_is_not_among_its_shares() -> None:
    assert lineage("lot", [("water", "lot", 0.0), ("fill", "lot", 5.0)]).of(["water", "fill"]) == {
        "fill": 1.0
    }


def test_small_amounts_carry_their_cane_too() -> None:
    draws = [("load", "lot", 0.3), ("load", "other", 0.1)]
    assert y.cane_behind_kg("lot", draws, {"load": 1000.0}) == pytest.approx(750.0)


def test_a_small_cask_in_a_large_blend_is_followed_to_its_field() -> None:
    edges = [("big", "lot", 99_999.0), ("small", "lot", 1.0), ("field", "small", 5.0)]
    assert lineage("lot", edges, FEINTS).origins["field"] == pytest.approx(1e-5)


def test_shares_of_a_kind_are_asked_by_its_batches() -> None:
    found = lineage("lot", DRAWS)
    assert found.of(["field-1", "field-2", "field-3"]) == pytest.approx({"field-1": 0.16, "field-2": 0.64})


@given(lineages(), st.sets(st.integers(0, 24)), st.floats(0.0, 0.6))
def test_origins_and_earlier_runs_sum_to_one(
    edges: list[tuple[int, int, float]], feints: set[int], least: float
) -> None:
    to = max((b for _, b, _ in edges), default=0)
    found = lineage(to, edges, feints, least)
    assert math.fsum([*found.origins.values(), found.earlier]) == pytest.approx(1.0, abs=1e-9)
    assert found.earlier >= 0.0


@given(lineages(), st.sets(st.integers(0, 8)), st.floats(0.0, 0.6))
def test_a_cut_lineage_equals_the_slow_way_from_each_batch_down(
    edges: list[tuple[int, int, float]], feints: set[int], least: float
) -> None:
    """Each batch asks, path by path, what comes down to it; no order of batches, nothing kept."""
    kept = [edge for edge in edges if edge[1] <= 8 and edge[2] > 1e-3]
    to = max((b for _, b, _ in kept), default=0)
    totals = {b: sum(amount for _, d, amount in kept if d == b) for _, b, _ in kept}

    def straight(batch: int) -> bool:
        return batch == to or any(
            a == batch and (b == to or b not in feints) and straight(b) for a, b, _ in kept
        )

    def share(batch: int) -> float:
        if batch == to:
            return 1.0
        return sum(
            passed(b) * amount / totals[b] for a, b, amount in kept if a == batch and open_to(batch, b)
        )

    def passed(batch: int) -> float:
        return share(batch)

    def open_to(source: int, b: int) -> bool:
        return not (b in feints and b != to and share(b) < least) or straight(source)

    edge_of_cut = any(abs(share(b) - least) < 1e-9 for b in feints if b != to)
    if edge_of_cut:
        return
    found = lineage(to, kept, feints, least)
    slow = {batch: share(batch) for batch in range(9)}
    assert {b: s for b, s in found.shares.items() if s > 0.0} == pytest.approx(
        {b: s for b, s in slow.items() if s > 0.0}
    )


def test_time_grows_with_the_edges() -> None:
    """Ten thousand batches in a hundred blends of a hundred, each of all the hundred before."""
    edges = [
        (100 * layer + a, 100 * (layer + 1) + b, 1.0 + a)
        for layer in range(99)
        for a in range(100)
        for b in range(0, 100, 10)
    ]
    started = time.perf_counter()
    found = lineage(99 * 100, edges)
    assert time.perf_counter() - started < 5.0
    assert math.fsum(found.origins.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("least", [-0.1, 1.1, math.nan])
def test_a_cut_that_is_no_share_is_refused(least: float) -> None:
    with pytest.raises(FigureError) as caught:
        lineage("lot", DRAWS, FEINTS, least)
    assert (caught.value.field, caught.value.reason) == ("least", "out_of_range")


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: y.shares("b", [("a", "b", -1e-9)]), "amount", Bounds(0)),
    (lambda: lineage("lot", DRAWS, FEINTS, -0.001), "least", Bounds(0, 1)),
    (lambda: lineage("lot", DRAWS, FEINTS, 1.001), "least", Bounds(0, 1)),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert y.shares("b", [("a", "b", 0.0), ("c", "b", 1.0)])["c"] == 1.0
    for least in (0.0, 1.0):
        found = lineage("lot", DRAWS, FEINTS, least)
        assert sum(found.origins.values()) + found.earlier == pytest.approx(1.0)
