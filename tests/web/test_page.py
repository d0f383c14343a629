"""What every template can say, and what every page keeps to.

The site's own colours, and the contrast of the house's tokens in both themes.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask, render_template_string

import kiosk
from kiosk.web.access import open_to
from tests.actors import Screen

HERE = Path(kiosk.__file__).parent
TEMPLATES = sorted(HERE.rglob("templates/**/*.html"))
SCRIPTS = sorted((HERE / "web" / "static" / "js").glob("*.js"))


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_carries_style_or_script_of_its_own(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"(src|href)=\"(https?:)?//", text)
    assert len(text.splitlines()) <= 80


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_scripts_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 120


def test_messages_are_escaped_where_they_are_printed(app: Flask) -> None:
    @app.get("/<lang>/said")
    @open_to("anyone")
    def said(lang: str) -> str:
        return render_template_string("{{ _('This device: {name}', name=name) }}", name="<b>")

    assert app.test_client().get("/en/said").get_data(as_text=True) == "This device: &lt;b&gt;"


def test_a_page_names_its_language_and_has_a_title(screen: Screen) -> None:
    page = screen.get("/es/").get_data(as_text=True)
    assert '<html lang="es"' in page
    assert "<title>Small Site</title>" in page


def test_languages_are_offered_in_their_own_words(screen: Screen) -> None:
    page = screen.get("/en/?a=1").get_data(as_text=True)
    assert 'lang="es" hreflang="es"' in page
    assert ">Español</a>" in page
    assert "/language/es?to=/en/?a%3D1" in page


@pytest.mark.parametrize("look", ["auto", "light", "dim"])
def test_a_device_may_choose_its_look(screen: Screen, look: str) -> None:
    assert screen.get(f"/look/{look}?to=/en/").headers["Location"] == "/en/"
    assert f'data-theme="{look}"' in screen.get("/en/").get_data(as_text=True)


def test_a_look_that_there_is_not_is_no_address(screen: Screen) -> None:
    assert screen.get("/look/neon").status_code == 404


FACES = ("kiosk-stencil", "kiosk-stencil-small", "kiosk-text-400", "kiosk-text-700")


def test_the_guests_first_page_is_light(screen: Screen) -> None:
    """Over the wire: the first guests' page with its drawings, both display faces, both weights of text."""
    gzip = {"Accept-Encoding": "gzip"}
    page = screen.get("/en/", headers=gzip)
    text = screen.get("/en/").get_data(as_text=True)
    linked = re.findall(r'(?:href|src)="(/(?:static|site)[^"]+)"', text)
    faces = {f"/static/fonts/{face}.woff2" for face in FACES}
    weight = len(page.data) + sum(len(screen.get(path, headers=gzip).data) for path in {*linked, *faces})
    assert "<svg" in text
    assert weight < 80_000
