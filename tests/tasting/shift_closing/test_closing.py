"""The closing counts reasons and servings, of its own room and shift alone.

The closing of a shift: whole, signed, never changed, and revised by later truth.
"""

from __future__ import annotations

import random
import threading
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import policies, shift_closings
from kiosk.tasting.room.pouring import PourEntry, pour
from kiosk.tasting.rules.judging import judge
from kiosk.tasting.rules.policy import digest
from kiosk.tasting.shift_closing import closing
from kiosk.tasting.shift_closing.balances import Typed
from kiosk.tasting.shift_closing.closing import BreachCounts, count_breaches
from kiosk.tasting.shift_closing.typed import NoLongerFits
from tests.bar import approval_of, looked_at, opened, stocked, told
from tests.tasting_room import HALF_UL, QUARTER_UL, Tasting, tasting_site


def counted(tasting: Tasting, room: str = "main", days: int = 0) -> BreachCounts:
    day = tasting.site.service_day(tasting.now) + timedelta(days=days)
    with tasting.store.read() as session:
        since, until = tasting.site.day_bounds(day)
        return count_breaches(judge(session, tasting.site, since, until, room))


def test_reasons_are_counted_by_serving(tasting: Tasting) -> None:
    second = tasting.guests[1]
    for _ in range(2):
        tasting.pour(second, asked=False)  # a guest whom nobody checked
    assert counted(tasting) == BreachCounts({"not_checked": 2}, servings=2)


def test_another_room_and_another_day_have_none_of_it(tasting: Tasting) -> None:
    tasting.pour(tasting.guests[1], asked=False)
    assert counted(tasting, room="terrace") == counted(tasting, days=1) == BreachCounts()


def test_rules_that_nobody_here_can_read_are_told_apart(tasting: Tasting) -> None:
    """The rules in force under a body that says something else, as a later release may write it."""
    body = {"colour": "red"}
    at = tasting.now - timedelta(hours=1)
    with tasting.store.write() as session:
        values = {"key": new_key(), "at": at, "recorded_at": at, "by": tasting.ana, "basis": "house rule"}
        session.execute(policies.insert().values(**values, digest=digest(tasting.site.policy), body=body))
    tasting.pour(tasting.guests[0])
    assert counted(tasting) == BreachCounts(not_judged=1)


# 100 mL at 40 % vol weigh 94.8 g (OIML R 22).
G_PER_ML = 0.948


def body(tasting, temperature_c=20.0):
    with tasting.store.read() as session:
        return closing.body(
            session, tasting.site, "main", tasting.site.service_day(tasting.now), temperature_c
        )


def of(told_body, product="blanco"):
    return next(one for one in told_body["products"] if one["product"] == product)


def signed(tasting, at=None, key=None):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        return closing.sign(session, tasting.site, tasting.origin(key), "main", day, 20.0, at or tasting.now)


def test_of_what_is_typed_all_or_nothing_is_recorded(tasting):
    """The count and the first weight fit; the second became impossible after it was checked."""
    stocked(tasting, "received", 2, at=later(tasting, hours=-2))
    first, second = (opened(tasting, at=later(tasting, hours=-1)) for _ in range(2))
    counts = {(approval_of(tasting, "blanco"), 750): 0}
    day = tasting.site.service_day(tasting.now)

    def sign(grams):
        typed = Typed(tasting.now, 20.0, {first: 1000, second: grams}, counts)
        with tasting.store.write() as session:
            return closing.sign(
                session, tasting.site, tasting.origin(), "main", day, 20.0, tasting.now, typed
            )

    before = body(tasting)
    with pytest.raises(NoLongerFits):
        sign(1300)
    assert body(tasting) == before
    told(tasting, second, "close")
    with pytest.raises(NoLongerFits):
        sign(1000)
    assert of(body(tasting))["not_counted"]


