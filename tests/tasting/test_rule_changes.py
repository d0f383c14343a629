"""What a version of the rules says otherwise than the one before."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from kiosk.figures.drinks import Kind, Limit
from kiosk.site.shipped import shipped
from kiosk.store import ledgers
from kiosk.store.keys import new_key
from kiosk.store.tables.tasting import policies
from kiosk.tasting import policy
from kiosk.tasting.rule_changes import not_confirmed, versions
from kiosk.words.catalogs import load_words
from tests.tasting_room import LIMITS

EN = load_words(shipped("locales"), "en", "en_US")


def confirmed(tasting, *, by, after=0, **changes):
    """Put changed rules in force some hours later, and keep them as the site's."""
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, **changes))
    at = tasting.now + timedelta(hours=after)
    with tasting.store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=by, at=at)


def told(changes):
    return [(c.before and c.before.text, c.after and c.after.text) for c in changes]


def shown(tasting):
    with tasting.store.read() as session:
        return versions(session, tasting.site, EN)


def test_the_first_version_changes_nothing(tasting):
    (only,) = shown(tasting)
    assert (only.first, only.changes, only.confirmed_by) == (True, [], "Ana")


def test_a_limit_that_is_changed_new_or_gone_is_told_by_its_text(tasting):
    fewer = replace(LIMITS[1], most=4)
    gap = Limit("pause", Kind.GAP, most=600, basis="invented for a test", year=2026)
    confirmed(tasting, by=tasting.bea, limits=(LIMITS[0], fewer, gap, LIMITS[3]))
    newest, first = shown(tasting)
    assert (newest.confirmed_by, newest.first, first.first) == ("Bea", False, True)
    assert told(newest.changes) == [
        ("6 samples in a service day.", "4 samples in a service day."),
        (None, "Minutes between two pours: 10."),
        ("1.50 fl oz of spirit in a service day.", None),
    ]


def test_another_basis_or_year_is_a_change(tasting):
    confirmed(tasting, by=tasting.bea, limits=(*LIMITS[:3], replace(LIMITS[3], year=2025)))
    (change,) = shown(tasting)[0].changes
    assert (change.before.text, change.before.year, change.after.year) == (change.after.text, 0, 2025)


def test_hours_and_the_rules_of_the_house_are_compared_too(tasting):
    confirmed(tasting, by=tasting.ana, own_only=True, guest_age=25, hours=())
    assert told(shown(tasting)[0].changes) == [
        ("Guests are 21 or older.", "Guests are 25 or older."),
        (None, "Only what the house makes is poured."),
        ("Pouring every day: from 9:00\u202fAM; last pour before 6:00\u202fPM", None),
    ]


def test_versions_stand_from_the_newest_and_each_differs_from_the_one_before(tasting):
    confirmed(tasting, by=tasting.ana, guest_age=25)
    confirmed(tasting, by=tasting.bea, after=1, guest_age=30)
    assert [told(one.changes) for one in shown(tasting)] == [
        [("Guests are 25 or older.", "Guests are 30 or older.")],
        [("Guests are 21 or older.", "Guests are 25 or older.")],
        [],
    ]


def test_a_text_that_cannot_be_read_any_more_says_so_and_hides_no_other(tasting):
    at = tasting.now + timedelta(hours=1)
    values = {"key": new_key(), "at": at, "recorded_at": at, "by": tasting.ana, "digest": "x", "basis": ""}
    with tasting.store.write() as session:
        ledgers.append(session, policies, {**values, "body": {"limits": [{"kind": "spoons"}]}})
    confirmed(tasting, by=tasting.ana, after=2)
    assert [one.changes for one in shown(tasting)] == [None, None, []]


def test_what_the_file_changes_is_told_before_it_is_confirmed(tasting):
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, guest_age=25))
    with tasting.store.read() as session:
        waiting = not_confirmed(session, tasting.site, EN)
    assert told(waiting) == [("Guests are 21 or older.", "Guests are 25 or older.")]
