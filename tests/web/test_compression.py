"""Text goes over the wire compressed: static files and kept pages of guests, and no page of staff."""

from __future__ import annotations

import gzip
import re

import pytest

from kiosk.web import compression
from tests.actors import Screen

GZIP = {"Accept-Encoding": "gzip, deflate, br"}
CSS = "/static/css/base.css"


def linked(screen: Screen) -> list[str]:
    return re.findall(r'(?:href|src)="(/(?:static|site)[^"]+)"', screen.get("/en/").text)


def test_static_text_goes_compressed_with_its_content_unchanged(screen: Screen) -> None:
    paths = [path for path in linked(screen) if ".woff2" not in path]
    assert {path.split("?")[0].rsplit(".", 1)[-1] for path in paths} >= {"css", "svg"}
    for path in paths:
        plain, short = screen.get(path), screen.get(path, headers=GZIP)
        assert "Accept-Encoding" in plain.headers["Vary"]
        assert "Accept-Encoding" in short.headers["Vary"]
        assert "Content-Encoding" not in plain.headers
        assert short.headers["Content-Encoding"] == "gzip"
        assert int(short.headers["Content-Length"]) == len(short.data) < len(plain.data)
        assert gzip.decompress(short.data) == plain.data


def test_files_whose_address_carries_their_content_are_kept_for_a_year(screen: Screen) -> None:
    for path in linked(screen):
        assert screen.get(path, headers=GZIP).headers["Cache-Control"].endswith("max-age=31536000")


def test_a_typeface_is_not_compressed_again(screen: Screen) -> None:
    assert "Content-Encoding" not in screen.get("/static/fonts/kiosk-stencil.woff2", headers=GZIP).headers


def test_a_browser_that_has_the_file_gets_304_by_its_weak_etag(screen: Screen) -> None:
    etag = screen.get(CSS, headers=GZIP).headers["ETag"]
    assert etag.startswith('W/"')
    again = screen.get(CSS, headers={**GZIP, "If-None-Match": etag})
    assert (again.status_code, again.data) == (304, b"")
    assert "Content-Encoding" not in again.headers


def test_a_part_of_a_file_is_a_part_of_its_plain_bytes(screen: Screen) -> None:
    whole = screen.get(CSS).data
    part = screen.get(CSS, headers={**GZIP, "Range": "bytes=10-29"})
    assert (part.status_code, part.data) == (206, whole[10:30])
    assert "Content-Encoding" not in part.headers


@pytest.mark.parametrize(
    ("accepted", "sent"),
    [("", None), ("br", None), ("gzip;q=0", None), ("gzip;q=0, *", None), ("*", "gzip"), ("GZIP", "gzip")],
)
def test_only_a_browser_that_reads_gzip_gets_it(screen: Screen, accepted: str, sent: str | None) -> None:
    answer = screen.get(CSS, headers={"Accept-Encoding": accepted})
    assert answer.headers.get("Content-Encoding") == sent


def test_a_content_is_compressed_once(screen: Screen, monkeypatch: pytest.MonkeyPatch) -> None:
    first = screen.get(CSS, headers=GZIP).data
    monkeypatch.setattr(compression.gzip, "compress", lambda *_, **__: pytest.fail("compressed again"))
    assert screen.get(CSS, headers=GZIP).data == first


def test_a_page_with_a_token_stays_as_it_is(screen: Screen) -> None:
    page = screen.get("/staff/enrol", headers=GZIP)
    assert 'name="form_token"' in page.text
    assert "Content-Encoding" not in page.headers