def test_what_is_typed_counts_as_what_is_recorded(tasting):
    stocked(tasting, "received", 2, at=later(tasting, hours=-2))
    bottle = opened(tasting, at=later(tasting, hours=-1))
    tasting.pour(tasting.guests[0])
    counts = {(approval_of(tasting, "blanco"), 750): 3}
    at = later(tasting, minutes=1)
    typed = Typed(at, 20.0, {bottle: 1190}, counts)
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        preview = closing.shift_record(session, tasting.site, "main", day, 20.0, typed=typed)
    ((open_bottle,), (sealed,)) = (preview.products[0].bottles, preview.products[0].sealed)
    assert (open_bottle.weighed_g, sealed.counted, sealed.expected) == (1190, 3, 1)
    assert open_bottle.expected_ul == 750_000 - QUARTER_UL
    with tasting.store.write() as session:
        row = closing.sign(session, tasting.site, tasting.origin(), "main", day, 20.0, at, typed)
    counted = row.body.pop("counted")
    assert row.body == preview.body
    assert len(counted) == 5
    assert of(row.body)["difference_ul"] < -1_000_000  # two bottles more were counted than there can be


def later(tasting, **delta):
    return tasting.now + timedelta(**delta)


def test_a_whole_shift_balances_to_the_gram(tasting):
    """Six sealed, one opened; seven glasses, a spill, house use; what is left is weighed."""
    stocked(tasting, "received", 6, at=later(tasting, hours=-2))
    bottle = opened(tasting, at=later(tasting, hours=-1))
    poured = [tasting.pour(tasting.guests[0]) for _ in range(6)]
    tasting.correct(poured[4].key, "not_served")
    tasting.correct(poured[5].key, "void")
    told(tasting, bottle, "spill", volume_ul=20_000)
    told(tasting, bottle, "house_use", volume_ul=30_000, used_by=tasting.bea)
    left_ml = 750 - 5 * QUARTER_UL / 1000 - 50 - 4  # 4 mL more than told
    weighed = {"gross_g": round(500 + left_ml * G_PER_ML), "temperature_mc": 20_000}
    told(tasting, bottle, "weigh", at=later(tasting, minutes=1), **weighed)
    stocked(tasting, "counted", 5)
    found = of(body(tasting))
    assert (found["opening_ul"], found["received_ul"], found["moved_out_ul"]) == (0, 4_500_000, 0)
    assert (found["served_ul"], found["cleared_ul"]) == (4 * QUARTER_UL, QUARTER_UL)
    assert (found["spilt_ul"], found["house_use_ul"]) == (20_000, 30_000)
    assert found["difference_ul"] == pytest.approx(4000, abs=700)
    assert found["over_pour_ul"] == pytest.approx(800, abs=140)
    assert (found["pours"], found["within"], found["not_weighed"], found["not_counted"]) == (
        5,
        True,
        [],
        False,
    )
    # Pure alcohol of all that was used, 40 % of it, by the stock.
    used = found["opening_ul"] + found["received_ul"] - found["moved_out_ul"] - found["closing_ul"]
    assert found["alcohol_ul"] == pytest.approx(used * 0.4, abs=2)


def test_yesterdays_open_bottle_is_todays_opening_stock(tasting):
    bottle = opened(tasting, at=later(tasting, hours=-3))
    told(tasting, bottle, "weigh", gross_g=1000, temperature_mc=20_000, at=later(tasting, hours=-2))
    tasting.now = later(tasting, days=1)
    told(tasting, bottle, "weigh", gross_g=900, temperature_mc=20_000)
    found = of(body(tasting))
    assert found["opening_ul"] == pytest.approx((1000 - 500) / G_PER_ML * 1000, abs=700)
    assert found["difference_ul"] == pytest.approx(100 / G_PER_ML * 1000, abs=10)
    assert not found["within"]


def test_what_nobody_looked_at_is_said(tasting):
    opened(tasting)
    found = of(body(tasting))
    assert (len(found["not_weighed"]), found["not_counted"]) == (1, True)


