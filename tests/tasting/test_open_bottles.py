"""A glass comes from the bottle opened last, of its product, in its room."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import select

from kiosk.store.tables.tasting import pours
from kiosk.tasting.open_bottles import open_bottle
from tests.bar import opened, told


def bottle_of(tasting, key):
    with tasting.store.read() as session:
        return session.scalar(select(pours.c.bottle_id).where(pours.c.key == key))


def chosen(tasting, product="blanco", room="main", at=None):
    with tasting.store.read() as session:
        return open_bottle(session, room, product, at or tasting.now)


def test_a_pour_names_the_open_bottle_of_its_product(tasting):
    bottle, _other = opened(tasting), opened(tasting, "anejo")
    poured = tasting.pour(tasting.guests[0])
    assert bottle_of(tasting, poured.key) == bottle == chosen(tasting)


def test_without_an_open_bottle_a_pour_is_recorded_all_the_same(tasting):
    poured = tasting.pour(tasting.guests[0])
    assert poured.outcome == "poured"
    assert bottle_of(tasting, poured.key) is None


def test_the_bottle_opened_last_is_poured_from_until_it_is_closed(tasting):
    later = tasting.now + timedelta(minutes=1)
    first, second = opened(tasting), opened(tasting, at=later)
    assert chosen(tasting, at=later) == second
    told(tasting, second, "close", at=later + timedelta(minutes=1))
    assert chosen(tasting, at=later + timedelta(minutes=2)) == first


def test_a_glass_told_afterwards_finds_the_bottle_of_its_own_time(tasting):
    early, late = tasting.now - timedelta(hours=2), tasting.now - timedelta(hours=1)
    first = opened(tasting, at=early)
    told(tasting, first, "close", at=late)
    opened(tasting, at=late)
    poured = tasting.pour(tasting.guests[0], asked=False, happened_at=tasting.now - timedelta(minutes=90))
    assert bottle_of(tasting, poured.key) == first


def test_a_bottle_of_another_room_is_not_poured_from(tasting):
    opened(tasting)
    assert chosen(tasting, room="cellar") is None


def test_a_pour_sent_again_after_another_bottle_was_opened_stands(tasting):
    opened(tasting)
    poured = tasting.pour(tasting.guests[0])
    opened(tasting)
    assert tasting.pour(tasting.guests[0], key=poured.key).outcome == "poured"
