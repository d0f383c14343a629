"""The page of the service rules over HTTP: confirming them, and making them stricter today."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import sessions
from kiosk.tasting.rules import policy
from tests.actors import PIN, text_of
from tests.tasting_room import tasting_site

PLACE = "/staff/rules"
TODAY = "/staff/rules/today"


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def say(screen, **fields):
    typed = {"rule": "no alcohol", "amount": "", "room": "", "why": "storm", "pin": PIN, **fields}
    return screen.post(TODAY, page=PLACE, key=new_key(), **typed)


def test_changed_rules_are_put_in_force_by_a_managers_pin(manager, tasting, sqlite_store, site, clock):
    changed = tasting_site(site.folder, limits=site.policy.limits[:1])
    with sqlite_store.write() as session:
        policy.confirm(session, changed, key=new_key(), by=tasting.ana, at=clock.at - timedelta(hours=1))
    before = text_of(manager.get(PLACE))
    assert "Not in force" in before
    assert "What changes New 6 pours in a service day." in before
    wrong = manager.post(PLACE, pin="999998")
    assert wrong.status_code == 403
    clock.pass_s(5)
    assert manager.post(PLACE, pin=PIN).status_code == 303
    with sqlite_store.read() as session:  # a PIN asked again opens no second sign-in
        assert session.scalar(select(func.count()).select_from(sessions)) == 1
    shown = text_of(manager.get(PLACE))
    assert "In force" in shown
    assert "What changes" not in shown
    assert shown.count("confirmed by") == 3
    assert "confirmed by Dora New 6 pours in a service day." in shown


def test_a_manager_says_that_today_is_without_alcohol(manager, tasting):
    assert say(manager).status_code == 303
    assert "No alcohol today." in text_of(manager.get(PLACE))
    assert re.search(r"Dora, .{1,30}: storm", text_of(manager.get(PLACE)))
    assert tasting.pour(tasting.guests[0]).reasons == ("dry",)


def test_the_room_says_that_the_rules_are_stricter_today(manager, tasting):
    room = f"/staff/tours/{tasting.tour}/tasting"
    assert "stricter" not in text_of(manager.get(room))
    say(manager)
    assert "Tighter limits apply today." in text_of(manager.get(room))


def test_a_looser_word_is_refused_in_words_and_keeps_what_was_typed(manager):
    answer = say(manager, rule="day_pours", amount="9", why="many guests")
    assert answer.status_code == 422
    assert "not tighter than" in text_of(answer)
    assert 'value="many guests"' in answer.get_data(as_text=True)
    assert "No tighter limit is set for today." in text_of(manager.get(PLACE))


@pytest.mark.parametrize(
    ("fields", "status"),
    [
        ({"pin": "999998"}, 403),
        ({"why": ""}, 422),
        ({"room": "attic"}, 422),
        ({"rule": "day_pours", "amount": "a few"}, 422),
        ({"rule": "spoons", "amount": "1"}, 422),
    ],
)
def test_a_word_without_pin_reason_room_or_amount_is_not_kept(manager, fields, status):
    assert say(manager, **fields).status_code == status
    assert "No tighter limit is set for today." in text_of(manager.get(PLACE))


def test_the_word_of_a_day_is_gone_the_next(manager, clock, tablet_of):
    say(manager)
    clock.pass_s(24 * 3600)
    morning = tablet_of("bar", "Celia")
    assert "No tighter limit is set for today." in text_of(morning.get(PLACE))


def test_the_bar_reads_the_rules_and_todays_words_and_changes_neither(bar):
    shown = bar.get(PLACE)
    assert "Today&#39;s tighter limits" in text_of(shown)
    assert TODAY not in shown.get_data(as_text=True)
    assert bar.post(PLACE, page=PLACE, pin=PIN).status_code == 403
    assert say(bar).status_code == 403
