"""Addresses that belong to no feature."""

from __future__ import annotations

from tests.actors import Screen


def test_the_sites_colours_are_a_stylesheet(screen: Screen) -> None:
    answer = screen.get("/site.css")
    assert answer.mimetype == "text/css"
    assert "--site-accent: #24512f" in answer.get_data(as_text=True)


def test_a_file_outside_the_static_folder_is_not_served(screen: Screen) -> None:
    assert screen.get("/static/../house.py").status_code == 404