def test_pours_are_counted_by_server_and_guests_by_what_they_had(tasting):
    first, second = tasting.guests
    tasting.pour(first)
    moved = tasting.pour(first, by=tasting.bea)
    tasting.correct(moved.key, "reassign", second)
    tasting.pour(second)  # refused: not checked
    found = body(tasting)
    by = {one["staff_id"]: (one["pours"], one["volume_ul"]) for one in found["servers"]}
    assert by == {tasting.ana: (1, QUARTER_UL), tasting.bea: (1, QUARTER_UL)}
    assert (found["guests_served"], found["pours"]) == (2, 2)
    assert found["refusals"] == {"asked": 1, "reasons": {"not_checked": 1}}


def test_a_glass_for_somebody_unchecked_is_a_breach(tasting):
    first, second = tasting.guests
    moved = tasting.pour(first)
    tasting.correct(moved.key, "reassign", second)
    assert body(tasting)["breaches"] == {"servings": 1, "reasons": {"not_checked": 1}}


def test_a_day_within_the_rules_has_no_breach(tasting):
    for _ in range(3):
        tasting.pour(tasting.guests[0])
    assert body(tasting)["breaches"] == {"servings": 0, "reasons": {}}


def test_an_approval_covers_the_glasses_between_its_signing_and_its_end(tasting):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        signed_at, ended_at = later(tasting, minutes=10), later(tasting, minutes=20)
        tasting.approval(session, "reserva", day, signed_at=signed_at, ended_at=ended_at)
    for _ in range(3):
        tasting.pour(tasting.guests[0], "reserva", asked=False)
        tasting.now = later(tasting, minutes=10)
    assert body(tasting)["breaches"] == {"servings": 2, "reasons": {"not_approved": 2}}


def test_a_glass_told_afterwards_beyond_the_limit_is_a_breach_of_its_own_time(tasting):
    for _ in range(3):
        tasting.pour(tasting.guests[0], volume_ul=HALF_UL)
    tasting.pour(tasting.guests[0], asked=False)
    found = body(tasting)["breaches"]
    assert found["servings"] == 1
    assert "day_volume" in found["reasons"]


def test_late_truth_signs_a_new_revision_and_leaves_the_old_one(tasting):
    opened(tasting, at=later(tasting, hours=-1))
    tasting.pour(tasting.guests[0])
    first = signed(tasting)
    assert (first.revision, first.body["after_closing"]) == (1, [])
    with tasting.store.read() as session:
        assert closing.entries_since(session, tasting.site, first) == 0
    tasting.now = later(tasting, minutes=30)
    happened = tasting.now - timedelta(minutes=45)
    tasting.pour(tasting.guests[0], asked=False, happened_at=happened)
    with tasting.store.read() as session:
        assert closing.entries_since(session, tasting.site, first) == 1
    second = signed(tasting)
    assert second.revision == 2
    assert second.body["after_closing"] == [{"product": "blanco", "pours": 1, "volume_ul": QUARTER_UL}]
    assert of(second.body)["pours"] == 2
    with tasting.store.read() as session:
        kept = closing.signed_closings(session, "main", first.day)
    assert [one.revision for one in kept] == [2, 1]
    assert kept[1] == first


def test_bottles_and_stock_told_late_ask_for_a_new_revision_too(tasting):
    bottle = opened(tasting, at=later(tasting, hours=-1))
    first = signed(tasting)
    told(tasting, bottle, "spill", volume_ul=1000, at=later(tasting, minutes=1))
    stocked(tasting, "counted", 0, at=later(tasting, minutes=2))
    with tasting.store.read() as session:
        assert closing.entries_since(session, tasting.site, first) == 2


def test_what_was_served_under_earlier_rules_is_judged_by_them(tasting):
    for _ in range(4):
        tasting.pour(tasting.guests[0], volume_ul=HALF_UL, asked=False)
    looser = tasting_site(tasting.site.folder, limits=())
    with tasting.store.read() as session:
        found = closing.body(session, looser, "main", looser.service_day(tasting.now), 20.0)
    assert (found["not_judged"], found["breaches"]["servings"]) == (0, 1)
    assert "day_volume" in found["breaches"]["reasons"]


def test_a_closing_sent_again_is_signed_once(tasting):
    once = signed(tasting, key="a" * 32)
    assert signed(tasting, key="a" * 32) == once
    with tasting.store.read() as session:
        assert len(session.execute(select(shift_closings)).all()) == 1


