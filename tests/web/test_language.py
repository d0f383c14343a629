"""Own choice, then the link, then the browser, then the site's first language."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, small_site
from tests.small_app import SHARED_FEATURES

# (own choice, browser): where a code without a language leads
FROM_THE_ROOT = {
    (None, "es-PR,es;q=0.9,en;q=0.8"): "/es/",
    (None, "en-GB"): "/en/",
    (None, "fr-CA,fr"): "/en/",
    (None, ""): "/en/",
    ("es", "en-US"): "/es/",
    ("en", "es"): "/en/",
    ("fr", "es"): "/es/",  # not a language of this site
}


@pytest.mark.parametrize(("choice", "browser"), FROM_THE_ROOT)
def test_an_address_without_language_follows_choice_then_browser(
    screen: Screen, choice: str | None, browser: str
) -> None:
    if choice:
        screen.client.set_cookie("language", choice)
    answer = screen.get("/", headers={"Accept-Language": browser})
    assert answer.headers["Location"] == FROM_THE_ROOT[choice, browser]


def test_the_sites_first_language_is_the_last_resort(
    tmp_path: Path, sqlite_store: Store, clock: Clock
) -> None:
    site = small_site(tmp_path)
    turned = replace(site, languages=tuple(reversed(site.languages)))
    screen = Screen(create_app(turned, sqlite_store, clock, features=SHARED_FEATURES))
    assert screen.get("/").headers["Location"] == "/es/"


def test_a_link_outweighs_the_browser(screen: Screen) -> None:
    page = screen.get("/es/", headers={"Accept-Language": "en"})
    assert '<html lang="es"' in page.get_data(as_text=True)


def test_a_choice_outweighs_a_link_and_keeps_its_questions(screen: Screen) -> None:
    screen.get("/language/es")
    answer = screen.get("/en/?from=card&from=door")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/es/?from=card&from=door")


def test_a_language_that_the_site_lacks_is_no_address(screen: Screen) -> None:
    assert screen.get("/fr/").status_code == 404
    assert screen.get("/language/fr").status_code == 404


BACK = {
    "/en/stops/still-house": "/es/stops/still-house",
    "/en/?a=1": "/es/?a=1",
    "/staff/sign-in": "/staff/sign-in",
    "//evil.example/en/": "/es/",
    "/\\evil.example": "/es/",
    "https://evil.example/": "/es/",
    "": "/es/",
}


@pytest.mark.parametrize("to", BACK)
def test_choosing_goes_back_to_the_same_page_of_this_site_in_that_language(screen: Screen, to: str) -> None:
    answer = screen.get("/language/es", query_string={"to": to})
    assert answer.headers["Location"] == BACK[to]
    cookie = screen.client.get_cookie("language")
    assert cookie is not None
    assert cookie.value == "es"


def test_staff_pages_speak_the_persons_language(tablet: Screen) -> None:
    before = tablet.get("/staff/sign-in", headers={"Accept-Language": "es"}).get_data(as_text=True)
    tablet.sign_in(1)
    after = tablet.get("/staff/", headers={"Accept-Language": "es"}).get_data(as_text=True)
    assert '<html lang="es"' in before
    assert '<html lang="en"' in after


@pytest.mark.parametrize(("path", "language"), [("/es/no/such/page", "es"), ("/en/nothing/here", "en")])
def test_a_page_that_is_not_there_is_missed_in_the_language_of_its_address(
    screen: Screen, path: str, language: str
) -> None:
    answer = screen.get(path, headers={"Accept-Language": "fr"})
    assert answer.status_code == 404
    assert f'<html lang="{language}"' in answer.get_data(as_text=True)


def test_the_next_person_gets_their_own_language_and_not_the_choice_of_the_last(tablet: Screen) -> None:
    browser = {"Accept-Language": "en"}
    tablet.sign_in(1)
    tablet.get("/language/es")
    assert '<html lang="es"' in tablet.get("/staff/", headers=browser).get_data(as_text=True)
    tablet.post("/staff/sign-out", "/staff/sign-in")
    assert '<html lang="en"' in tablet.get("/staff/sign-in", headers=browser).get_data(as_text=True)
    tablet.get("/language/es")
    tablet.sign_in(1)
    assert '<html lang="en"' in tablet.get("/staff/", headers=browser).get_data(as_text=True)
