"""The mark and the picture that a house has brought: where they stand, and how browsers keep them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image as Pillow

from kiosk.site import images
from kiosk.site.images import HouseImages, read_images
from kiosk.site.settings import Site
from kiosk.site.toml_reader import Where
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, running

WORDS = {"en": "The house under the hill.", "es": "La casa al pie de la loma."}


@pytest.fixture
def own(tmp_path: Path) -> HouseImages:
    folder = tmp_path.resolve()
    Pillow.new("RGBA", (120, 80), "#c65a30").save(folder / "mark.png")
    Pillow.effect_noise((1600, 900), 60).convert("RGB").save(folder / "house.webp", quality=90)
    table = {**images.NONE, "mark": "mark.png", "picture": "house.webp", "picture_text": WORDS}
    return read_images(table, folder, Where("site.toml", "", []))


@pytest.fixture
def browser(site: Site, site_store: Store, clock: Clock, own: HouseImages) -> Screen:
    return Screen(running(replace(site, images=own), site_store, clock))


def test_the_mark_stands_beside_the_name_and_in_the_tab_of_the_browser(browser: Screen) -> None:
    page = browser.get("/en/").get_data(as_text=True)
    (mark,) = re.findall(r'<img class="house-mark" src="(/house/[0-9a-f]{16}\.webp)" alt=""', page)
    assert f'rel="icon" href="{mark}" type="image/webp"' in page
    assert 'class="drawing mark"' not in page
    assert mark in browser.get("/staff/sign-in").get_data(as_text=True)


def test_a_house_without_a_mark_keeps_the_neutral_one(screen: Screen) -> None:
    page = screen.get("/en/").get_data(as_text=True)
    assert 'class="drawing mark"' in page
    assert "/house/" not in page


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_picture_has_its_words_in_the_readers_language(browser: Screen, language: str) -> None:
    page = browser.get(f"/{language}/").get_data(as_text=True)
    assert re.search(rf'<img class="house-picture" [^>]*alt="{re.escape(WORDS[language])}"', page)


def test_an_image_is_kept_for_a_year_by_every_reader(browser: Screen, own: HouseImages) -> None:
    assert own.mark
    answer = browser.get(f"/house/{own.mark.digest}.webp")
    assert (answer.mimetype, answer.data) == ("image/webp", own.mark.webp)
    assert answer.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert "Cookie" not in answer.vary
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert browser.get(f"/house/{own.mark.digest[::-1]}.webp").status_code == 404


def test_the_first_page_of_a_house_with_a_mark_is_light(browser: Screen) -> None:
    """What a browser asks for before anybody scrolls: the picture, which is lazy, is not in it."""
    gzip = {"Accept-Encoding": "gzip"}
    text = browser.get("/en/").get_data(as_text=True)
    assert re.search(r'class="house-picture"[^>]* loading="lazy"', text)
    linked = {*re.findall(r'(?:href|src)="(/(?:static|site|house)[^"]+)"', text)}
    picture = {*re.findall(r'class="house-picture" src="([^"]+)"', text)}
    faces = {f"/static/fonts/kiosk-{f}.woff2" for f in ("stencil", "stencil-small", "text-400", "text-700")}
    weights = {path: len(browser.get(path, headers=gzip).data) for path in {"/en/", *linked, *faces}}
    assert sum(weights.values()) - sum(weights[path] for path in picture) < 80_000
    assert all(weights[path] <= images.PICTURE_BYTES for path in picture)
