"""Where a guest stands, read under the guest's lock in two queries; what the rules ask of a server."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import event

from kiosk.figures.drinks import Kind, Limit, Server, ServiceState
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import permits
from kiosk.tasting.room.pouring import PresetEntry
from kiosk.tasting.room.preset_glasses import record_preset_glass
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.pour_context import lock_and_read_context, server_with_permits
from tests.databases import NOW
from tests.plans import scanned
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site

# As long as a house's list of approvals and of confirmed rules ("anon_1": the newest of them);
# a room's latest bottles of one product, so many at most, and the one of them that is open.
OF_THE_HOUSE = {"approvals", "policies", "anon_1", "recent", "opened"}


def standing(tasting, guest, key=None, product=""):
    with tasting.store.write() as session:
        return lock_and_read_context(session, tasting.site, guest, key or new_key(), tasting.now, product)


def test_a_standing_holds_state_servings_steps_rules_and_the_key(tasting):
    first = tasting.guests[0]
    tasting.step("start")
    poured = tasting.pour(first)
    refused = tasting.pour(tasting.guests[1])
    found = standing(tasting, first, poured.key)
    assert found.guest.state is ServiceState.MAY_BE_SERVED
    assert [one.key for one in found.served] == [poured.key]
    assert (found.guest.tour_started_at, found.guest.tour_ended_at) == (tasting.now, None)
    assert (found.recorded_in, found.of_today) == ("pours", True)
    assert found.policy_key
    assert standing(tasting, first, refused.key).recorded_in == "refusals"
    assert standing(tasting, first).recorded_in == ""


def test_a_glass_moved_here_is_among_the_servings_and_gone_from_there(tasting):
    first, second = tasting.guests
    poured = tasting.pour(first)
    tasting.correct(poured.key, "reassign", second)
    assert [one.key for one in standing(tasting, second).served] == [poured.key]
    assert standing(tasting, first).served == []


def test_however_much_was_poured_two_queries_are_asked(tasting):
    for _ in range(4):
        tasting.pour(tasting.guests[0])
    seen = []

    def note(*args):
        seen.append(args[2])

    event.listen(tasting.store.engine, "before_cursor_execute", note)
    standing(tasting, tasting.guests[0])
    event.remove(tasting.store.engine, "before_cursor_execute", note)
    assert len([sql for sql in seen if "SELECT" in sql]) == 2


ELSEWHERE_OR_NOT_NOW = [
    {"rooms": ["cellar"]},
    {"from_on": date(2026, 6, 17)},
    {"from_on": date(2026, 6, 1), "until_on": date(2026, 6, 15)},
    {"ended_at": NOW},
]


@pytest.mark.parametrize("changes", ELSEWHERE_OR_NOT_NOW)
def test_of_a_product_only_what_is_approved_in_this_room_now_is_at_hand(tasting, changes):
    here = standing(tasting, tasting.guests[0], product="blanco").approved
    with tasting.store.write() as session:
        tasting.approval(session, "blanco", tasting.site.service_day(tasting.now), **changes)
    assert standing(tasting, tasting.guests[0], product="blanco").approved == here
    assert [(one.product, one.abv_e2, one.abv_basis) for one in here] == [("blanco", None, "label")]


def test_an_unknown_guest_stands_nowhere(tasting):
    with pytest.raises(NoSuchRow):
        standing(tasting, 9999)


def test_a_tap_reads_no_entries_of_other_guests(sqlite_store, tmp_path, now):
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now)
    tasting.check()
    for _ in range(2):
        tasting.pour(tasting.guests[0])
    read = scanned(sqlite_store, lambda: tasting.pour(tasting.guests[0]))
    assert read <= OF_THE_HOUSE
    assert scanned(sqlite_store, tasting.room) <= OF_THE_HOUSE


def asking(tasting, **rules):
    """Put rules of the house in force."""
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, **rules))
    with tasting.store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=tasting.ana, at=tasting.now)


def permit(tasting, kind, *, from_days=-30, until_days=30):
    day = tasting.site.service_day(tasting.now)
    values = {
        "staff_id": tasting.ana,
        "kind": kind,
        "number": "invented",
        "valid_from": day + timedelta(days=from_days),
        "valid_until": day + timedelta(days=until_days),
    }
    with tasting.store.write() as session:
        rows.insert(session, permits, values)


def test_a_pour_needs_the_permit_that_the_rules_name(tasting):
    asking(tasting, server_permit="class-12")
    assert tasting.pour(tasting.guests[0]).reasons == ("server_permit",)
    permit(tasting, "something else")
    assert tasting.pour(tasting.guests[0]).reasons == ("server_permit",)
    permit(tasting, "class-12")
    assert tasting.pour(tasting.guests[0]).outcome == "poured"


@pytest.mark.parametrize(
    ("from_days", "until_days", "holds"), [(0, 0, True), (-9, -1, False), (1, 9, False), (-9, 0, True)]
)
def test_a_permit_holds_from_its_first_day_to_its_last(tasting, from_days, until_days, holds):
    asking(tasting, server_permit="class-12")
    permit(tasting, "class-12", from_days=from_days, until_days=until_days)
    assert (tasting.pour(tasting.guests[0]).outcome == "poured") is holds


@pytest.mark.parametrize(("kind", "reasons"), [("age-20", ("server_age",)), ("age-21", ()), ("age-25", ())])
def test_a_server_is_as_old_as_the_document_that_was_seen(tasting, kind, reasons):
    # California B&P 23363.1(c): whoever serves is 21 or older
    asking(tasting, server_age=21)
    assert tasting.pour(tasting.guests[0]).reasons == ("server_age",)
    permit(tasting, kind)
    assert tasting.pour(tasting.guests[0]).reasons == reasons


def test_a_tap_that_names_nobody_has_no_permit_and_no_age(tasting):
    asking(tasting, server_age=21, server_permit="class-12")
    with tasting.store.read() as session:
        nobody = server_with_permits(
            session, tasting.site.policy, None, tasting.site.service_day(tasting.now)
        )
    assert (nobody.id, nobody.age, nobody.permits) == (0, 0, ())


def test_the_permit_of_somebody_who_is_not_signed_in_here_opens_nothing(tasting):
    asking(tasting, server_permit="class-12")
    permit(tasting, "class-12")
    guest = tasting.guests[0]
    assert tasting.pour(guest, checked=False, here=False).reasons == ("server_permit",)
    with tasting.store.write() as session:
        glass = PresetEntry(tasting.origin(checked=False), tasting.tour, "1", "blanco", QUARTER_UL)
        assert record_preset_glass(session, tasting.site, glass, tasting.now).reasons == ("server_permit",)
    told = tasting.pour(guest, asked=False, checked=False, here=False)
    assert (told.outcome, told.reasons) == ("poured", ("server_permit",))  # a fact, recorded and flagged


def test_where_no_rule_asks_nothing_is_read(tasting):
    day = tasting.site.service_day(tasting.now)
    assert server_with_permits(None, tasting.site.policy, tasting.ana, day) == Server(tasting.ana)


def test_an_empty_glass_makes_room_for_the_next(tasting):
    asking(tasting, limits=(Limit("standing", Kind.GLASSES, "day", 1),))
    first = tasting.pour(tasting.guests[0])
    assert tasting.pour(tasting.guests[0]).reasons == ("standing",)
    tasting.correct(first.key, "finished")
    assert tasting.pour(tasting.guests[0]).outcome == "poured"


def test_what_somebody_else_made_is_not_poured_where_the_law_wants_own_make(tasting):
    asking(tasting, own_only=True)
    foreign = replace(tasting.site.products["blanco"], own=False)
    tasting.site = replace(tasting.site, products={**tasting.site.products, "blanco": foreign})
    assert tasting.pour(tasting.guests[0], "blanco").reasons == ("not_own",)
    assert tasting.pour(tasting.guests[0], "anejo").outcome == "poured"


def test_a_mixed_glass_is_not_poured_where_spirits_are_neat_only(tasting):
    asking(tasting, mixers=False)
    assert tasting.pour(tasting.guests[0], neat=False).reasons == ("neat_only",)
    assert tasting.pour(tasting.guests[0]).outcome == "poured"
