"""The service rules as lines of text.

What a version of the rules says otherwise than the one before.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta
from fractions import Fraction

import pytest

from kiosk.figures.drinks import Kind, Limit, ServiceHours
from kiosk.site.shipped import shipped
from kiosk.store import ledgers
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import policies
from kiosk.tasting.rules import policy
from kiosk.tasting.rules import text as rules
from kiosk.tasting.rules.text import confirmed_versions, unconfirmed_changes
from kiosk.words.catalogs import load_words
from tests.tasting_room import LIMITS, tasting_site

EN = load_words(shipped("locales"), "en", "en_US")


def lines(site, words):
    return rules.rule_lines(site.policy, site, words)


LINES = [
    (Limit("x", Kind.LARGEST, "pour", 14_787), "One pour is at most 0.50 fl oz."),
    (
        Limit("x", Kind.SIZES, "pour", sizes_ul=(Fraction(7393), Fraction(14_786))),
        "A pour is one of: 0.25 fl oz, 0.50 fl oz.",
    ),
    (Limit("x", Kind.POURS, "visit", 1), "1 pour on a visit."),
    (Limit("x", Kind.VOLUME, 90, 44_361), "1.50 fl oz of spirit in any 90 minutes."),
    (Limit("x", Kind.DRINKS, "day", 177_441_178), "1.0 standard drinks in a service day."),
    (Limit("x", Kind.GAP, most=300), "Minutes between two pours: 5."),
    (Limit("x", Kind.POURS, "day", 2, product="blanco"), "Blanco: 2 pours in a service day."),
    (Limit("x", Kind.POURS, "day", 2, tour="after"), "2 pours in a service day. Only after a tour."),
    (
        Limit("x", Kind.POURS, "day", 1, product="each one"),
        "Each product by itself: 1 pour in a service day.",
    ),
    (Limit("x", Kind.GLASSES, "day", 2), "Most glasses before one guest at a time: 2."),
    (Limit("x", Kind.VISITS, "day", 1), "Most visits of a day on which a guest is served: 1."),
    (Limit("x", Kind.POURS, "day", 2, neat_only=True), "2 pours in a service day. Neat pours only."),
    (
        Limit("x", Kind.POURS, "visit", 2, tickets=("short", "late")),
        "2 pours on a visit. For these tickets: short, late.",
    ),
    (
        Limit("x", Kind.SIZES, "pour", sizes_ul=(Fraction(7393),), liquids_below=3),
        "A pour is one of: 0.25 fl oz. Not for mixes of 3 liquids or more.",
    ),
]


@pytest.mark.parametrize(("limit", "text"), LINES)
def test_each_kind_of_limit_has_its_line(tmp_path, limit, text):
    found = lines(tasting_site(tmp_path, limits=(limit,)), EN)
    assert [line.text for line in found if line.id == "x"] == [text]


def test_rules_of_the_house_stand_after_the_guests_age(tmp_path):
    site = tasting_site(tmp_path)
    strict = replace(site.policy, mixers=False, own_only=True, server_age=21, server_permit="class 12")
    found = lines(replace(site, policy=strict), EN)
    assert [line.text for line in found[:5]] == [
        "Guests are 21 or older.",
        "Spirits are poured neat, without mixers.",
        "Only what the house makes is poured.",
        "Servers must be 21 or older.",
        "Servers must hold this permit: class 12.",
    ]


def test_a_service_over_midnight_says_on_which_day_it_ends(tmp_path):
    site = tasting_site(tmp_path)
    hours = (ServiceHours(frozenset({4}), time(20), time(2)),)
    found = lines(replace(site, policy=replace(site.policy, hours=hours)), EN)
    assert found[-1].text.startswith("Pouring Fri: from 8:00")
    assert found[-1].text.endswith("of the next day")


def test_a_law_keeps_its_name_and_the_houses_rule_is_called_so_in_spanish(tmp_path):
    site = tasting_site(tmp_path)
    spanish = load_words(shipped("locales"), "es", "es_PR")
    for basis, told in (("house rule", "regla de la casa"), ("WAC 314-28-065", "WAC 314-28-065")):
        found = lines(replace(site, policy=replace(site.policy, basis=basis)), spanish)
        assert found[0].basis == told


def test_the_last_pour_is_told_where_it_is_earlier_than_closing(tmp_path):
    site = tasting_site(tmp_path)
    hours = (ServiceHours(frozenset({0}), time(9), time(18), time(17, 45)),)
    found = lines(replace(site, policy=replace(site.policy, hours=hours)), EN)
    assert "5:45" in found[-1].text
    assert "6:00" not in found[-1].text


def test_age_and_hours_stand_with_the_limits_and_each_has_its_basis(tmp_path):
    site = tasting_site(tmp_path)
    found = lines(site, EN)
    assert found[0].text == "Guests are 21 or older."
    assert (found[0].basis, found[0].year) == (site.policy.basis, site.policy.year)
    assert found[-1].text.startswith("Pouring every day: from 9:00")
    assert len(found) == 2 + len(site.policy.limits)


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
        return confirmed_versions(session, tasting.site, EN)


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
        ("6 pours in a service day.", "4 pours in a service day."),
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
        waiting = unconfirmed_changes(session, tasting.site, EN)
    assert told(waiting) == [("Guests are 21 or older.", "Guests are 25 or older.")]
