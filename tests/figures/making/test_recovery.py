from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import FigureError
from kiosk.figures.making.cuts import Reading, cuts
from kiosk.figures.making.recovery import Receipt, Receiver, against_gauges, recovery

START = datetime(2026, 6, 16, 9, 0, tzinfo=UTC)

WASH_RUN = recovery(
    [Receipt("wash", 1800.0, 9.0)],
    [Receiver("low_wines", 560.0, 28.0, "tank"), Receiver("pot", 1200.0, 0.2, "destroyed")],
)
# 150 L of pure alcohol in low wines and 30 in old feints; 8 heads, 120 hearts, 40 tails, 5 in the pot.
SPIRIT_RUN = recovery(
    [Receipt("low_wines", 500.0, 30.0), Receipt("feints", 60.0, 50.0)],
    [
        Receiver("heads", 10.0, 80.0, "feints"),
        Receiver("hearts", 160.0, 75.0, "cask"),
        Receiver("tails", 100.0, 40.0, "feints"),
        Receiver("pot", 250.0, 2.0, "destroyed"),
    ],
)


def test_a_wash_runs_recovery_is_all_receivers_over_the_charge() -> None:
    assert WASH_RUN.charge_l == pytest.approx(162.0)
    assert WASH_RUN.received_l == pytest.approx(156.8 + 2.4)
    assert WASH_RUN.share == pytest.approx(159.2 / 162.0)
    assert WASH_RUN.lost_l == pytest.approx(2.8)


def test_what_is_left_in_the_pot_came_not_over() -> None:
    assert WASH_RUN.product_l == pytest.approx(156.8)
    assert (WASH_RUN.feints_in_l, WASH_RUN.feints_out_l) == (0.0, 0.0)


def test_a_spirit_run_tells_old_feints_from_new_low_wines() -> None:
    assert SPIRIT_RUN.by_source == pytest.approx({"low_wines": 150.0, "feints": 30.0})
    assert SPIRIT_RUN.by_cut == pytest.approx({"heads": 8.0, "hearts": 120.0, "tails": 40.0, "pot": 5.0})
    assert (SPIRIT_RUN.feints_in_l, SPIRIT_RUN.feints_out_l) == pytest.approx((30.0, 48.0))
    assert SPIRIT_RUN.product_l == pytest.approx(120.0)
    assert SPIRIT_RUN.new_l == pytest.approx(150.0)
    assert SPIRIT_RUN.share == pytest.approx(173.0 / 180.0)
    assert SPIRIT_RUN.product_of_new_share == pytest.approx((120.0 + 48.0 - 30.0) / 150.0)


@given(st.floats(1.0, 500.0))
def test_feints_that_are_only_handed_on_change_nothing_of_what_was_new(handed_on_l: float) -> None:
    charge = [Receipt("low_wines", 500.0, 30.0)]
    out = [Receiver("hearts", 160.0, 75.0, "cask"), Receiver("tails", 50.0, 40.0, "feints")]
    plain = recovery(charge, out)
    more = recovery(
        [*charge, Receipt("feints", handed_on_l, 50.0)],
        [*out, Receiver("tails", handed_on_l, 50.0, "feints")],
    )
    assert more.product_of_new_share == pytest.approx(plain.product_of_new_share)
    assert more.share != pytest.approx(plain.share)  # which is why the two are told apart


def test_heads_and_tails_of_which_nothing_is_written_are_feints() -> None:
    found = recovery(
        [Receipt("low_wines", 100.0, 30.0)],
        [Receiver("heads", 1.0, 80.0), Receiver("hearts", 20.0, 75.0), Receiver("tails", 10.0, 50.0)],
    )
    assert (found.feints_out_l, found.product_l) == pytest.approx((5.8, 15.0))


