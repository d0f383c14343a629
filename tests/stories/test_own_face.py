"""A house puts its own mark and a picture on its pages; a file that cannot be used is named beforehand."""

from __future__ import annotations

import re
import urllib.request
from pathlib import Path

import pytest
from PIL import Image

from tests.stories.house import ISLAND, MAINLAND, Country, kiosk, new_site, serve

IMAGES = """\
[images]
mark = "mark.png"
picture = "house.webp"
picture_text = { en = "The house under the hill.", es = "La casa al pie de la loma." }
"""


def brought(folder: Path) -> None:
    """Write the images and their settings into a new site, as the comments of its settings say."""
    Image.new("RGBA", (300, 200), "#c65a30").save(folder / "mark.png")
    Image.radial_gradient("L").resize((1800, 1000)).convert("RGB").save(folder / "house.webp")
    settings = folder / "site.toml"
    text = settings.read_text(encoding="utf-8")
    written = "".join(f"# {line}\n" for line in IMAGES.splitlines())
    assert text.count(written) == 1
    settings.write_text(text.replace(written, IMAGES), encoding="utf-8")


def fetched(address: str) -> tuple[str, bytes]:
    with urllib.request.urlopen(address, timeout=20) as answer:
        return answer.headers["Content-Type"], answer.read()


@pytest.mark.parametrize("country", [ISLAND, MAINLAND], ids=["island", "mainland"])
def test_a_house_shows_its_own_mark_and_picture(tmp_path: Path, country: Country) -> None:
    folder = tmp_path / "site"
    new_site(folder, country)
    brought(folder)
    (folder / "mark.png").rename(folder / "kept.png")
    (folder / "mark.png").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>", encoding="utf-8")
    refused = kiosk("check", "--site", str(folder))
    assert refused.returncode != 0
    assert 'mark.png: images.mark: found "<svg xml"' in refused.stdout + refused.stderr
    (folder / "kept.png").replace(folder / "mark.png")
    assert "images." not in kiosk("check", "--site", str(folder)).stdout
    process, house = serve(folder)
    try:
        for language, words in (("en", "The house under the hill."), ("es", "La casa al pie de la loma.")):
            page = fetched(f"{house.base}/{language}/")[1].decode()
            assert f'alt="{words}"' in page
            shown = set(re.findall(r"/house/[0-9a-f]{16}\.webp", page))
            assert len(shown) == 2
            for address in shown:
                kind, image = fetched(house.base + address)
                assert kind == "image/webp"
                assert 0 < len(image) <= 60_000
    finally:
        process.terminate()
        process.wait(20)
