"""One way out for errors."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import pytest
from flask import Flask

from kiosk.figures.errors import Bounds, FigureError
from kiosk.store.errors import Stale
from kiosk.web.access import open_to
from tests.actors import Screen

JSON = {"Accept": "application/json"}


class Empty(Exception):
    """A refusal of a test's own."""

    status = 409
    message = "The vat {vat} is empty."
    facts: Mapping[str, object] = {"vat": "V<1>"}


@pytest.fixture
def faulty(app: Flask, now: datetime) -> Flask:
    """The small site with pages that go wrong."""
    faults = {
        "empty": Empty(),
        "stale": Stale("casks", 1, None, now),
        "figure": FigureError("proof", 300, Bounds(0, 200)),
        "bug": RuntimeError("a bug"),
    }

    @app.get("/fault/<name>")
    @open_to("anyone")
    def fault(name: str) -> str:
        raise faults[name]

    @app.post("/fault/of/method")
    @open_to("anyone")
    def only_post() -> str:
        return ""

    return app


CASES = {
    "/fault/empty": (409, "empty", "The vat V<1> is empty."),
    "/fault/stale": (409, "stale", "Another person changed this before you."),
    "/fault/figure": (422, "out_of_range", "300"),
    "/no/where": (404, "not_found", "There is no page at this address."),
    "/fault/of/method": (405, "method_not_allowed", "does not take"),
}


@pytest.mark.parametrize("path", CASES)
def test_an_error_is_a_sentence_in_json(faulty: Flask, path: str) -> None:
    answer = faulty.test_client().get(path, headers=JSON)
    status, code, said = CASES[path]
    body = answer.get_json()
    assert (answer.status_code, body["error"]) == (status, code)
    assert said in body["sentence"]


@pytest.mark.parametrize("path", CASES)
def test_an_error_is_a_page_with_its_text_escaped(faulty: Flask, path: str) -> None:
    answer = faulty.test_client().get(path)
    page = answer.get_data(as_text=True)
    assert answer.status_code == CASES[path][0]
    assert CASES[path][2].replace("<", "&lt;").replace(">", "&gt;") in page
    assert 'role="alert"' in page


def test_the_sentence_is_in_the_readers_language(screen: Screen) -> None:
    english = screen.get("/no/where", headers=JSON).get_json()["sentence"]
    spanish = screen.get("/no/where", headers={**JSON, "Accept-Language": "es"}).get_json()["sentence"]
    assert english != spanish


def test_a_fault_of_ours_is_logged_and_tells_nothing(faulty: Flask, caplog: pytest.LogCaptureFixture) -> None:
    faulty.testing = False
    answer = faulty.test_client().get("/fault/bug")
    assert answer.status_code == 500
    assert "a bug" not in answer.get_data(as_text=True)
    assert "a bug" in caplog.text


def test_a_test_sees_the_fault_itself(faulty: Flask) -> None:
    with pytest.raises(RuntimeError, match="a bug"):
        faulty.test_client().get("/fault/bug")


def test_a_redirect_is_no_error(screen: Screen) -> None:
    assert screen.get("/en").status_code == 308


@pytest.mark.parametrize(
    ("referrer", "back"),
    [
        ("http://localhost/staff/tours/1?a=1", 'href="/staff/tours/1?a=1"'),
        ("http://evil.example/staff/", None),
        ("http://[", None),
        ("http://localhost/en/no/such/page", None),
        (None, None),
    ],
)
def test_an_error_page_leads_back_to_the_page_before(screen: Screen, referrer: str, back: str | None) -> None:
    headers = {"Referer": referrer} if referrer else {}
    page = screen.get("/en/no/such/page", headers=headers).get_data(as_text=True)
    assert ("Back to the page before" in page) == (back is not None)
    assert back is None or back in page