def test_a_closing_holds_no_names(tasting):
    tasting.pour(tasting.guests[0])
    assert "Ana" not in str(signed(tasting).body)


@pytest.mark.parametrize("seed", range(4))
def test_over_random_shifts_bottles_and_guests_tell_the_same(sqlite_store, tmp_path, now, seed):
    """Every act goes through the use cases; bottles, room and closing each fold the ledgers themselves."""
    rng = random.Random(seed)
    site = tasting_site(tmp_path, limits=())
    tasting = Tasting.begun(sqlite_store, site, now, guests=3)
    tasting.check()
    bottles = [opened(tasting)]
    for _ in range(40):
        match rng.choice(["pour", "pour", "pour", "correct", "spill", "use", "swap"]):
            case "pour":
                tasting.pour(rng.choice(tasting.guests), volume_ul=rng.choice([QUARTER_UL, HALF_UL]))
            case "correct":
                answer = tasting.pour(rng.choice(tasting.guests))
                kind = rng.choice(["void", "not_served", "unfinished", "reassign", "cleared", "finished"])
                to = rng.choice(tasting.guests) if kind == "reassign" else None
                tasting.correct(answer.key, kind, to)
            case "spill":
                told(tasting, bottles[-1], "spill", volume_ul=rng.randrange(5000))
            case "use":
                told(tasting, bottles[-1], "house_use", volume_ul=rng.randrange(5000), used_by=tasting.ana)
            case "swap":
                told(tasting, bottles[-1], "close")
                tasting.now += timedelta(seconds=1)
                bottles.append(opened(tasting))
    accounts = [looked_at(tasting, bottle).account() for bottle in bottles]
    served = sum(account.served_ul for account in accounts)
    found = of(body(tasting))
    assert served == found["served_ul"]
    for account in accounts:
        parts = account.served_ul + account.cleared_ul + account.preset_ul + account.spilt_ul
        assert parts + account.house_use_ul + account.left_ul == account.size_ul
    samples = sum(tile.samples for tile in tasting.room().tiles)
    assert samples == sum(one["pours"] for one in body(tasting)["servers"])


def happened_at_once(tasting, bottle):
    """Record one of each kind of entry that a shift counts, all in this instant."""
    first, second = tasting.guests
    moved = tasting.pour(first, asked=False)
    tasting.correct(moved.key, "reassign", second)
    assert tasting.pour(second).outcome == "refused"
    told(tasting, bottle, "spill", volume_ul=1000)
    told(tasting, bottle, "house_use", volume_ul=2000, used_by=tasting.ana)
    stocked(tasting, "received", 3)


@pytest.mark.parametrize(("day_before", "counted"), [(0, True), (1, False)])
def test_the_instant_at_which_the_day_turns_belongs_to_the_new_day_alone(tasting, day_before, counted):
    bottle, day = opened(tasting), tasting.site.service_day(tasting.now)
    _, tasting.now = tasting.site.day_bounds(day)
    happened_at_once(tasting, bottle)
    day += timedelta(days=1 - day_before)
    with tasting.store.read() as session:
        found = closing.body(session, tasting.site, "main", day, 20.0)
    blanco = of(found)
    assert (found["pours"], found["guests_served"], found["refusals"]["asked"]) == (counted,) * 3
    assert len(found["servers"]) == counted
    assert [one["volume_ul"] for one in found["house_use"]] == [2000] * counted
    assert (blanco["served_ul"], blanco["spilt_ul"]) == (QUARTER_UL * counted, 1000 * counted)
    received_ul = 2_250_000 if counted else 750_000  # the bottle that was opened came on the day before
    assert (blanco["house_use_ul"], blanco["received_ul"]) == (2000 * counted, received_ul)


