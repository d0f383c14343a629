"""Every stop that ships has a drawing of its own, told in words to whoever does not see it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import kiosk.production.lineage
import kiosk.stops
from kiosk.site.shipped import shipped

DRAWINGS = Path(kiosk.stops.__file__).parent / "templates" / "stops" / "drawings"
LINEAGE = Path(kiosk.production.lineage.__file__).parent / "templates"
SLUGS = sorted(path.parent.name for path in (shipped("content") / "stops").glob("*/stop.toml"))
FEWEST_WORDS = 12


@pytest.mark.parametrize("slug", SLUGS)
def test_a_stop_has_a_drawing_with_words_for_what_it_shows(slug: str) -> None:
    source = (DRAWINGS / f"{slug}.html").read_text(encoding="utf-8")
    told = re.search(r"""role="img" aria-label="\{\{ _\('(Drawing: [^']+)'\) \}\}">""", source)
    assert told
    assert len(told[1].split()) >= FEWEST_WORDS


@pytest.mark.parametrize(
    "path",
    [*sorted(DRAWINGS.glob("*.html")), *LINEAGE.glob("lineage/_*drawing.html")],
    ids=lambda path: path.stem,
)
def test_a_drawing_takes_its_colors_from_the_page(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert 'class="line-art"' in source
    assert not re.search(r"""\b(fill|stroke|style)=|#[0-9a-f]{3,6}\b""", source)
