"""Entries that a form sends, without a script, and what is said of them to whoever sent them.

What a tablet's entries are answered over HTTP.
"""

from __future__ import annotations

from contextlib import closing, contextmanager

import pytest
from sqlalchemy import make_url, update

from kiosk.entries.entries import HELD
from kiosk.entries.errors import NotRecorded
from kiosk.entries.pages import demand_granted, post_entries
from kiosk.store.errors import KeyConflict
from kiosk.store.ledgers import new_key
from kiosk.store.sqlite import driver
from kiosk.store.tables.staff import devices, staff
from kiosk.tasting.room.pouring import stored_answer
from kiosk.web.access import DEVICE_COOKIE, PERSON_COOKIE
from kiosk.web.language import speak
from tests.actors import Screen
from tests.costs import cost_of
from tests.tasting_room import QUARTER_UL


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def request_of(bar, app):
    """Return a function that opens a request of Celia's tablet, in English, with a form's fields."""
    cookies = [f"{name}={bar.cookie(name).value}" for name in (DEVICE_COOKIE, PERSON_COOKIE)]

    @contextmanager
    def opened(**fields):
        with app.test_request_context(
            "/", method="POST", data=fields, headers={"Cookie": "; ".join(cookies)}
        ):
            speak("en")
            yield

    return opened


def ask(guest, **changes):
    row = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**row, **changes}


def test_what_a_form_sends_is_recorded_by_whoever_is_signed_in(request_of, tasting):
    with request_of():
        (answer,) = post_entries(ask(tasting.guests[0]))
    assert (answer.outcome, tasting.room().tiles[0].samples) == ("poured", 1)


@pytest.mark.parametrize("changes", [{"product": "nothing"}, {"volume_ul": -1}, {"guest": 9999}])
def test_what_is_held_for_a_person_is_told_as_not_recorded(request_of, tasting, changes):
    with request_of(), pytest.raises(NotRecorded) as refused:
        post_entries(ask(**{"guest": tasting.guests[0], **changes}))
    assert (refused.value.status, refused.value.facts) == (409, {"sentence": HELD})


def test_a_rejected_entry_keeps_its_own_status(request_of, tasting):
    lifted = {"ledger": "marks", "kind": "service_resumed", "guest": tasting.guests[0], "key": new_key()}
    with request_of(), pytest.raises(NotRecorded) as refused:
        post_entries(lifted)  # Celia is no manager
    assert refused.value.status == 403


def test_a_pour_against_the_rules_is_an_answer_until_it_is_demanded(request_of, tasting):
    with request_of():
        answers = post_entries(ask(tasting.guests[1]))
        assert [one.outcome for one in answers] == ["refused"]
        with pytest.raises(NotRecorded) as refused:
            demand_granted(answers)
    assert refused.value.facts["sentence"] == "Age not checked yet: check the ID first."


def test_a_pour_a_refusal_and_a_key_of_neither(tasting):
    poured, refused = tasting.pour(tasting.guests[0]), tasting.pour(tasting.guests[1])
    with tasting.store.read() as session:
        assert stored_answer(session, poured.key) == poured
        assert stored_answer(session, refused.key) == refused
        assert stored_answer(session, new_key()) is None


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


def test_a_pour_runs_the_code_of_at_most_twenty_one_files_and_asks_four_queries(bar, tasting, sqlite_store):
    guest = tasting.guests[0]
    assert sent(bar, row(guest)).json["answers"][0]["outcome"] == "poured"
    spent = cost_of(sqlite_store, lambda: sent(bar, row(guest)))
    assert len(spent.files) <= 20, spent.files
    assert len(spent.queries) == 4, spent.queries
    assert tasting.room().tiles[0].samples == 2


def test_a_stranger_s_entries_take_no_write_lock(app, sqlite_store):
    stranger = Screen(app)
    stranger.client.set_cookie(stranger.cookie_name(DEVICE_COOKIE), "any")
    with sqlite_store.write():  # a write of this thread inside this one would fail
        answer = stranger.client.post("/staff/intake", json=[{"ledger": "pours"}])
    assert answer.status_code == 404
