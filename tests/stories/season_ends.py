"""A house's long day ends: the shift balanced and signed, the next morning, the clock that went forward."""

from __future__ import annotations

import re

import pytest

from tests.stories.season import FLIGHT, FULL_G, G_PER_ML, NAMES, SATURDAY, SEALED, SUNDAY, Story
from tests.stories.team import Worker
from tests.stories.test_who_may import enrolled

DRINKERS = 5 + 7 + 6 + 3 + 3
"""The guests who were served: of the returning one the number went on."""
MISSING_ML = 30
"""What was poured of the first product and entered by nobody."""


def the_shift_is_balanced_and_signed(story: Story) -> None:
    """The bar worker has another tablet; one bottle holds less than the entries say."""
    story.at("17:10")
    marta, tally = story.people["Marta"], story.tally
    marta.opens("/staff/devices")
    bea = Worker("Bea", story.people["Bea"].pin, enrolled(story.house, marta.screen, "bar tablet 2"))
    closing, typed = bea.opens("/staff/closing"), {}
    for product in FLIGHT:
        tile = re.findall(rf'id="tile-{product}".*?</footer>', closing.body.decode(), re.S)[0]
        (weigh,), (count,) = (re.findall(rf'name="({kind}-[\d-]+)"', tile) for kind in ("weigh", "count"))
        gone_ml = story.poured_ml(product) + MISSING_ML * (product == "blanco")
        typed |= {weigh: str(FULL_G - round(gone_ml * G_PER_ML)), count: str(SEALED[product] - 1)}
    signed = bea.sends(closing, "/closing", **typed, pin=bea.pin).words
    assert "Revision 1, signed by Bea" in signed
    assert f"Guests served {DRINKERS} Pours served {tally.pours} " in signed, signed
    assert "Pours refused 1" in signed
    assert "Bea (claimed) 1" in signed
    the_balance_is_what_the_story_counted(story, signed)


def the_balance_is_what_the_story_counted(story: Story, signed: str) -> None:
    """Volumes to the millilitre, as far as a scale of whole grams and warm spirit allow."""
    first, second = signed.index(NAMES["blanco"]), signed.index(NAMES["anejo"])
    for product, balance in (("blanco", signed[first:second]), ("anejo", signed[second:])):
        received_ml = 750 * SEALED[product]
        missing_ml = MISSING_ML * (product == "blanco")
        left_ml = received_ml - story.poured_ml(product) - missing_ml
        assert millilitres(balance, "Received") == received_ml
        assert millilitres(balance, "Served") == pytest.approx(story.poured_ml(product), abs=1)
        assert millilitres(balance, "Stock at closing") == pytest.approx(left_ml, abs=2)
        assert millilitres(balance, "Difference") == pytest.approx(missing_ml, abs=2)
        assert "Difference Short" in balance or product != "blanco", balance
        assert f"Pours, served or not {story.tally.poured[product]} " in balance, balance


def millilitres(text: str, label: str) -> int:
    """Return the volume that stands after a label, in mL."""
    number = re.findall(rf"{label} [^\d]*(?:[\d.,]+\sfl oz \()?<?([\d.,]+)\smL", text)[0]
    return int(number.replace(",", "").replace(".", ""))


def the_next_morning_tells_of_yesterday(story: Story) -> None:
    story.at("08:30", SUNDAY)
    rosa = story.people["Rosa"]
    today = rosa.opens("/staff/")
    assert story.times(today).count("0 people booked, 12 seats free") == 3
    assert "held for review" not in today.words.split("This device")[0]
    assert f"/staff/?day={SATURDAY}" in today.links
    yesterday = rosa.opens(f"/staff/?day={SATURDAY}").words
    came = re.findall(r"(\d+) of (\d+) checked in", yesterday)
    assert came == [("5", "6"), ("8", "8"), ("6", "6"), ("3", "3"), ("4", "4")]  # one went on to the last
    assert sum(int(n) for n, _ in came) == story.tally.checked_in == 26
    assert yesterday.count("Ended") == 5
    assert "Iris Paz" not in yesterday
    shelf = rosa.opens("/staff/bottles").words
    assert "2 open 8 sealed" in shelf
    for product in FLIGHT:
        left_ml = 750 - story.poured_ml(product) - MISSING_ML * (product == "blanco")
        assert millilitres(shelf, rf"{NAMES[product]} 40 \S+") == pytest.approx(left_ml, abs=4)
    assert "Signed; no entry has come since." in rosa.opens(f"/staff/closing?day={SATURDAY}").words
    assert "0 guests, 0 pours, 0 refused" in rosa.opens("/staff/closing").words


def the_tours_keep_their_hour_when_the_clock_is_changed(story: Story) -> None:
    """At ten on the wall on both days, between which the clock of the mainland goes forward."""
    rosa = story.people["Rosa"]
    page = rosa.sends(rosa.opens("/staff/feed"), act="renew")
    (address,) = re.findall(r"/calendar/\d+/\w+\.ics", page.body.decode())
    starts = re.findall(r"DTSTART:(\w+)", story.house.screen().get(address).body.decode())
    hours = {"island": ("150000", "140000"), "mainland": ("100000", "080000")}[story.country.name]
    assert f"{SATURDAY.replace('-', '')}T{hours[0]}Z" in starts, starts
    assert f"{SUNDAY.replace('-', '')}T{hours[1]}Z" in starts, starts
