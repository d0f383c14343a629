"""The tasting room over HTTP, with script and without.

The table over HTTP: set out, sit down, clear, without a script.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sqlalchemy import select, update

from kiosk.figures.drinks import Kind, Limit, ServicePolicy, fits
from kiosk.site.settings import WelcomeDrink
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import staff_roles
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items, guests
from kiosk.tasting.room.pouring import PresetEntry
from kiosk.tasting.room.preset_glasses import guests_to_ask, record_preset_glass
from kiosk.tasting.room.room import room
from kiosk.tasting.room.room import room as tasting_room
from kiosk.tasting.room.tiles import other_samples
from tests.actors import Clock, hire, running, signed_in, text_of
from tests.costs import cost_of
from tests.tasting_room import HALF_UL, PRODUCTS, QUARTER_UL, Tasting, tasting_site


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


def send(screen, tasting, act, **fields):
    return screen.post(f"{place(tasting)}/{act}", page=place(tasting), key=new_key(), **fields)


def tile_text(screen, tasting, guest):
    return text_of(screen.get(f"{place(tasting)}/{guest}"))


def test_the_room_shows_a_tile_for_each_guest(bar, tasting):
    html = bar.get(place(tasting)).get_data(as_text=True)
    assert html.count("data-guest=") == 2
    assert "Age not checked" in html
    assert "May be served" in html
    assert "June 16, 2005" in html


def test_no_alcohol_and_under_age_look_alike_until_pressed(bar, tasting):
    first, second = tasting.guests
    tasting.mark(first, "no_alcohol")
    tasting.mark(second, "under_age")
    outside = []
    for guest in (first, second):
        html = bar.get(f"{place(tasting)}/{guest}").get_data(as_text=True)
        before = html.partition("<details")[0]
        numbers = r'(data-guest|data-number|id|value)="[^"]*"|(?<=>)\d+(?=</text>)|(?<=Guest )\d+'
        outside.append(re.sub(numbers, "", before))
        assert "Under age" not in before
    assert outside[0].replace("EN", "ES").replace("en", "es") == outside[1].replace("en", "es")


def test_a_tile_decides_the_other_glasses_of_its_own_guest_alone(sqlite_store, site, now):
    tasting = Tasting.begun(sqlite_store, site, now, guests=9)
    tasting.check()
    screen = signed_in(running(site, sqlite_store, Clock(now)), sqlite_store, site, now, "bar", "Celia")
    tile = cost_of(sqlite_store, lambda: screen.get(f"{place(tasting)}/{tasting.guests[0]}"))
    page = cost_of(sqlite_store, lambda: screen.get(place(tasting)))
    assert (tile.calls(other_samples), page.calls(other_samples)) == (1, 9)
    assert tile.calls(fits) < page.calls(fits) / 3
    assert len(tile.queries) <= 12


def test_without_a_script_a_form_pours_and_undoes(bar, tasting):
    guest = tasting.guests[0]
    poured = send(bar, tasting, "pour", guest=guest, glass=f"blanco {QUARTER_UL}")
    assert (poured.status_code, poured.location.endswith(f"#guest-{guest}")) == (303, True)
    assert "Recorded." in bar.get(poured.location).get_data(as_text=True)
    assert "1 pour" in tile_text(bar, tasting, guest)
    key = tasting.room().tiles[0].last.key
    assert send(bar, tasting, "correct", pour=key, kind="void").status_code == 303
    assert "0 pours" in tile_text(bar, tasting, guest)


def test_without_a_script_a_refusal_is_told_with_its_reason(bar, tasting):
    answer = send(bar, tasting, "pour", guest=tasting.guests[1], glass=f"blanco {QUARTER_UL}")
    assert "Age not checked yet" in bar.get(answer.location).get_data(as_text=True)


def test_without_a_script_a_round_is_poured_and_told_by_number(bar, tasting):
    first, second = tasting.guests
    page = bar.get(place(tasting)).get_data(as_text=True)
    assert "Pour for 1 guest" in page
    sent_to = bar.post(
        f"{place(tasting)}/round",
        page=place(tasting),
        key=new_key(),
        glass=f"blanco {QUARTER_UL}",
        guest=[first, second],
    )
    html = bar.get(sent_to.location).get_data(as_text=True)
    told = re.search(r'(?s)id="round".*?</div>', html)[0]
    assert re.findall(r'href="#guest-\d+">(\d+)<', told) == ["1", "2"]
    assert ("Poured" in told, "Refused" in told, "Age" in told) == (True, True, False)
    assert [tile.samples for tile in tasting.room().tiles] == [1, 0]


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


def test_a_form_sent_twice_pours_once(bar, tasting):
    key = new_key()
    for _ in range(2):
        bar.post(
            f"{place(tasting)}/pour",
            page=place(tasting),
            key=key,
            guest=tasting.guests[0],
            glass=f"blanco {QUARTER_UL}",
        )
    assert tasting.room().tiles[0].samples == 1


@pytest.mark.parametrize(
    ("mark", "stamp"),
    [
        ("id_check", "round"),
        ("no_alcohol", "drop"),
        ("under_age", "drop"),
        ("service_stopped", "octagon"),
        ("gone", "free"),
    ],
)
def test_the_shape_under_a_number_is_the_state(bar, tasting, mark, stamp):
    tile = f"{place(tasting)}/{tasting.guests[1]}"
    assert 'stamp broken"' in bar.get(tile).text
    tasting.mark(tasting.guests[1], mark)
    assert f'stamp {stamp}"' in bar.get(tile).text


def test_a_document_seen_opens_the_pouring(bar, tasting):
    assert send(bar, tasting, "mark", guest=tasting.guests[1], kind="id_check").status_code == 303
    assert "May be served" in tile_text(bar, tasting, tasting.guests[1])


def test_a_late_undo_is_refused_with_a_sentence(bar, tasting, clock):
    sent(bar, row(tasting.guests[0]))
    key = tasting.room().tiles[0].last.key
    assert f'name="pour" value="{key}"' in undo_of(bar, tasting)
    clock.pass_s(121)
    assert undo_of(bar, tasting) == ""
    late = send(bar, tasting, "correct", pour=key, kind="void")
    assert late.status_code == 422
    assert "2 minutes" in late.get_data(as_text=True)
    assert send(bar, tasting, "correct", pour=key, kind="void", reason="entered_twice").status_code == 303


def undo_of(screen, tasting):
    """Return what a guest's tile offers for undoing the last pour, or nothing."""
    html = screen.get(f"{place(tasting)}/{tasting.guests[0]}").get_data(as_text=True)
    shown = re.search(r'(?s)<div class="undo".*?</div>', html)
    return shown[0] if shown else ""


