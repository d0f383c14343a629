"""Pages of guests are rendered once per change: 304, or from memory, with one query while nothing changes."""

from __future__ import annotations

import gzip
from datetime import timedelta

import pytest

from kiosk.store import rows
from kiosk.store.tables.production import casks
from tests.actors import Screen, hire
from tests.costs import Cost, cost
from tests.walking import Walk

GZIP = {"Accept-Encoding": "gzip"}
PAGES = ("/en/", "/en/stops/still-house", "/en/glossary", "/en/products", "/en/products/blanco")


def asked(walk: Walk, screen: Screen, path: str, **headers: str) -> tuple[int, str, str, Cost]:
    """Return status, text and ETag of a page, and what it cost."""
    with cost(walk.store) as spent:
        answer = screen.get(path, headers=headers)
    return answer.status_code, answer.text, answer.headers.get("ETag", ""), spent


def cask(walk: Walk) -> None:
    with walk.store.write() as session:
        rows.insert(session, casks, {"code": "C-1", "wood": "used oak", "capacity_ml": 200_000})


@pytest.mark.parametrize("path", PAGES)
def test_an_unchanged_page_is_not_rendered_again(walk: Walk, path: str) -> None:
    _, first, etag, _ = asked(walk, walk.screen(), path)
    status, again, same, spent = asked(walk, walk.screen(), path)
    assert (status, again, same) == (200, first, etag)
    assert (spent.templates, len(spent.queries)) == ([], 1)
    status, text, _, spent = asked(walk, walk.screen(), path, **{"If-None-Match": etag})
    assert (status, text, spent.templates, len(spent.queries)) == (304, "", [], 1)


def test_a_change_of_records_or_of_a_figure_renders_the_page_anew(walk: Walk) -> None:
    path = "/en/stops/still-house"
    walk.told("run_abv_now", 71.3)
    _, first, etag, _ = asked(walk, walk.screen(), path)
    assert "71.3" in first
    cask(walk)
    _, _, other, spent = asked(walk, walk.screen(), path, **{"If-None-Match": etag})
    assert other != etag
    assert spent.templates
    walk.clock.at += timedelta(minutes=2)
    walk.told("run_abv_now", 68.4)
    status, text, _, _ = asked(walk, walk.screen(), path, **{"If-None-Match": other})
    assert (status, "68.4" in text, "71.3" in text) == (200, True, False)


def test_each_language_and_look_has_a_page_of_its_own(walk: Walk) -> None:
    texts = [walk.screen().get(f"/{code}/stops/still-house").text for code in ("en", "es", "en")]
    dim = walk.screen()
    dim.get("/look/dim?to=/en/")
    assert 'data-theme="dim"' in dim.get("/en/stops/still-house").text
    assert 'data-theme="auto"' in walk.screen().get("/en/stops/still-house").text
    assert texts[0] == texts[2] != texts[1]


def test_a_device_and_an_address_with_a_query_get_a_page_that_is_not_kept(walk: Walk) -> None:
    hire(walk.store, walk.site, walk.clock.at)
    tablet = walk.screen()
    tablet.enrol(walk.store, walk.site, walk.clock.at)
    for screen, path in ((tablet, "/en/"), (walk.screen(), "/en/?from=poster")):
        status, text, etag, spent = asked(walk, screen, path)
        assert (status, etag) == (200, "")
        assert spent.templates
    assert "poster" in text
    assert "poster" not in walk.screen().get("/en/").text


def test_a_stop_that_is_not_on_the_route_is_not_kept(walk: Walk) -> None:
    assert [walk.screen().get("/en/stops/attic").status_code for _ in range(2)] == [404, 404]
    cookies = walk.screen().get("/en/").headers
    assert "Set-Cookie" not in cookies
    assert set(cookies["Vary"].split(", ")) == {"Cookie", "Accept-Language", "Accept-Encoding"}
    assert cookies["Cache-Control"] == "no-cache"


def test_a_kept_page_of_guests_goes_compressed_and_304_still_works(walk: Walk) -> None:
    screen = walk.screen()
    plain, short = screen.get("/en/stops/still-house"), screen.get("/en/stops/still-house", headers=GZIP)
    assert short.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(short.data) == plain.data
    assert len(short.data) * 3 < len(plain.data)
    assert plain.headers["ETag"] == short.headers["ETag"]
    etag = {"If-None-Match": short.headers["ETag"]}
    unchanged = screen.get("/en/stops/still-house", headers={**GZIP, **etag})
    assert (unchanged.status_code, unchanged.data) == (304, b"")
    assert "Accept-Encoding" in unchanged.headers["Vary"]


def test_a_page_with_what_a_person_typed_stays_as_it_is(walk: Walk) -> None:
    answer = walk.screen().get("/en/?from=poster", headers=GZIP)
    assert "poster" in answer.text
    assert "Content-Encoding" not in answer.headers
