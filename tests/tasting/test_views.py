"""The tasting room over HTTP, with script and without."""

from __future__ import annotations

import re
from contextlib import closing

import pytest
from sqlalchemy import make_url, update

from kiosk.app import create_app
from kiosk.store.keys import new_key
from kiosk.store.sqlite import driver
from kiosk.store.tables.staff import devices, staff, staff_roles
from tests.actors import Clock, Screen, hire
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def site(tmp_path):
    return tasting_site(tmp_path)


@pytest.fixture
def tasting(sqlite_store, site, now):
    begun = Tasting.begun(sqlite_store, site, now)
    begun.check(begun.guests[0])
    return begun


@pytest.fixture
def clock(now):
    return Clock(now)


@pytest.fixture
def app(tasting, site, sqlite_store, clock):
    made = create_app(site, sqlite_store, clock, features=("web", "staff", "tasting"))
    made.testing = True
    return made


@pytest.fixture
def bar(app, tasting, sqlite_store, site, now):
    """A tablet on which Celia of the bar is signed in."""
    screen = Screen(app)
    screen.celia = hire(sqlite_store, site, now, "Celia", ("bar",))
    screen.enrol(sqlite_store, site, now, name="bar tablet")
    screen.sign_in(screen.celia)
    return screen


def place(tasting):
    return f"/staff/tours/{tasting.tour}/tasting"


def row(guest, **changes):
    base = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**base, **changes}


def sent(screen, *rows):
    return screen.client.post("/staff/intake", json=list(rows))


def tap(screen, tasting, act, **fields):
    return screen.post(f"{place(tasting)}/{act}", page=place(tasting), key=new_key(), **fields)


def tile_text(screen, tasting, guest):
    html = screen.get(f"{place(tasting)}/{guest}").get_data(as_text=True)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_intake_answers_each_row_in_the_readers_language(bar, tasting):
    answer = sent(bar, row(tasting.guests[0]), row(tasting.guests[1]))
    poured, refused = answer.json["answers"]
    assert (answer.status_code, poured["outcome"], refused["outcome"]) == (200, "poured", "refused")
    assert (refused["reasons"], bool(refused["sentence"])) == (["not_checked"], True)
    bar.get("/language/es")
    assert sent(bar, row(tasting.guests[1])).json["answers"][0]["sentence"]


def test_intake_speaks_as_whoever_sends_unless_the_device_chose(bar, tasting, sqlite_store):
    bar.get("/language/en")
    in_english = sent(bar, row(tasting.guests[1])).json["answers"][0]["sentence"]
    bar.client.delete_cookie("language")
    with sqlite_store.write() as session:
        session.execute(update(staff).where(staff.c.id == bar.celia).values(languages=["es"]))
    assert sent(bar, row(tasting.guests[1])).json["answers"][0]["sentence"] != in_english


def test_the_same_key_is_answered_alike_and_another_body_is_409(bar, tasting):
    pour = row(tasting.guests[0])
    assert sent(bar, pour).json == sent(bar, pour).json
    conflict = sent(bar, {**pour, "volume_ul": 1})
    assert conflict.status_code == 409
    assert conflict.json["answers"][0]["error"] == "key_conflict"
    assert "," in conflict.json["answers"][0]["sentence"] or conflict.json["answers"][0]["sentence"]


@pytest.mark.parametrize("body", [{}, "x", [1], 5])
def test_what_is_no_list_of_rows_is_not_understood(bar, body):
    assert bar.client.post("/staff/intake", json=body).status_code == 400