def test_what_is_destroyed_is_neither_feints_nor_product_but_is_accounted_for() -> None:
    found = recovery([Receipt("low_wines", 100.0, 30.0)], [Receiver("heads", 10.0, 80.0, "destroyed")])
    assert (found.feints_out_l, found.product_l, found.received_l) == pytest.approx((0.0, 0.0, 8.0))


def test_receivers_and_receipts_of_one_name_are_added() -> None:
    found = recovery(
        [Receipt("wash", 100.0, 9.0), Receipt("wash", 200.0, 8.0)],
        [Receiver("low_wines", 40.0, 30.0, "tank"), Receiver("low_wines", 30.0, 20.0, "tank")],
    )
    assert (found.charge_l, found.by_cut["low_wines"]) == pytest.approx((25.0, 18.0))


def test_a_run_that_found_more_than_went_in_is_told_as_it_is() -> None:
    found = recovery([Receipt("wash", 100.0, 9.0)], [Receiver("low_wines", 40.0, 25.0)])
    assert (found.share, found.lost_l) == pytest.approx((10.0 / 9.0, -1.0))


def test_a_charge_of_feints_alone_has_nothing_new() -> None:
    found = recovery([Receipt("feints", 100.0, 50.0)], [Receiver("hearts", 50.0, 75.0)])
    assert (found.new_l, found.product_of_new_share) == (0.0, None)


@pytest.mark.parametrize(
    ("charge", "receivers", "field", "reason"),
    [
        ([], [], "charge", "too_few"),
        ([Receipt("wash", 100.0, 0.0)], [], "charge", "too_few"),
        ([Receipt("wash", -1.0, 9.0)], [], "volume_l", "out_of_range"),
        ([Receipt("wash", 1.0, 101.0)], [], "abv_percent", "out_of_range"),
        ([Receipt("wash", 1.0, 9.0)], [Receiver("hearts", -1.0, 70.0)], "volume_l", "out_of_range"),
    ],
)
def test_an_account_that_cannot_be_made_says_why(
    charge: list[Receipt], receivers: list[Receiver], field: str, reason: str
) -> None:
    with pytest.raises(FigureError) as caught:
        recovery(charge, receivers)
    assert (caught.value.field, caught.value.reason) == (field, reason)


RUN = [
    Reading(START, "heads", 0.0, 80.0),
    Reading(START + timedelta(minutes=10), "hearts", 5.0, 78.0),
    Reading(START + timedelta(hours=3), "tails", 105.0, 62.0),
]


def test_a_gauge_is_set_against_what_the_readings_add_up_to() -> None:
    read = cuts(RUN)["hearts"]
    gauged = Receiver("hearts", read.volume_l - 1.0, 69.0, "cask")
    found = against_gauges(RUN, [gauged])["hearts"]
    assert found.volume_l == pytest.approx(-1.0)
    assert found.abv_percent == pytest.approx(69.0 - read.abv_percent)
    assert found.pure_alcohol_l == pytest.approx(0.69 * gauged.volume_l - 70.0)
    assert found.share == pytest.approx(found.pure_alcohol_l / (0.69 * gauged.volume_l))


def test_two_receivers_of_a_cut_are_compared_together() -> None:
    halves = [Receiver("hearts", 50.0, 71.0), Receiver("hearts", 49.0, 69.0)]
    found = against_gauges(RUN, halves)["hearts"]
    assert found.pure_alcohol_l == pytest.approx(35.5 + 33.81 - 70.0)


def test_only_what_was_read_and_gauged_is_compared() -> None:
    assert set(against_gauges(RUN, [Receiver("heads", 5.0, 79.0), Receiver("pot", 90.0, 1.0)])) == {"heads"}


def test_an_empty_receiver_differs_by_all_of_it() -> None:
    found = against_gauges(RUN, [Receiver("heads", 0.0, 0.0)])["heads"]
    assert (found.pure_alcohol_l, found.share) == (pytest.approx(-3.95), 0.0)
    assert found.abv_percent == pytest.approx(-cuts(RUN)["heads"].abv_percent)