@pytest.mark.parametrize(("day_before", "entries", "pours"), [(0, 5, 1), (1, 0, 0)])
def test_later_truth_is_of_the_day_in_which_it_happened(tasting, day_before, entries, pours):
    bottle, day = opened(tasting), tasting.site.service_day(tasting.now)
    _, tasting.now = tasting.site.day_bounds(day)
    before, of_day = tasting.now - timedelta(hours=1), day + timedelta(days=1 - day_before)
    with tasting.store.write() as session:
        signed_then = closing.sign(session, tasting.site, tasting.origin(), "main", of_day, 20.0, before)
    happened_at_once(tasting, bottle)
    with tasting.store.read() as session:
        assert closing.entries_since(session, tasting.site, signed_then) == entries
        late = closing.body(session, tasting.site, "main", of_day, 20.0)["after_closing"]
    assert sum(one["pours"] for one in late) == pours


def test_what_was_recorded_in_the_instant_of_signing_and_counted_is_no_later_truth(tasting):
    bottle = opened(tasting, at=later(tasting, hours=-1))
    happened_at_once(tasting, bottle)
    first = signed(tasting)
    with tasting.store.read() as session:
        assert closing.entries_since(session, tasting.site, first) == 0
    assert signed(tasting).body["after_closing"] == []


def since(tasting, closing_row):
    with tasting.store.read() as session:
        return closing.entries_since(session, tasting.site, closing_row)


def test_a_pour_whose_request_began_before_the_signature_and_was_recorded_after_it_is_told(tasting):
    """A tablet's request waits its turn behind the signature: its time is earlier, its commit later."""
    guest = tasting.guests[0]
    tasting.pour(guest)
    first = signed(tasting, at=later(tasting, seconds=2))
    assert since(tasting, first) == 0
    slow = tasting.pour(guest)
    tasting.correct(slow.key, "unfinished")
    told(tasting, opened(tasting), "spill", volume_ul=1000)
    assert since(tasting, first) == 4
    assert body(tasting)["after_closing"] == [{"product": "blanco", "pours": 1, "volume_ul": QUARTER_UL}]
    second = signed(tasting, at=later(tasting, seconds=3))
    assert since(tasting, second) == 0
    assert since(tasting, first) == 4


def test_a_pour_that_another_connection_commits_while_a_closing_is_signed_is_counted_or_told(tasting):
    """An open transaction on PostgreSQL; on SQLite a signature waits until no other transaction writes."""
    guest, day = tasting.guests[0], tasting.site.service_day(tasting.now)
    sign = threading.Thread(target=signed, args=(tasting, later(tasting, seconds=2)))
    with tasting.store.write() as session:
        entry = PourEntry(tasting.origin(), guest, "blanco", QUARTER_UL, True, True)
        pour(session, tasting.site, entry, tasting.now)
        sign.start()
        sign.join(timeout=1.0)
        assert sign.is_alive() == (tasting.store.dialect == "sqlite")
    sign.join(timeout=30)
    with tasting.store.read() as session:
        (row,) = closing.signed_closings(session, "main", day)
    assert row.body["pours"] + since(tasting, row) == 1


def test_a_closing_from_before_keys_were_kept_is_compared_by_time(tasting):
    tasting.pour(tasting.guests[0])
    former = signed(tasting)
    with tasting.store.write() as session:
        values = {**former._mapping, "key": new_key(), "revision": 2}
        values["body"] = {name: part for name, part in former.body.items() if name != "counted"}
        session.execute(shift_closings.insert().values(values))
        row = closing.signed_closings(session, "main", former.day)[0]
    assert since(tasting, row) == 0
    tasting.now = later(tasting, seconds=1)
    tasting.pour(tasting.guests[0])
    assert since(tasting, row) == 1


def test_every_query_of_a_signature_sees_the_same_records(tasting, monkeypatch):
    """What commits between two of its queries is in none of them, and told afterwards."""
    if tasting.store.dialect == "sqlite":
        pytest.skip("on SQLite nothing commits while a signature is written")
    read = closing.balances

    def pour_first(*args):
        tasting.pour(tasting.guests[0])
        return read(*args)

    monkeypatch.setattr(closing, "balances", pour_first)
    row = signed(tasting)
    assert (row.body["pours"], row.body["counted"]) == (0, [])
    assert since(tasting, row) == 1
