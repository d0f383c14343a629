"""The form token, and what fields give."""

from __future__ import annotations

import pytest
from flask import Flask

from kiosk.web import forms
from tests.actors import Screen


def test_a_form_with_its_token_is_taken(screen: Screen) -> None:
    assert screen.post("/note", page="/en/", note=" hello ").get_data(as_text=True) == "hello"


@pytest.mark.parametrize("token", ["", "0" * 64, "ñ"])
def test_a_form_without_its_token_is_refused_with_a_sentence(screen: Screen, token: str) -> None:
    screen.get("/en/")
    answer = screen.client.post("/note", data={"form_token": token})
    assert answer.status_code == 403
    assert "no longer valid" in answer.get_data(as_text=True)


def test_a_token_of_another_visitor_is_refused(screen: Screen, app: Flask) -> None:
    theirs = Screen(app).token("/en/")
    screen.get("/en/")
    assert screen.client.post("/note", data={"form_token": theirs}).status_code == 403


def test_signing_in_changes_the_token(tablet: Screen) -> None:
    before = tablet.token("/staff/sign-in")
    tablet.sign_in(1)
    assert tablet.client.post("/staff/sign-out", data={"form_token": before}).status_code == 403
    assert tablet.post("/staff/sign-out", page="/staff/").status_code == 302


PATHS = {
    "/staff/": "/staff/",
    "/en/?a=b": "/en/?a=b",
    None: "/",
    "": "/",
    "en/": "/",
    "//evil.example": "/",
    "/\\evil.example": "/",
    "/a\\b": "/",
    "/a\nb": "/",
    "http://evil.example/": "/",
}


@pytest.mark.parametrize("path", PATHS)
def test_only_paths_of_this_site_are_followed(path: str | None) -> None:
    assert forms.local_path(path, "/") == PATHS[path]


@pytest.mark.parametrize(
    ("sent", "number"), [("12", 12), (" 7 ", 7), ("", None), ("-1", None), ("1.5", None), ("٣", None)]
)
def test_whole_numbers_are_digits_only(app: Flask, sent: str, number: int | None) -> None:
    with app.test_request_context("/", method="POST", data={"n": sent}):
        assert forms.whole("n") == number


@pytest.mark.parametrize(
    ("sent", "text"),
    [
        (" Ana ", "Ana"),
        ("Jose\u0301", "José"),
        ("A\x00na", "Ana"),
        ("An\u200ba", "Ana"),
        ("\u202eanA", "anA"),
        ("two\nlines", "twolines"),
        ("x" * 300, "x" * 200),
    ],
)
def test_text_is_one_line_of_signs_that_can_be_seen(app: Flask, sent: str, text: str) -> None:
    with app.test_request_context("/", method="POST", data={"n": sent}):
        assert forms.text("n") == text