def test_the_server_of_a_pour_who_was_not_signed_in_is_shown_as_claimed(bar, tasting):
    guest = tasting.guests[0]
    sent(bar, row(guest, asked=False, by=tasting.bea))
    assert "1 pour claimed" in tile_text(bar, tasting, guest)


@pytest.mark.parametrize("act", ["pour", "mark", "correct"])
def test_a_guest_is_not_served_marked_or_corrected_from_the_address_of_another_tour(bar, tasting, act):
    sent(bar, row(tasting.guests[0]))
    with tasting.store.write() as session:
        first = tasting.tour
        tasting._record_tour(session, (), None, tasting.now)
        other, tasting.tour = tasting.tour, first
    fields = {
        "pour": {"guest": tasting.guests[0], "glass": f"blanco {QUARTER_UL}"},
        "mark": {"guest": tasting.guests[0], "kind": "service_stopped"},
        "correct": {"pour": tasting.room().tiles[0].last.key, "kind": "void"},
    }[act]
    there = f"/staff/tours/{other}/tasting"
    answer = bar.post(f"{there}/{act}", page=there, key=new_key(), **fields)
    assert (answer.status_code, "another tour" in text_of(answer)) == (409, True)
    assert tasting.room().tiles[0].samples == 1


def test_at_the_limit_the_reason_is_told_on_pressing_and_never_stands_on_the_tile(bar, tasting):
    guest = tasting.guests[0]
    for _ in range(6):
        sent(bar, row(guest, product="jengibre"))
    html = bar.get(f"{place(tasting)}/{guest}").get_data(as_text=True)
    folded = "".join(re.findall(r"(?s)<details.*?</details>", html))
    assert "No pours left today." in folded
    assert "No pours left today." not in re.sub(r"(?s)<details.*?</details>", "", html)
    assert "Ponche-Sin" in tile_text(bar, tasting, guest)


