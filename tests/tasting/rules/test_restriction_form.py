"""What a manager types to make the rules stricter today."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kiosk.figures.drinks import GAP, LAST_POUR, NO_ALCOHOL, DayRestriction, parse_drinks
from kiosk.site.settings import Units
from kiosk.site.shipped import shipped
from kiosk.tasting.rules import restriction_form
from kiosk.tasting.rules.policy import GivenRestriction
from kiosk.tasting.rules.restriction_form import NoAmount
from kiosk.words.catalogs import load_words
from tests.tasting_room import US, tasting_site

EN = load_words(shipped("locales"), "en", "en_US")
SPAIN = load_words(shipped("locales"), "es", "es_ES")
HOUR_S = 3600

TYPED = [
    (NO_ALCOHOL, "", 0),
    (GAP, "10", 600),
    ("day_pours", "4", 4),
    ("largest", "0.25", 7394),  # 7393.38 µL: a limit is rounded up
    ("day_volume", "1", 29_574),
    ("day_drinks", "1.0", parse_drinks("1.0 drinks", US)),
    (LAST_POUR, "16:30", 11 * HOUR_S + 1800),  # the service day begins at 5:00
    (LAST_POUR, "02:00", 21 * HOUR_S),  # after midnight
]


@pytest.mark.parametrize(("rule", "amount", "most"), TYPED)
def test_what_was_typed_is_read_in_the_unit_of_its_rule(tmp_path, now, rule, amount, most):
    assert restriction_form.parse_restriction(
        rule, amount, tasting_site(tmp_path), EN, now
    ) == DayRestriction(rule, most, now)


def test_a_metric_house_says_millilitres_and_spain_a_comma(tmp_path, now):
    site = tasting_site(tmp_path, units=Units.METRIC)
    assert restriction_form.parse_restriction("largest", "12,5", site, SPAIN, now).most == 12_500


@pytest.mark.parametrize(
    ("rule", "amount"),
    [("day_pours", ""), ("day_pours", "few"), (GAP, "2000"), (LAST_POUR, "late"), (LAST_POUR, "16:30+02:00")],
)
def test_what_cannot_be_read_is_refused(tmp_path, now, rule, amount):
    with pytest.raises(NoAmount):
        restriction_form.parse_restriction(rule, amount, tasting_site(tmp_path), EN, now)


@pytest.mark.parametrize(
    ("rule", "most", "text"),
    [
        (NO_ALCOHOL, 0, "No alcohol today."),
        (GAP, 600, "Minutes between two pours: 10."),
        ("day_pours", 4, "4 pours in a service day."),
        (LAST_POUR, 11 * HOUR_S + 1800, "Last pour: before 4:30\u202fPM"),
        ("of another year", 4, "of another year"),
    ],
)
def test_a_word_is_a_line(tmp_path, now, rule, most, text):
    given = GivenRestriction(DayRestriction(rule, most, now), "", "Ana", "hot")
    assert restriction_form.restriction_line(given, tasting_site(tmp_path), EN) == text


def test_every_rule_whose_most_can_be_lowered_is_offered(tmp_path):
    site = tasting_site(tmp_path)
    codes = [code for code, _ in restriction_form.choices(site, EN)]
    assert codes == [NO_ALCOHOL, LAST_POUR, GAP, *(limit.id for limit in site.policy.limits)]
    sizes = replace(site, policy=replace(site.policy, limits=site.policy.limits[:1]))
    assert " to __ fl oz: " in restriction_form.choices(sizes, EN)[-1][1]
    metric = replace(sizes, units=Units.METRIC)
    assert " to __ mL: " in restriction_form.choices(metric, EN)[-1][1]
    offered = dict(restriction_form.choices(site, EN))
    assert offered["day_volume"].startswith("Lower daily spirit limit to __ fl oz (now: 1.50 fl oz")
