"""Flights over HTTP: planned, looked at, changed, archived, given; a welcome drink through the whole path."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import select

from kiosk.figures.drinks import Kind
from kiosk.site.settings import WelcomeDrink
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flights, tours
from tests.actors import text_of
from tests.costs import cost
from tests.tasting_room import HALF_UL, LIMITS, OUNCE_UL, QUARTER_UL, tasting_site

RULES = [limit for limit in LIMITS if limit.kind is Kind.VOLUME]


@pytest.fixture
def site(tmp_path):
    return tasting_site(tmp_path, limits=RULES, welcome_drink=WelcomeDrink.AFTER)


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def guide(tablet_of):
    return tablet_of("guide", "Gil")


def rows_of(*samples):
    """Return a form's fields for samples in order."""
    found = {}
    for n, (glass, volume_ul) in enumerate(samples, 1):
        found |= {f"place-{n}": n, f"glass-{n}": glass, f"size-{n}": volume_ul}
    return found


def row(tasting, table, **match):
    with tasting.store.read() as session:
        return session.execute(select(table).filter_by(**match)).one()


def test_a_welcome_drink_from_the_plan_to_the_sixth_quarter_ounce(bar, tasting):
    """1 fl oz of a 30 % infusion is 0.5 US drinks and two thirds of 1.5 fl oz: two of six are left."""
    six = rows_of(*[("jengibre", QUARTER_UL)] * 6)
    made = bar.post("/staff/flights/new", name="six", welcome="welcome", **six)
    page = bar.get(made.location)
    assert "leave out: Jengibre, Jengibre, Jengibre, Jengibre." in text_of(page)
    flight = row(tasting, flights, name="six")
    give = f"{made.location}/tours/{tasting.tour}"
    assert bar.post(give, page=made.location, revision=1).status_code == 303
    assert row(tasting, tours, id=tasting.tour).flight_id == flight.id

    sent = {"ledger": "pours", "guest": tasting.guests[0]}
    outcomes = []
    for _ in range(7):
        tile = tasting.room().tiles[0]
        glass = {"product": tile.next.product, "volume_ul": tile.next.volume_ul}
        (answer,) = bar.client.post("/staff/intake", json=[{"key": new_key(), **sent, **glass}]).json[
            "answers"
        ]
        outcomes.append((answer["outcome"], tile.next.product))
    assert outcomes == [
        ("poured", "welcome"),
        *[("poured", "jengibre")] * 2,
        *[("refused", "jengibre")] * 4,
    ]
    p = pours.c
    with tasting.store.read() as session:
        first, *rest = session.execute(
            select(p.recipe, p.product, p.volume_ul, p.neat).order_by(p.recipe.is_(None), p.key)
        )
    assert tuple(first) == ("welcome", "jengibre", OUNCE_UL, False)
    assert {tuple(one) for one in rest} == {(None, "jengibre", QUARTER_UL, True)}
    assert tasting.room().tiles[0].had == Decimal("0.8")  # 0.5 + 2 x 0.125, shown rounded up


def test_a_flight_is_changed_and_its_form_shows_what_is_kept(manager, tasting):
    page = "/staff/flights/1"
    kept = manager.get(page).get_data(as_text=True)
    assert f'<option value="{QUARTER_UL}" selected>' in kept
    sent = {"name": "longer", "welcome": "", **rows_of(("anejo", HALF_UL), ("blanco", QUARTER_UL))}
    assert manager.post(page, revision=1, **sent).status_code == 303
    assert row(tasting, flights, id=1).name == "longer"
    assert [one.product for one in tasting.room().context.flight] == ["anejo", "blanco"]
    assert manager.post(page, revision=1, **sent).status_code == 409  # somebody was first


def test_a_flight_has_a_name_in_each_language(bar, tasting):
    sent = {"name": "Two Sips", "name-es": "Dos sorbos", "welcome": "", **rows_of(("blanco", QUARTER_UL))}
    long = {**sent, "name-es": "s" * 61}
    refused = bar.post("/staff/flights/1", revision=1, **long)
    assert (refused.status_code, f'value="{long["name-es"]}"' in refused.text) == (422, True)
    assert bar.post("/staff/flights/1", revision=1, **sent).status_code == 303
    for language, name in (("en", "Two Sips"), ("es", "Dos sorbos")):
        bar.get(f"/language/{language}")
        assert f">{name}<" in bar.get("/staff/flights").text
        page = bar.get("/staff/flights/1").text
        assert f"<h1>{name}</h1>" in page
        assert 'name="name-es" type="text" value="Dos sorbos"' in page
    assert bar.post("/staff/flights/1", revision=2, **{**sent, "name-es": ""}).status_code == 303
    assert row(tasting, flights, id=1).names == {"en": "Two Sips", "es": "Two Sips"}