def test_taps_at_a_busy_database_are_not_answered_so_that_the_tablet_keeps_them(
    bar, tasting, sqlite_store, sqlite_database_url
):
    with sqlite_store.read() as session:
        session.connection().exec_driver_sql("PRAGMA busy_timeout = 20")
    tapped = row(tasting.guests[0])
    with closing(driver().module.connect(make_url(sqlite_database_url).database)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = sent(bar, tapped)
    assert (answer.status_code, answer.json["error"]) == (503, "busy")
    assert "answers" not in answer.json
    assert "sends them again" in answer.json["sentence"]
    assert sent(bar, tapped).json["answers"][0]["outcome"] == "poured"


def test_a_stranger_finds_no_intake(app, tasting):
    assert sent(Screen(app), row(tasting.guests[0])).status_code == 404


def test_a_page_of_another_site_cannot_send_taps(bar, tasting):
    answer = bar.client.post(
        "/staff/intake", json=[row(tasting.guests[0])], headers={"Origin": "https://evil.example"}
    )
    assert answer.status_code == 403


def test_a_revoked_device_hands_in_what_it_holds(bar, tasting, sqlite_store, now):
    with sqlite_store.write() as session:
        session.execute(update(devices).where(devices.c.name == "bar tablet").values(revoked_at=now))
    answer = sent(bar, row(tasting.guests[0]))
    assert answer.json["answers"][0]["outcome"] == "held"
    assert tasting.room().tiles[0].samples == 0


def test_the_room_shows_a_tile_for_each_guest(bar, tasting):
    html = bar.get(place(tasting)).get_data(as_text=True)
    assert html.count("data-guest=") == 2
    assert "Age not checked" in html
    assert "May be served" in html
    assert "June 16, 2005" in html


def test_none_today_and_under_age_look_alike_until_pressed(bar, tasting):
    first, second = tasting.guests
    tasting.mark(first, "none_today")
    tasting.mark(second, "under_age")
    outside = []
    for guest in (first, second):
        html = bar.get(f"{place(tasting)}/{guest}").get_data(as_text=True)
        before = html.partition("<details")[0]
        outside.append(re.sub(r'(data-guest|id|value)="[^"]*"|</span> \d+', "", before))
        assert "Under age" not in before
    assert outside[0].replace("EN", "ES").replace("en", "es") == outside[1].replace("en", "es")


def test_without_a_script_a_form_pours_and_undoes(bar, tasting):
    guest = tasting.guests[0]
    poured = tap(bar, tasting, "pour", guest=guest, product="blanco", volume_ul=QUARTER_UL)
    assert (poured.status_code, poured.location.endswith(f"#guest-{guest}")) == (303, True)
    assert "Recorded." in bar.get(poured.location).get_data(as_text=True)
    assert "1 sample" in tile_text(bar, tasting, guest)
    key = tasting.room().tiles[0].last.key
    assert tap(bar, tasting, "correct", pour=key, kind="mis_tap").status_code == 303
    assert "0 samples" in tile_text(bar, tasting, guest)


def test_without_a_script_a_refusal_is_told_with_its_reason(bar, tasting):
    answer = tap(bar, tasting, "pour", guest=tasting.guests[1], product="blanco", volume_ul=QUARTER_UL)
    assert "Age not checked yet" in bar.get(answer.location).get_data(as_text=True)


def test_a_form_sent_twice_pours_once(bar, tasting):
    key = new_key()
    for _ in range(2):
        bar.post(
            f"{place(tasting)}/pour",
            page=place(tasting),
            key=key,
            guest=tasting.guests[0],
            product="blanco",
            volume_ul=QUARTER_UL,
        )
    assert tasting.room().tiles[0].samples == 1


def test_a_document_seen_opens_the_pouring(bar, tasting):
    assert tap(bar, tasting, "mark", guest=tasting.guests[1], kind="document").status_code == 303
    assert "May be served" in tile_text(bar, tasting, tasting.guests[1])


def test_a_late_undo_is_refused_with_a_sentence(bar, tasting, clock):
    sent(bar, row(tasting.guests[0]))
    clock.pass_s(60)
    key = tasting.room().tiles[0].last.key
    late = tap(bar, tasting, "correct", pour=key, kind="mis_tap")
    assert late.status_code == 409
    assert "20 seconds" in late.get_data(as_text=True)


def test_at_the_limit_the_tile_says_why_to_staff_and_kindly_to_the_guest(bar, tasting):
    guest = tasting.guests[0]
    for _ in range(6):
        sent(bar, row(guest, product="jengibre"))
    shown = tile_text(bar, tasting, guest)
    assert "No samples left today." in shown
    assert "Water, something to eat and drinks without alcohol" in shown
    assert "Ponche-Sin" in shown


@pytest.mark.parametrize(
    ("role", "status"), [("bar", 200), ("guide", 200), ("trainee", 403), ("production", 403)]
)
def test_who_may_open_the_room(bar, tasting, sqlite_store, role, status):
    with sqlite_store.write() as session:
        session.execute(update(staff_roles).where(staff_roles.c.staff_id == bar.celia).values(role=role))
    assert bar.get(place(tasting)).status_code == status


def test_an_unknown_tour_is_not_found(bar):
    assert bar.get("/staff/tours/9999/tasting").status_code == 404
