"""The service rules as lines of text."""

from __future__ import annotations

from fractions import Fraction

import pytest

from kiosk.figures.drinks import Kind, Limit
from kiosk.site.shipped import shipped
from kiosk.tasting.rules import lines
from kiosk.words.catalogs import load_words
from tests.tasting_room import tasting_site

EN = load_words(shipped("locales"), "en", "en_US")

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
]


@pytest.mark.parametrize(("limit", "text"), LINES)
def test_each_kind_of_limit_has_its_line(tmp_path, limit, text):
    found = lines(tasting_site(tmp_path, limits=(limit,)), EN)
    assert [line.text for line in found if line.id == "x"] == [text]


def test_age_and_hours_stand_with_the_limits_and_each_has_its_basis(tmp_path):
    site = tasting_site(tmp_path)
    found = lines(site, EN)
    assert found[0].text == "Guests are 21 or older."
    assert (found[0].basis, found[0].year) == (site.policy.basis, site.policy.year)
    assert found[-1].text.startswith("Pouring on Mon, Tue, Wed, Thu, Fri, Sat, Sun from 9:00")
    assert len(found) == 2 + len(site.policy.limits)
