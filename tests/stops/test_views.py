"""The stops through HTTP: addresses, languages, headers, and who may open what."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from kiosk.stops.guest_link import guest_token
from tests.actors import Screen, hire
from tests.tasting_room import Tasting
from tests.walking import ROUTE, STATES, State, Walk

SLUGS = [stop.slug for stop in ROUTE]
SPANISH = {"Accept-Language": "es-PR,es;q=0.9"}


def guide_screen(walk: Walk, *roles: str) -> Screen:
    somebody = hire(walk.store, walk.site, walk.clock.at, roles=roles or ("guide",))
    screen = walk.screen()
    screen.enrol(walk.store, walk.site, walk.clock.at)
    screen.sign_in(somebody)
    return screen


@pytest.mark.parametrize("slug", SLUGS)
@pytest.mark.parametrize("code", ["en", "es"])
@pytest.mark.parametrize("state", STATES)
def test_a_stop_is_shown_in_both_languages_whatever_is_known(
    walk: Walk, slug: str, code: str, state: State
) -> None:
    state(walk)
    answer = walk.screen().get(f"/{code}/stops/{slug}")
    assert answer.status_code == 200
    assert f'<html lang="{code}"' in answer.text
    assert walk.content.stops[slug].names[code] in answer.text


def test_the_front_page_shows_the_route_in_its_order(walk: Walk) -> None:
    html = walk.screen().get("/es/").text
    assert re.findall(r'href="/es/stops/([a-z-]+)"', html) == SLUGS


def test_the_way_of_phones_and_the_symbols_stand_before_the_text(walk: Walk) -> None:
    html = walk.screen().get("/en/stops/still-house").text
    places = [
        html.index(part)
        for part in ("Read this here, then put phones away.", "Closed shoes", "Here the cane")
    ]
    assert places == sorted(places)


def test_where_phones_are_welcome_nothing_sends_them_away(walk: Walk) -> None:
    html = walk.screen().get("/en/stops/tasting-room").text
    assert "Phones are welcome" in html
    assert "put phones away" not in html


def test_a_stop_carries_safety_and_questions_that_open(walk: Walk) -> None:
    html = walk.screen().get("/en/stops/still-house").text
    assert "Alcohol vapor can burn" in html
    assert (
        '<details class="fold" id="why-cut-heads"><summary>Why is the first part set aside?</summary>' in html
    )


def test_a_code_carries_no_language_and_opens_the_readers(walk: Walk) -> None:
    answer = walk.screen().get("/s/still-house", headers=SPANISH)
    assert (answer.status_code, answer.location) == (302, "/es/stops/still-house")


def test_a_visitors_own_choice_holds_at_the_next_code_and_over_a_link(walk: Walk) -> None:
    screen = walk.screen()
    screen.get("/language/es?to=/en/stops/still-house")
    assert screen.get("/s/cask-store").location == "/es/stops/cask-store"
    assert screen.get("/en/stops/cask-store").location == "/es/stops/cask-store"
    assert '<html lang="es"' in screen.get("/s/attic").text


@pytest.mark.parametrize("path", ["/es/stops/attic", "/es/bottles/L-0", "/es/nothing"])
def test_what_is_not_there_is_said_in_the_language_of_the_address(walk: Walk, path: str) -> None:
    answer = walk.screen().get(path)
    assert answer.status_code == 404
    if path != "/es/nothing":
        assert '<html lang="es"' in answer.text


@pytest.mark.parametrize("path", ["/s/attic", "/b/L-0"])
def test_an_unknown_code_is_told_in_the_readers_language(walk: Walk, path: str) -> None:
    answer = walk.screen().get(path, headers=SPANISH)
    assert answer.status_code == 404
    assert '<html lang="es"' in answer.text


def test_a_language_that_the_site_lacks_has_no_page(walk: Walk) -> None:
    assert walk.screen().get("/xx/").status_code == 404


@pytest.fixture
def tasting(walk: Walk) -> Tasting:
    begun = Tasting.begun(walk.store, walk.site, walk.clock.at)
    begun.check()
    begun.pour(begun.guests[1], "anejo")
    return begun


def own_address(walk: Walk, guest: int) -> str:
    return f"/g/{guest_token(walk.site.secret, guest, 0)}"


def test_a_guest_finds_the_names_of_what_they_tasted_in_their_language(walk: Walk, tasting: Tasting) -> None:
    answer = walk.screen().get(own_address(walk, tasting.guests[1]))
    assert '<html lang="es"' in answer.text
    assert re.search(
        r'<a href="/es/products/anejo">.*?<strong class="product-name">Anejo</strong>', answer.text, re.S
    )
    assert 'href="/es/stops/still-house"' in answer.text


def test_what_is_no_longer_listed_is_named_by_its_id_alone(walk: Walk, tasting: Tasting) -> None:
    left = {name: product for name, product in walk.site.products.items() if name != "anejo"}
    walk.app.extensions["kiosk"] = replace(
        walk.app.extensions["kiosk"], site=replace(walk.site, products=left)
    )
    assert (
        '<span class="product-name">anejo</span>'
        in walk.screen().get(own_address(walk, tasting.guests[1])).text
    )


def test_a_page_that_can_be_shared_counts_no_drinks(walk: Walk, tasting: Tasting) -> None:
    html = walk.screen().get(own_address(walk, tasting.guests[1])).text
    assert not re.search(r"standard drink|trago est|fl oz|\d mL", html)


def test_a_guests_own_choice_goes_before_that_of_the_card(walk: Walk, tasting: Tasting) -> None:
    screen = walk.screen()
    screen.get("/language/en")
    assert '<html lang="en"' in screen.get(own_address(walk, tasting.guests[1])).text


def test_a_guests_page_is_not_kept_found_or_told_on(walk: Walk, tasting: Tasting) -> None:
    headers = walk.screen().get(own_address(walk, tasting.guests[0])).headers
    assert headers["Cache-Control"] == "no-store"
    assert "noindex" in headers["X-Robots-Tag"]
    assert headers["Referrer-Policy"] == "no-referrer"


def test_a_wrong_token_and_an_ended_page_look_alike(walk: Walk, tasting: Tasting) -> None:
    ended_address = own_address(walk, tasting.guests[0])
    walk.clock.pass_s(40 * 86_400)
    ended, wrong = (walk.screen().get(path) for path in (ended_address, f"/g/{'A' * 32}"))
    assert ended.status_code == wrong.status_code == 200
    assert "This page has ended" in ended.text
    assert ended.text.replace(ended_address[3:], "") == wrong.text.replace("A" * 32, "")
    assert ended.headers["Cache-Control"] == wrong.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    ("slug", "state"), [(SLUGS[0], state) for state in STATES] + [(s, STATES[0]) for s in SLUGS[1:]]
)
@pytest.mark.parametrize("asked", ["en", "both"])
def test_a_guide_reads_one_language_or_both_side_by_side(
    walk: Walk, slug: str, asked: str, state: State
) -> None:
    state(walk)
    answer = guide_screen(walk).get(f"/staff/stops/{slug}?language={asked}")
    assert answer.status_code == 200
    articles = re.findall(r'<article class="guide" lang="(\w+)"', answer.text)
    assert articles == (["en", "es"] if asked == "both" else [asked])
    ids = re.findall(r'\bid="([^"]+)"', answer.text)
    assert len(ids) == len(set(ids))


def test_a_guide_sees_what_a_figure_rests_on(walk: Walk) -> None:
    walk.told("casks_filled", 12, rests_on=tuple(f"fill:{n}" for n in range(1, 13)))
    html = guide_screen(walk).get("/staff/stops/cask-store?language=en").text
    assert "fill:1, fill:2, fill:3, fill:4, 8 more records" in re.sub(r"\s+", " ", html)


def test_a_guide_reads_say_and_do_not_say_with_the_reason(walk: Walk) -> None:
    html = guide_screen(walk).get("/staff/stops/still-house?language=en").text
    assert "<th>say</th>" in html
    assert "<th>because</th>" in html


def test_a_language_that_the_site_lacks_gives_the_guides_own(walk: Walk) -> None:
    html = guide_screen(walk).get("/staff/stops/still-house?language=xx").text
    assert re.findall(r'<article class="guide" lang="(\w+)"', html) == ["en"]


@pytest.mark.parametrize("role", ["guide", "bar", "trainee", "production", "manager"])
def test_everybody_of_the_house_may_read_guide_pages(walk: Walk, role: str) -> None:
    assert guide_screen(walk, role).get("/staff/stops/still-house").status_code == 200


def test_guests_find_no_guide_pages(walk: Walk) -> None:
    assert walk.screen().get("/staff/stops/still-house").status_code == 404


def test_a_guide_page_of_no_stop_is_not_there(walk: Walk) -> None:
    assert guide_screen(walk).get("/staff/stops/attic").status_code == 404
