"""The service rules as lines of text."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from fractions import Fraction

import pytest

from kiosk.figures.drinks import Kind, Limit, ServiceHours
from kiosk.site.shipped import shipped
from kiosk.tasting import rules
from kiosk.words.catalogs import load_words
from tests.tasting_room import tasting_site

EN = load_words(shipped("locales"), "en", "en_US")


def lines(site, words):
    return rules.lines(site.policy, site, words)


LINES = [
    (Limit("x", Kind.LARGEST, "pour", 14_787), "One pour is at most 0.50 fl oz."),
    (
        Limit("x", Kind.SIZES, "pour", sizes_ul=(Fraction(7393), Fraction(14_786))),
        "A pour is one of: 0.25 fl oz, 0.50 fl oz.",
    ),
    (Limit("x", Kind.POURS, "visit", 1), "1 sample on a visit."),
    (Limit("x", Kind.VOLUME, 90, 44_361), "1.50 fl oz of spirit in any 90 minutes."),
    (Limit("x", Kind.DRINKS, "day", 177_441_178), "1.0 standard drinks in a service day."),
    (Limit("x", Kind.GAP, most=300), "Minutes between two pours: 5."),
    (Limit("x", Kind.POURS, "day", 2, product="blanco"), "Blanco: 2 samples in a service day."),
    (Limit("x", Kind.POURS, "day", 2, tour="after"), "2 samples in a service day. Only after a tour."),
    (
        Limit("x", Kind.POURS, "day", 1, product="each one"),
        "Each product by itself: 1 sample in a service day.",
    ),
    (Limit("x", Kind.GLASSES, "day", 2), "Most glasses before one guest at a time: 2."),
    (Limit("x", Kind.VISITS, "day", 1), "Most visits of a day on which a guest is served: 1."),
    (Limit("x", Kind.POURS, "day", 2, neat_only=True), "2 samples in a service day. Neat pours only."),
    (
        Limit("x", Kind.POURS, "visit", 2, tickets=("short", "late")),
        "2 samples on a visit. For these tickets: short, late.",
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
        "Whoever pours is 21 or older.",
        "Whoever pours holds this permit: class 12.",
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