def test_a_flight_that_lacks_something_comes_back_as_it_was_typed(bar, tasting):
    sent = {"name": "", "welcome": "", **rows_of(("blanco", QUARTER_UL), ("anejo", 9))}
    for page in ("/staff/flights/new", "/staff/flights/1"):
        answer = bar.post(page, revision=1, **sent)
        assert answer.status_code == 422
        text = text_of(answer)
        assert "Give it a name of at most 60 characters." in text
        assert "Choose one of the measures of the house." in text
        assert '<option value="anejo" selected>' in answer.get_data(as_text=True)
    assert len(tasting.room().context.flight) == 2


def test_a_archived_flight_says_so_and_is_given_to_no_tour(bar, tasting):
    page = "/staff/flights/1"
    assert bar.post(f"{page}/archive", page=page, revision=1, archived="yes").status_code == 303
    assert "Archived" in text_of(bar.get("/staff/flights"))
    answer = bar.post(f"{page}/tours/{tasting.tour}", page=page, revision=1)
    assert (answer.status_code, "This flight is archived" in text_of(answer)) == (409, True)
    assert bar.post(f"{page}/archive", page=page, revision=2, archived="no").status_code == 303
    assert "Archived" not in text_of(bar.get("/staff/flights"))


def test_a_flight_is_looked_at_for_a_group(guide, tasting):
    text = text_of(guide.get("/staff/flights/1?guests=22&begins=10:00&servers=2"))
    assert "44 tasting glasses" in text
    assert "The last guest gets the last sample at about" in text
    for nonsense in ("?guests=x&begins=25:99&servers=-1&tour=77", "?tour=x"):
        assert guide.get(f"/staff/flights/1{nonsense}").status_code == 200
    assert "For tour A" in text_of(guide.get(f"/staff/flights/1?tour={tasting.tour}"))


def test_a_guide_looks_at_flights_and_changes_none(guide):
    assert "Change this flight" not in text_of(guide.get("/staff/flights/1"))
    assert guide.get("/staff/flights/new").status_code == 403
    assert guide.get("/staff/flights/99").status_code == 404


def test_what_was_poured_from_a_flight_is_said_to_stay(bar, tasting):
    tasting.pour(tasting.guests[0])
    assert "Some of this flight is already poured" in text_of(bar.get("/staff/flights/1"))


def test_the_list_shows_each_flights_glasses_sums_fit_and_tours(bar, tasting):
    """Three quarter ounces at 30 % are 0.375 US drinks, 0.4 rounded up; seven break 1.5 fl oz a day."""
    for name, count in (("three", 3), ("seven", 7)):
        bar.post("/staff/flights/new", name=name, **rows_of(*[("jengibre", QUARTER_UL)] * count))
    three = row(tasting, flights, name="three").id
    give = f"/staff/flights/{three}/tours/{tasting.tour}"
    bar.post(give, page=f"/staff/flights/{three}", revision=1)
    page = bar.get("/staff/flights").text
    cards = {
        name: card
        for card in page.split('<li class="flight')[1:]
        for name in ("three", "seven")
        if f">{name}</a>" in card
    }
    assert cards["three"].count("tasting-glass") == 3
    assert "<strong>0.75 fl oz</strong>" in cards["three"]
    assert "<b>0.4</b>" in cards["three"]
    assert "It fits the rules" in cards["three"]
    assert f'href="/staff/flights/{three}?tour={tasting.tour}"' in cards["three"]
    assert "It does not fit the rules" in cards["seven"]
    assert "leave out: Jengibre" in cards["seven"]
    assert "No tour has it." in cards["seven"]


def test_more_flights_take_no_more_queries(bar, tasting):
    with cost(tasting.store) as one:
        bar.get("/staff/flights")
    for name in "abcdef":
        bar.post("/staff/flights/new", name=name, **rows_of(("jengibre", QUARTER_UL)))
    with cost(tasting.store) as seven:
        assert bar.get("/staff/flights").text.count('<li class="flight"') >= 7
    assert len(seven.queries) == len(one.queries)