def test_another_product_or_size_is_poured_by_one_button(bar, tasting):
    guest = tasting.guests[0]
    html = bar.get(f"{place(tasting)}/{guest}").get_data(as_text=True)
    glasses = re.findall(r'name="glass" value="([^"]+)"', html)
    assert f"jengibre {HALF_UL}" in glasses
    assert not any(glass.startswith("reserva ") for glass in glasses)  # not approved here
    assert send(bar, tasting, "pour", guest=guest, glass=f"jengibre {HALF_UL}").status_code == 303
    assert (tasting.room().tiles[0].last.product, tasting.room().tiles[0].last.volume_ul) == (
        "jengibre",
        HALF_UL,
    )


@pytest.mark.parametrize("glass", ["jengibre", "jengibre x", "jengibre 1 2", ""])
def test_a_glass_that_cannot_be_read_pours_nothing(bar, tasting, glass):
    assert send(bar, tasting, "pour", guest=tasting.guests[0], glass=glass).status_code == 409
    assert tasting.room().tiles[0].samples == 0


def test_a_glass_that_went_to_another_guest_is_noted_from_the_tile(bar, tasting):
    first, second = tasting.guests
    sent(bar, row(first))
    key = tasting.room().tiles[0].last.key
    assert (
        send(
            bar, tasting, "correct", pour=key, kind="reassign", guest=second, reason="wrong_guest"
        ).status_code
        == 303
    )
    assert [tile.samples for tile in tasting.room().tiles] == [0, 1]
    assert "Tell the manager" in tile_text(bar, tasting, second)


@pytest.mark.parametrize(
    ("role", "status"), [("bar", 200), ("guide", 200), ("trainee", 403), ("production", 403)]
)
def test_who_may_open_the_room(bar, tasting, sqlite_store, role, status):
    with sqlite_store.write() as session:
        session.execute(update(staff_roles).where(staff_roles.c.staff_id == bar.person).values(role=role))
    assert bar.get(place(tasting)).status_code == status


def test_an_unknown_tour_is_not_found(bar):
    assert bar.get("/staff/tours/9999/tasting").status_code == 404


def test_who_named_something_in_the_glass_is_asked_in_a_tap_before_it(sqlite_store, now, tmp_path):
    site = tasting_site(tmp_path, welcome_drink=WelcomeDrink.SMALL)
    here = Tasting.begun(sqlite_store, site, now, welcome="welcome")
    here.check()
    here.named(here.guests[0], ["milk"])
    screen = signed_in(running(site, sqlite_store, Clock(now)), sqlite_store, site, now, "bar", "Celia")
    asked, other = (screen.get(f"{place(here)}/{guest}").text for guest in here.guests)
    assert re.search(
        r"<details class=\"ask.*?Ask first: milk.*?value=\"welcome 7393\".*?</details>", asked, re.S
    )
    assert "Ask first" not in other
    for guest, glass in zip(here.guests, ("welcome 7393", "welcome-sin 0"), strict=True):
        assert send(screen, here, "pour", guest=guest, glass=glass).status_code == 303
    assert [tile.next.product for tile in here.room().tiles] == ["blanco", "blanco"]


@pytest.mark.parametrize("sent", ["²", "9" * 5000, "x"])
def test_a_round_with_a_guest_or_a_size_that_is_no_number_pours_nothing(bar, tasting, sent):
    for fields in ({"glass": "blanco 7393", "guest": [sent]}, {"glass": f"blanco {sent}", "guest": ["1"]}):
        answer = bar.post(f"{place(tasting)}/round", page=place(tasting), key=new_key(), **fields)
        assert answer.status_code in (303, 409)
    assert [tile.samples for tile in tasting.room().tiles] == [0, 0]


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
    assert "4 pre-poured glasses wait for their guests." in bar.get(
        f"/staff/tours/{tasting.tour}/tasting"
    ).get_data(as_text=True)


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
    html = bar.get(f"/staff/tours/{tasting.tour}/tasting").get_data(as_text=True)
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
