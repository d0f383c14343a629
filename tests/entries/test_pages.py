"""Entries that a form sends, without a script, and what is said of them to whoever sent them."""

from __future__ import annotations

from contextlib import contextmanager

import pytest

from kiosk.entries.entries import HELD
from kiosk.entries.errors import NotRecorded
from kiosk.entries.pages import chosen_glass, demand_granted, post_entries, stored_answer
from kiosk.store.ledgers import new_key
from kiosk.web.access import DEVICE_COOKIE, PERSON_COOKIE
from kiosk.web.language import speak
from tests.tasting_room import QUARTER_UL


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def request_of(bar, app):
    """Return a function that opens a request of Celia's tablet, in English, with a form's fields."""
    cookies = [f"{name}={bar.client.get_cookie(name).value}" for name in (DEVICE_COOKIE, PERSON_COOKIE)]

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
    assert refused.value.facts["sentence"] == "Age not checked yet: look at a document first."


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        ("blanco 7393", ("blanco", 7393)),
        ("blanco", ("blanco", None)),
        ("blanco much", ("blanco", None)),
        ("7393", ("7393", None)),
        ("", (None, None)),
    ],
)
def test_a_glass_is_read_from_the_button_that_was_pressed(request_of, sent, read):
    with request_of(glass=sent):
        assert tuple(chosen_glass().values()) == read


def test_a_pour_a_refusal_and_a_key_of_neither(tasting):
    poured, refused = tasting.pour(tasting.guests[0]), tasting.pour(tasting.guests[1])
    with tasting.store.read() as session:
        assert stored_answer(session, poured.key) == poured
        assert stored_answer(session, refused.key) == refused
        assert stored_answer(session, new_key()) is None
