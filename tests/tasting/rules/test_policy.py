"""Which version of the rules is in force."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from sqlalchemy import select

from kiosk.store import ledgers
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import policies
from kiosk.tasting.rules import policy
from tests.tasting_room import HOURS, LIMITS, tasting_site


def in_force(tasting, site=None):
    with tasting.store.read() as session:
        return policy.in_force(session, site or tasting.site)


def test_the_confirmed_rules_are_in_force_and_say_who_confirmed_them(tasting):
    assert in_force(tasting).by == tasting.ana


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
    assert in_force(tasting, other).by == tasting.bea
    assert in_force(tasting) is None


def test_the_full_text_is_kept(tasting):
    with tasting.store.read() as session:
        kept = session.scalar(select(policies.c.body))
    assert [limit["id"] for limit in kept["limits"]] == [limit.id for limit in LIMITS]
    assert kept["hours"][0]["until"] == HOURS[0].until.isoformat()
