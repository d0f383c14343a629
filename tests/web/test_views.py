"""Addresses that belong to no feature."""

from __future__ import annotations

import pytest

from tests.actors import Screen


def test_the_inks_of_the_house_are_a_style_sheet(screen: Screen) -> None:
    answer = screen.get("/site.css")
    assert answer.mimetype == "text/css"
    assert "--act:#24512f;" in answer.get_data(as_text=True)


def test_a_file_outside_the_static_folder_is_not_served(screen: Screen) -> None:
    assert screen.get("/static/../house.py").status_code == 404


@pytest.mark.parametrize(("language", "title"), [("en", "Service rules"), ("es", "Reglas de servicio")])
def test_the_manual_is_read_in_the_readers_language(tablet: Screen, language: str, title: str) -> None:
    tablet.sign_in(1)
    tablet.client.set_cookie("language", language)
    listed = tablet.get("/staff/manual").get_data(as_text=True)
    assert f'href="/staff/manual/rules">{title}<' in listed
    answer = tablet.get("/staff/manual/rules")
    page = answer.get_data(as_text=True)
    assert f"<h1>{title}</h1>" in page
    assert f'<article class="manual" lang="{language}">' in page
    assert "<td><code>guest_age</code></td>" in page


def test_every_staff_page_has_a_link_to_the_manual(tablet: Screen) -> None:
    assert 'href="/staff/manual"' not in tablet.get("/staff/sign-in").get_data(as_text=True)
    tablet.sign_in(1)
    assert 'href="/staff/manual"' in tablet.get("/staff/").get_data(as_text=True)


def test_a_page_that_the_manual_lacks_is_not_found(tablet: Screen) -> None:
    tablet.sign_in(1)
    assert tablet.get("/staff/manual/nothing").status_code == 404
    assert tablet.get("/staff/manual/laws/nothing").status_code == 404


def test_an_example_of_a_law_is_plain_text(tablet: Screen) -> None:
    tablet.sign_in(1)
    answer = tablet.get("/staff/manual/laws/kentucky")
    assert answer.mimetype == "text/plain"
    assert "[[service.limit]]" in answer.get_data(as_text=True)
