"""Signing what may be poured, and ending it early."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.production.records.submission import record_cask_sample
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables import production as t
from kiosk.store.tables.shared import history
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.approvals import approving
from kiosk.tasting.approvals.approvals import approved
from kiosk.tasting.approvals.approving import ApprovalEnded, ApprovalFaults, NewApproval
from kiosk.tasting.errors import WhyMissing


def record_lot(tasting, code="BL-09", product="blanco"):
    came = {"recorded_at": tasting.now, "source": "test"}
    values = {"product": product, "bottled_on": tasting.now.date(), "bottles": 12, "bottle_ml": 750}
    values |= {"abv_e2": 4000, "strength_basis": "label", **came}
    with tasting.store.write() as session:
        return rows.insert_batch(session, t.lots, "lot", code, values)


def record_cask(tasting, code="C-1", volume_ml=190_000, alcohol_ml=114_000):
    """Record a cask filled a year ago, with one gauge of it."""
    filled = tasting.now - timedelta(days=365)
    came = {"recorded_at": filled, "source": "test"}
    with tasting.store.write() as session:
        store = rows.insert(session, t.stores, {"code": "S", "name": "store"})
        cask = rows.insert(session, t.casks, {"code": code, "wood": "oak", "capacity_ml": 200_000})
        fill = {"cask_id": cask, "store_id": store, "filled_at": filled, **came}
        fill_id = rows.insert_batch(session, t.fills, "fill", f"F-{code}", fill)
        gauge = {"fill_id": fill_id, "at": filled, "how": "dip", "scale": "density_meter"}
        gauge |= {"volume_ml": volume_ml, "volume_temperature_mc": 20_000, "reading_e2": 6000}
        gauge |= {"temperature_mc": 20_000, "volume20_ml": volume_ml, "alcohol_ml": alcohol_ml, **came}
        rows.insert(session, t.gauges, gauge)
    return fill_id


def entry(tasting, **changes):
    day = tasting.site.service_day(tasting.now)
    what, known = ("R-9", "bottled", "reserva", "BL-09"), (None, "label", None)
    made = NewApproval(*what, *known, "paper 7", "", ("main",), day, None)
    return replace(made, **changes)


def cask_sample(tasting, **changes):
    values = {"kind": "cask_sample", "source": "C-1", "abv_e2": 5950, "abv_basis": "laboratory"}
    return entry(tasting, **{**values, "taken_ul": 500_000, "taken_mc": 20_000, **changes})


def sign(tasting, asked):
    with tasting.store.write() as session:
        return approving.sign(
            session, tasting.site, asked, record_cask_sample, by=tasting.ana, at=tasting.now
        )


def faults(tasting, asked):
    with pytest.raises(ApprovalFaults) as refused:
        sign(tasting, asked)
    return refused.value.faults


def poured_now(tasting, hours=0):
    with tasting.store.read() as session:
        return approved(session, tasting.site, "main", tasting.now + timedelta(hours=hours))


def test_what_a_manager_signed_may_be_poured_from_then_on(tasting):
    lot = record_lot(tasting, product="reserva")
    assert tasting.pour(tasting.guests[0], "reserva").reasons == ("not_approved",)
    signed = sign(tasting, entry(tasting))
    with tasting.store.read() as session:
        row = session.execute(select(approvals).where(approvals.c.id == signed)).one()
    assert (row.batch_id, row.signed_by, row.signed_at) == (lot, tasting.ana, tasting.now)
    assert tasting.pour(tasting.guests[0], "reserva").outcome == "poured"
    assert "reserva" not in poured_now(tasting, hours=-1)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"code": ""}, "code"),
        ({"code": "R" * 35}, "code"),
        ({"kind": "barrel"}, "kind"),
        ({"product": "unknown"}, "product"),
        ({"source": ""}, "source"),
        ({"source": "BL-10"}, "source"),
        ({"abv_e2": 9601}, "abv_percent"),
        ({"abv_basis": "guessed"}, "abv_basis"),
        ({"density_e4": 20_000}, "density"),
        ({"document": ""}, "document"),
        ({"rooms": ()}, "rooms"),
        ({"rooms": ("attic",)}, "rooms"),
    ],
)
def test_what_is_missing_or_cannot_be_is_told_by_field(tasting, changes, field):
    record_lot(tasting, product="reserva")
    assert set(faults(tasting, entry(tasting, **changes))) == {field}


def test_all_that_is_missing_is_told_at_once(tasting):
    asked = entry(tasting, code="", source="", document="", rooms=())
    assert set(faults(tasting, asked)) == {"code", "source", "document", "rooms"}


def test_a_last_day_before_the_first_is_refused(tasting):
    day = tasting.site.service_day(tasting.now)
    record_lot(tasting, product="reserva")
    turned = entry(tasting, from_on=day + timedelta(days=2), until_on=day + timedelta(days=1))
    past = entry(tasting, from_on=day - timedelta(days=9), until_on=day - timedelta(days=1))
    assert set(faults(tasting, turned)) == set(faults(tasting, past)) == {"until_on"}


def test_a_code_is_used_once_so_that_a_form_sent_twice_approves_once(tasting):
    record_lot(tasting, product="reserva")
    sign(tasting, entry(tasting))
    assert set(faults(tasting, entry(tasting))) == {"code"}


def test_a_lot_of_another_product_is_refused(tasting):
    record_lot(tasting, product="anejo")
    assert faults(tasting, entry(tasting))["source"][1] == {"product": "anejo"}


def experiment(tasting, **changes):
    values = {"kind": "experiment", "product": "ensayo-9", "source": "EN-9", "nothing_added": True}
    return entry(tasting, **{**values, "abv_e2": 4800, "abv_basis": "distilled", **changes})


def test_an_experiment_that_is_no_product_yet_is_approved_when_nothing_was_added(tasting):
    record_lot(tasting, "EN-9", "ensayo-9")
    sign(tasting, experiment(tasting))
    assert tasting.pour(tasting.guests[0], "ensayo-9").outcome == "poured"
    assert tasting.room().tiles[0].last.abv_e2 == 4800


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"nothing_added": False}, "nothing_added"),
        ({"kind": "bottled"}, "kind"),
        ({"abv_e2": None}, "abv_percent"),
        ({"abv_basis": "not_known"}, "abv_percent"),
        ({"product": "ensayo-8"}, "product"),
    ],
)
def test_an_experiment_whose_allergens_or_strength_nobody_knows_is_not(tasting, changes, field):
    record_lot(tasting, "EN-9", "ensayo-9")
    assert set(faults(tasting, experiment(tasting, **changes))) == {field}


@pytest.mark.parametrize("named", ["reserva", "bottled"])
def test_where_the_law_asks_a_formula_its_number_is_named(tasting, named):
    record_lot(tasting, product="reserva")
    tasting.site = replace(tasting.site, formula_for=(named,))
    assert set(faults(tasting, entry(tasting))) == {"formula"}
    sign(tasting, entry(tasting, formula="F-1"))


def test_a_drink_without_alcohol_needs_no_lot_and_one_mixed_here_no_document(tasting):
    sign(tasting, entry(tasting, product="ponche-sin", source=""))
    sign(tasting, entry(tasting, code="R-10", kind="mixed", product="jengibre", source="", document=""))


def test_a_strength_that_is_not_known_counts_as_the_spirit_before_fruit_and_water(tasting):
    record_lot(tasting, product="reserva")
    sign(tasting, entry(tasting, abv_e2=3000, abv_basis="not_known"))
    assert tasting.pour(tasting.guests[0], "reserva").outcome == "poured"
    assert tasting.room().tiles[0].last.abv_e2 == tasting.site.products["reserva"].abv_e2 == 4500


def test_a_cask_sample_is_written_on_its_cask_by_the_same_signature(tasting):
    fill = record_cask(tasting)
    signed = sign(tasting, cask_sample(tasting))
    with tasting.store.read() as session:
        event = session.execute(select(t.cask_events)).one()
        row = session.execute(select(approvals).where(approvals.c.id == signed)).one()
    assert (event.fill_id, event.kind, event.recorded_by) == (fill, "sample", tasting.ana)
    # 500 mL at 59.50 % vol and 20 °C
    assert (event.volume20_ml, event.alcohol_ml) == (500, 298)
    assert row.batch_id == fill
    assert tasting.pour(tasting.guests[0], "reserva", 3000).outcome == "poured"
    assert tasting.room().tiles[0].last.abv_e2 == 5950


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"source": "C-2"}, "source"),
        ({"abv_e2": None}, "abv_percent"),
        ({"taken_ul": None}, "taken"),
        ({"taken_ul": 250_000_000}, "taken"),  # more than the cask holds
    ],
)
def test_a_cask_sample_that_cannot_be_leaves_no_approval_and_no_event(tasting, changes, field):
    record_cask(tasting)
    assert set(faults(tasting, cask_sample(tasting, **changes))) == {field}
    with tasting.store.read() as session:
        kept = [session.execute(select(table)).all() for table in (t.cask_events, t.held)]
        assert kept == [[], []]
    assert "reserva" not in poured_now(tasting)


def test_an_ended_approval_pours_no_more_and_says_who_ended_it_and_why(tasting):
    record_lot(tasting, product="reserva")
    signed = sign(tasting, entry(tasting))
    tasting.pour(tasting.guests[0], "reserva")
    tasting.now += timedelta(minutes=10)
    with tasting.store.write() as session:
        approving.end(session, signed, 1, by=tasting.bea, at=tasting.now, why="cloudy")
    assert tasting.pour(tasting.guests[0], "reserva").reasons == ("not_approved",)
    assert "reserva" in poured_now(tasting, hours=-0.1)
    with tasting.store.read() as session:
        kept = session.execute(select(history).where(history.c.table_name == "approvals")).one()
    assert (kept.by, kept.why, kept.revision) == (tasting.bea, "cloudy", 1)


def test_an_approval_ends_once_with_a_reason_and_by_who_saw_it(tasting):
    record_lot(tasting, product="reserva")
    signed = sign(tasting, entry(tasting))

    def end(revision, why):
        with tasting.store.write() as session:
            approving.end(session, signed, revision, by=tasting.ana, at=tasting.now, why=why)

    with pytest.raises(WhyMissing):
        end(1, "")
    changed = {"document": "paper 8"}
    with tasting.store.write() as session:
        rows.change(session, approvals, signed, 1, changed, by=tasting.bea, at=tasting.now)
    with pytest.raises(Stale):
        end(1, "cloudy")
    end(2, "cloudy")
    with pytest.raises(ApprovalEnded):
        end(3, "again")


def test_what_was_poured_though_unapproved_is_recorded_and_flagged(tasting):
    told = tasting.pour(tasting.guests[0], "reserva", asked=False)
    assert (told.outcome, told.reasons) == ("poured", ("not_approved",))
    assert tasting.room().tiles[0].samples == 1
