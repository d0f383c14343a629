"""Which version of the rules is in force.

What the rules ask of whoever pours.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.entries.entries import PresetEntry
from kiosk.figures.drinks import Kind, Limit, Server
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import policies
from kiosk.tasting.room.preset_glasses import set_out
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.policy import server
from tests.tasting_room import HOURS, LIMITS, QUARTER_UL, tasting_site


def in_force(tasting, site=None):
    with tasting.store.read() as session:
        return policy.in_force(session, site or tasting.site)


def test_the_confirmed_rules_are_in_force_and_say_who_confirmed_them(tasting):
    assert in_force(tasting).confirmed_by == tasting.ana


def test_a_changed_file_puts_nothing_in_force(tasting, tmp_path):
    looser = tasting_site(tmp_path, limits=(replace(LIMITS[1], most=99), *LIMITS[2:]))
    assert in_force(tasting, looser) is None


def test_a_text_that_nobody_confirmed_counts_for_nothing(tasting, tmp_path):
    other = tasting_site(tmp_path, limits=())
    later = tasting.now + timedelta(hours=1)
    values = {"key": new_key(), "at": later, "recorded_at": later, "digest": policy.digest(other.policy)}
    with tasting.store.write() as session:
        ledgers.append(session, policies, {**values, "body": {}, "basis": ""})
    assert in_force(tasting, other) is None
    assert in_force(tasting) is not None


def test_the_version_confirmed_last_is_in_force(tasting, tmp_path):
    other = tasting_site(tmp_path, limits=())
    with tasting.store.write() as session:
        policy.confirm(session, other, key=new_key(), by=tasting.bea, at=tasting.now)
    assert in_force(tasting, other).confirmed_by == tasting.bea
    assert in_force(tasting) is None


def test_the_full_text_is_kept(tasting):
    with tasting.store.read() as session:
        kept = session.scalar(select(policies.c.body))
    assert [limit["id"] for limit in kept["limits"]] == [limit.id for limit in LIMITS]
    assert kept["hours"][0]["until"] == HOURS[0].until.isoformat()


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
        nobody = server(session, tasting.site.policy, None, tasting.site.service_day(tasting.now))
    assert (nobody.id, nobody.age, nobody.permits) == (0, 0, ())


def test_the_permit_of_somebody_who_is_not_signed_in_here_opens_nothing(tasting):
    asking(tasting, server_permit="class-12")
    permit(tasting, "class-12")
    guest = tasting.guests[0]
    assert tasting.pour(guest, checked=False, here=False).reasons == ("server_permit",)
    with tasting.store.write() as session:
        glass = PresetEntry(tasting.tap(checked=False), tasting.tour, "1", "blanco", QUARTER_UL)
        assert set_out(session, tasting.site, glass, tasting.now).reasons == ("server_permit",)
    told = tasting.pour(guest, asked=False, checked=False, here=False)
    assert (told.outcome, told.reasons) == ("poured", ())  # a fact, and theirs by what was told


def test_where_no_rule_asks_nothing_is_read(tasting):
    day = tasting.site.service_day(tasting.now)
    assert server(None, tasting.site.policy, tasting.ana, day) == Server(tasting.ana)


def test_an_empty_glass_makes_room_for_the_next(tasting):
    asking(tasting, limits=(Limit("standing", Kind.GLASSES, "day", 1),))
    first = tasting.pour(tasting.guests[0])
    assert tasting.pour(tasting.guests[0]).reasons == ("standing",)
    tasting.correct(first.key, "emptied")
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
