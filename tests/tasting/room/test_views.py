"""The tasting room over HTTP.

The table over HTTP: set out, sit down, clear, without a script.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sqlalchemy import select, update

from kiosk.figures.drinks import Kind, Limit, ServicePolicy
from kiosk.store.ledgers import key_within, new_key
from kiosk.store.tables.staff import staff_roles
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items, guests
from kiosk.tasting.room.pouring import PresetEntry
from kiosk.tasting.room.preset_glasses import guests_to_ask, record_preset_glass
from kiosk.tasting.room.room import room
from kiosk.tasting.room.room import room as tasting_room
from tests.actors import Clock, hire, running, signed_in, text_of
from tests.tasting_room import PRODUCTS, QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def place(tasting):
    return f"/staff/tours/{tasting.tour}/tasting"


def row(guest, **changes):
    base = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**base, **changes}


def sent(screen, *rows):
    return screen.client.post("/staff/intake", json=list(rows))


def state(screen, tasting):
    return screen.get(f"{place(tasting)}/state").get_json()


def seats(screen, tasting):
    return state(screen, tasting)["guests"]


def test_the_room_is_a_page_for_its_script_which_reads_its_state(bar, tasting):
    html = bar.get(place(tasting)).get_data(as_text=True)
    assert f'data-state="{place(tasting)}/state"' in html
    assert "June 16, 2005" in html
    first, second = seats(bar, tasting)
    assert (first["number"], first["state"], first["count"]) == (1, "may_be_served", 0)
    assert (second["number"], second["state"]) == (2, "not_checked")


def test_turned_to_the_guest_the_page_speaks_their_language(bar, tasting):
    spoken_to = bar.get(f"{place(tasting)}/{tasting.guests[1]}/turn").get_data(as_text=True)
    assert '<html lang="es"' in spoken_to
    assert "identificación" in spoken_to
    assert bar.get(f"{place(tasting)}/9999/turn").status_code == 404


def test_the_strip_names_who_pours_and_a_tap_changes_the_person(bar, tasting, sqlite_store, site, now):
    celia, eva = bar.person, hire(sqlite_store, site, now, "Eva", ("guide",))
    bar.sign_in(eva)
    strip = re.search(r'(?s)class="pouring-as".*?</section>', bar.get(place(tasting)).get_data(as_text=True))[
        0
    ]
    assert ("<strong>Eva</strong>" in strip, "Celia" in strip) == (True, True)
    changed = bar.post("/staff/step-in", page=place(tasting), person=celia, to=place(tasting))
    assert changed.location == place(tasting)
    sent(bar, row(tasting.guests[0]))
    with sqlite_store.read() as session:
        assert session.scalar(select(pours.c.by)) == celia


def test_a_tile_is_judged_for_whoever_pours(sqlite_store, site, now):
    rules = replace(site.policy, server_permit="server")
    tasting = Tasting.begun(sqlite_store, replace(site, policy=rules), now)
    tasting.check()
    with sqlite_store.read() as session:
        seen = room(session, tasting.site, tasting.tour, now, tasting.bea)
    assert seen.tiles[0].next.reasons == ("server_permit",)
    assert tasting.room().tiles[0].next.reasons == ()


def test_the_server_of_a_pour_who_was_not_signed_in_is_shown_as_claimed(bar, tasting):
    sent(bar, row(tasting.guests[0], asked=False, by=tasting.bea))
    assert seats(bar, tasting)[0]["claimed"] == "1 pour claimed"


def test_a_guest_of_another_tour_is_not_served_from_this_room(bar, tasting):
    with tasting.store.write() as session:
        first = tasting.tour
        tasting._record_tour(session, (), None, tasting.now)
        other, tasting.tour = tasting.tour, first
    (answer,) = sent(bar, row(tasting.guests[0], tour=other)).get_json()["answers"]
    assert (answer["outcome"], "another tour" in answer["sentence"]) == ("rejected", True)
    assert seats(bar, tasting)[0]["count"] == 0


def test_what_a_tablet_did_not_know_is_answered_with_a_sentence(bar, tasting):
    believed = {"count": 1, "skipped": 0, "as_of": tasting.now.isoformat()}
    (answer,) = sent(bar, row(tasting.guests[0], believed=believed)).get_json()["answers"]
    assert (answer["outcome"], answer["guest"]) == ("changed", tasting.guests[0])
    assert answer["sentence"].startswith("Something else was recorded for this guest meanwhile")


@pytest.mark.parametrize(
    "believed",
    ["", 1, {}, {"count": 1}, {"count": "1", "skipped": 0, "as_of": "2026-06-16T15:00:00Z"}]
    + [{"count": 1, "skipped": 0, "as_of": as_of} for as_of in (None, "", "2026-06-16", 5)],
)
def test_a_belief_that_cannot_be_read_is_held(bar, tasting, believed):
    (answer,) = sent(bar, row(tasting.guests[0], believed=believed)).get_json()["answers"]
    assert answer["outcome"] == "held"
    assert seats(bar, tasting)[0]["count"] == 0


def test_a_round_is_taken_back_by_one_entry(bar, tasting):
    tasting.check()
    act = new_key()
    for guest in tasting.guests:
        sent(bar, row(guest, key=key_within(act, guest)))
    (answer,) = sent(
        bar, {"ledger": "pour_marks", "key": new_key(), "kind": "void", "round": act}
    ).get_json()["answers"]
    assert answer["outcome"] == "corrected"
    assert [seat["count"] for seat in seats(bar, tasting)] == [0, 0]


@pytest.mark.parametrize(
    ("role", "status"), [("bar", 200), ("guide", 200), ("trainee", 403), ("production", 403)]
)
def test_who_may_open_the_room(bar, tasting, sqlite_store, role, status):
    with sqlite_store.write() as session:
        session.execute(update(staff_roles).where(staff_roles.c.staff_id == bar.person).values(role=role))
    assert bar.get(place(tasting)).status_code == status


def test_an_unknown_tour_is_not_found(bar):
    assert bar.get("/staff/tours/9999/tasting").status_code == 404


def page(tasting):
    return f"/staff/tours/{tasting.tour}/preset-glasses"


def test_the_former_address_of_the_preset_glasses_leads_to_the_present_one(bar, tasting):
    assert bar.get(f"/staff/tours/{tasting.tour}/mats").location == page(tasting)


def act(bar, tasting, name, **fields):
    return bar.post(f"{page(tasting)}/{name}", page=page(tasting), **{"key": new_key(), **fields})


def preset(bar, tasting, **fields):
    return act(bar, tasting, "pour", **{"what": "flight", "first": 1, "last": 2, **fields})


def standing(tasting):
    return sorted((glass.seat, glass.glass) for glass in tasting.room().preset_glasses)


def of_seat(tasting, seat):
    return [glass.key for glass in tasting.room().preset_glasses if glass.seat == seat]


def test_a_flight_is_set_out_for_some_places_and_what_stands_there_is_not_doubled(bar, tasting):
    assert preset(bar, tasting, what="1", last=1).status_code == 303
    assert standing(tasting) == [("1", "blanco")]
    preset(bar, tasting)
    assert standing(tasting) == [("1", "anejo"), ("1", "blanco"), ("2", "anejo"), ("2", "blanco")]
    assert "2 seats with pre-poured glasses" in bar.get(page(tasting)).get_data(as_text=True)
    assert state(bar, tasting)["preset"] == 4


def test_a_guest_sits_down_and_the_rest_is_cleared_by_one_tap(bar, tasting):
    preset(bar, tasting)
    seated = act(bar, tasting, "seat", pour=of_seat(tasting, "2"), guest=tasting.guests[0])
    assert seated.status_code == 303
    assert [tile.samples for tile in tasting.room().tiles] == [2, 0]
    rest = [glass.key for glass in tasting.room().preset_glasses]
    assert act(bar, tasting, "clear", pour=rest).status_code == 303
    assert standing(tasting) == []


def test_a_guest_who_is_not_served_is_told_of_on_pressing(bar, tasting):
    preset(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_seat(tasting, "1"), guest=tasting.guests[1])
    html = bar.get(answer.location).get_data(as_text=True)
    folded = re.search(r"(?s)<details.*?</details>", html)[0]
    assert "Age not checked yet" in folded
    assert len(standing(tasting)) == 2


def test_preset_glasses_that_were_taken_are_named_so(bar, tasting):
    preset(bar, tasting, last=1)
    keys = of_seat(tasting, "1")
    act(bar, tasting, "seat", pour=keys, guest=tasting.guests[0])
    again = act(bar, tasting, "seat", pour=keys, guest=tasting.guests[0])
    assert again.status_code == 409
    assert "already served or removed" in again.get_data(as_text=True)


def test_what_may_not_be_poured_is_not_set_out(bar, sqlite_store, tasting, now):
    with sqlite_store.write() as session:
        tasting.approval(session, "reserva", tasting.site.service_day(now), rooms=["elsewhere"])
        flight = {"flight_id": 1, "pos": 9, "product": "reserva", "volume_ul": 7393}
        session.execute(flight_items.insert().values(flight))
    refused = preset(bar, tasting, what="9")
    assert refused.status_code == 409
    assert "not approved" in refused.get_data(as_text=True)


def test_after_the_tour_the_room_says_that_glasses_still_stand(bar, tasting):
    preset(bar, tasting, last=1)
    tasting.step("finish")
    assert (state(bar, tasting)["preset"], state(bar, tasting)["finished"]) == (2, True)
    html = bar.get(page(tasting)).get_data(as_text=True)
    assert "The tour has ended and pre-poured glasses are still on the table." in html


def test_a_seat_beyond_the_largest_table_pours_nothing_and_says_so(bar, tasting):
    answer = preset(bar, tasting, last=500)
    assert answer.status_code == 422
    assert "Nothing was poured: seat 500 is not there. Allowed: seats 1 to 60." in text_of(answer)
    assert standing(tasting) == []


@pytest.mark.parametrize(
    "fields", [{"last": 0}, {"first": 5, "last": 3}, {"what": "nothing"}, {"last": "x"}, {"first": " "}]
)
def test_places_or_samples_that_are_none_set_nothing_out(bar, tasting, fields):
    assert preset(bar, tasting, **fields).status_code == 303
    assert standing(tasting) == []


def test_who_named_an_allergen_in_a_glass_is_asked_before_they_sit_down(sqlite_store, now, tmp_path):
    gluten = replace(PRODUCTS["anejo"], allergens=("gluten",))
    site = tasting_site(tmp_path, products={**PRODUCTS, "anejo": gluten})
    tasting = Tasting.begun(sqlite_store, site, now)
    with sqlite_store.write() as session:
        session.execute(update(guests).where(guests.c.number == 2).values(allergens=["gluten"]))
        for n, product in enumerate(("blanco", "anejo")):
            assert [
                tile.number for tile in guests_to_ask(tasting_room(session, site, tasting.tour, now))
            ] == []
            sent = PresetEntry(tasting.origin(), tasting.tour, str(n + 1), product, QUARTER_UL)
            record_preset_glass(session, site, sent, now)
        assert [tile.number for tile in guests_to_ask(tasting_room(session, site, tasting.tour, now))] == [2]


def test_what_of_preset_glasses_was_not_served_is_named_to_be_taken_away(bar, tasting):
    tasting.mark(tasting.guests[0], "no_alcohol")
    preset(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_seat(tasting, "1"), guest=tasting.guests[0])
    html = bar.get(answer.location).get_data(as_text=True)
    assert re.search(r"Take away, unserved: \w+, \w+", html)
    assert "Alcohol" not in html  # why is on the guest's tile, for whoever presses


def test_of_preset_glasses_decided_glass_by_glass_the_page_says_what_was_refused_and_why(
    sqlite_store, now, tmp_path
):
    one = Limit("one_pour", Kind.POURS, "day", most=1, basis="house", year=2026)
    rules = ServicePolicy(21, "invented for a test", 2026, (one,), mat="glass")
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path, policy=rules), now)
    tasting.check()
    app = running(tasting.site, sqlite_store, Clock(now))
    bar = signed_in(app, sqlite_store, tasting.site, now, "bar", "Celia")
    preset(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_seat(tasting, "1"), guest=tasting.guests[0])
    html = bar.get(answer.location).get_data(as_text=True)
    assert re.search(r"Take away, unserved: \w+<", html)
    assert "left today" in re.search(r"(?s)<details.*?</details>", html)[0]


def test_what_is_planned_twice_is_set_out_twice_also_one_sample_after_the_other(sqlite_store, now, tmp_path):
    flight = [("blanco", QUARTER_UL), ("anejo", QUARTER_UL), ("blanco", QUARTER_UL)]
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, flight=flight)
    app = running(tasting.site, sqlite_store, Clock(now))
    bar = signed_in(app, sqlite_store, tasting.site, now, "bar", "Celia")
    for what in ("1", "3", "flight", "flight"):
        preset(bar, tasting, what=what, last=1)
    assert [glass for _, glass in standing(tasting)] == ["anejo", "blanco", "blanco"]
