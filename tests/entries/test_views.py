"""What a tablet's entries are answered over HTTP."""

from __future__ import annotations

from contextlib import closing

import pytest
from sqlalchemy import make_url, update

from kiosk.store.errors import KeyConflict
from kiosk.store.ledgers import new_key
from kiosk.store.sqlite import driver
from kiosk.store.tables.staff import devices, staff
from tests.actors import Screen
from tests.tasting_room import QUARTER_UL


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def row(guest, **changes):
    base = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**base, **changes}


def sent(screen, *rows):
    return screen.client.post("/staff/intake", json=list(rows))


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
        session.execute(update(staff).where(staff.c.id == bar.person).values(languages=["es"]))
    assert sent(bar, row(tasting.guests[1])).json["answers"][0]["sentence"] != in_english


def test_the_same_key_is_answered_alike_and_another_body_is_409(bar, tasting):
    pour = row(tasting.guests[0])
    assert sent(bar, pour).json == sent(bar, pour).json
    conflict = sent(bar, {**pour, "volume_ul": 1})
    assert conflict.status_code == 409
    assert conflict.json["answers"][0]["error"] == "key_conflict"
    assert conflict.json["answers"][0]["sentence"] == KeyConflict.message


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
        session.execute(update(devices).where(devices.c.name == "tablet of Celia").values(revoked_at=now))
    answer = sent(bar, row(tasting.guests[0]))
    assert answer.json["answers"][0]["outcome"] == "held"
    assert tasting.room().tiles[0].samples == 0
