"""What a house's image becomes: pixels alone, within bounds; what is refused, with its file and a remedy."""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image as Pillow

from kiosk.site import images
from kiosk.site.check import check_site
from kiosk.site.images import HouseImages, read_images
from kiosk.site.toml_reader import Where

COPPER, SEA = (198, 90, 48, 255), (13, 43, 51, 255)
SECRET = b"the owner's own garden"
Save = Callable[..., bytes]


def encoded(picture: Pillow.Image, kind: str = "PNG", **how: Any) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **how)
    return out.getvalue()


def plain(colour: tuple[int, ...] = COPPER, size: tuple[int, int] = (300, 200)) -> Pillow.Image:
    return Pillow.new("RGBA", size, colour)


def near(colour: Any, other: tuple[int, ...]) -> bool:
    return max(abs(one - two) for one, two in zip(colour, other, strict=True)) <= 3


def read(
    folder: Path, data: bytes, setting: str = "mark", name: str = "a.png"
) -> tuple[HouseImages, list[str]]:
    """Return the images of a house whose file holds `data`, and the faults."""
    folder, faults = folder.resolve(), []
    (folder / name).write_bytes(data)
    table = {**images.NONE, setting: name, "picture_text": {"en": "A house."}}
    found = read_images(table, folder, Where("site.toml", "", faults, ("images",)))
    faults += [fault for file in found.files for fault in file.faults()]  # as `kiosk check` judges them
    return found, [fault.sentence() for fault in faults]


def of_claimed_size(width: int, height: int) -> bytes:
    """Return a PNG of a few bytes whose head claims a size, and whose pixels are compressed zeros."""
    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(1_000_000))), (b"IEND", b""))
    chunks = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_an_image_keeps_its_pixels_and_its_opacity(kind: str, tmp_path: Path) -> None:
    picture = plain()
    picture.paste((0, 0, 0, 0), (0, 0, 150, 200))
    found, faults = read(tmp_path, encoded(picture, kind, lossless=True))
    assert not faults
    assert found.mark
    served = Pillow.open(BytesIO(found.mark.webp))
    assert (served.format, served.size) == ("WEBP", (found.mark.width, found.mark.height))
    assert served.width == images.MARK_SIDE
    assert near(served.convert("RGBA").getpixel((served.width - 4, 60)), COPPER)
    assert served.convert("RGBA").getpixel((4, 60))[3] == 0


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_metadata_is_gone_and_the_picture_stands_upright(kind: str, tmp_path: Path) -> None:
    exif = Pillow.Exif()
    exif[0x0112], exif[0x010E] = 6, SECRET.decode()  # turned by a quarter; a description
    data = encoded(plain(), kind, exif=exif.tobytes())
    assert SECRET in data
    found, faults = read(tmp_path, data)
    assert not faults
    assert found.mark
    assert found.mark.height > found.mark.width
    assert SECRET not in found.mark.webp
    assert b"EXIF" not in found.mark.webp


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_only_the_first_frame_is_kept(kind: str, tmp_path: Path) -> None:
    moving = encoded(plain(), kind, save_all=True, append_images=[plain(SEA)], duration=90, lossless=True)
    found, faults = read(tmp_path, moving)
    assert not faults
    assert found.mark
    served = Pillow.open(BytesIO(found.mark.webp))
    assert getattr(served, "n_frames", 1) == 1
    assert near(served.convert("RGBA").getpixel((50, 50)), COPPER)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", '"<svg xml". Allowed: a whole picture'),
        (encoded(plain().convert("RGB"), "GIF"), '"GIF8'),
        (encoded(plain().convert("RGB"), "JPEG"), "Allowed: a whole picture in the format PNG or WebP"),
        (encoded(plain())[:-60], "Allowed: a whole picture in the format PNG or WebP"),
        (b"", "Allowed: a whole picture"),
        (encoded(plain(size=(8, 8))), "found 8 x 8. Allowed: a picture of which each side has at least 16"),
        (encoded(plain(size=(700, 100))), "700 x 100. Allowed: a picture of which each side"),
        (encoded(plain((0, 0, 0, 0))), "300 x 200. Allowed: a picture that is not wholly transparent"),
        (of_claimed_size(30_000, 30_000), "Allowed:"),
        (of_claimed_size(4_001, 4_000), "found 4001 x 4000. Allowed: at most 16 million pixels"),
    ],
)
def test_what_is_no_such_picture_is_refused_by_its_file(data: bytes, said: str, tmp_path: Path) -> None:
    found, faults = read(tmp_path, data)
    assert found.mark is None
    assert len(faults) == 1
    assert faults[0].startswith("a.png: images.mark: found ")
    assert said in faults[0]


def test_a_bomb_is_refused_before_it_is_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def decode(self: Pillow.Image) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr(Pillow.Image, "convert", decode)
    bomb = of_claimed_size(9_000, 9_000)
    assert len(bomb) < 2_000
    assert "found 9000 x 9000. Allowed: at most 16 million pixels" in read(tmp_path, bomb)[1][0]


def test_a_large_file_is_not_read(tmp_path: Path) -> None:
    assert "8.1 MB. Allowed: at most 16 million" in read(tmp_path, encoded(plain()) + bytes(8_100_000))[1][0]


@pytest.mark.parametrize(
    ("setting", "most"), [("mark", images.MARK_BYTES), ("picture", images.PICTURE_BYTES)]
)
def test_what_is_served_is_light_whatever_it_shows(setting: str, most: int, tmp_path: Path) -> None:
    noise = Pillow.frombytes("RGB", (1200, 800), random.Random(7).randbytes(1200 * 800 * 3))
    found, faults = read(tmp_path, encoded(noise), setting)
    assert not faults
    (image,) = found.each
    assert len(image.webp) <= most


def test_broken_files_are_faults_and_never_errors(tmp_path: Path) -> None:
    good, rng = [encoded(plain(size=(40, 30))), encoded(plain(size=(40, 30)), "WEBP")], random.Random(3)
    for _ in range(300):
        data = bytearray(rng.choice(good))
        for _ in range(rng.choice((1, 3, 12))):
            data[rng.randrange(len(data))] = rng.randrange(256)
        found, faults = read(tmp_path, bytes(data[: rng.choice((len(data), rng.randrange(len(data))))]))
        assert bool(found.mark) != bool(faults)


@pytest.mark.parametrize(
    "name", ["mark.svg", "../mark.png", "/etc/mark.png", "no-such.png", "folder.png", "mark.png\\u0000.png"]
)
def test_a_name_that_is_no_file_of_the_folder_is_refused(name: str, folder: Path, broken: Any) -> None:
    (folder / "folder.png").mkdir()
    (folder.parent / "mark.png").write_bytes(encoded(plain()))
    (said,) = broken("site.toml", 'mark = "mark.png"', f'mark = "{name}"')
    assert said.startswith("site.toml, line ")
    assert 'images.mark: found "' in said
    assert "Allowed: a PNG or WebP file in the site's folder" in said


def test_a_link_out_of_the_folder_is_refused(folder: Path, broken: Any) -> None:
    (folder.parent / "elsewhere.png").write_bytes(encoded(plain()))
    (folder / "link.png").symlink_to(folder.parent / "elsewhere.png")
    assert "in the site's folder" in broken("site.toml", 'mark = "mark.png"', 'mark = "link.png"')[0]


def test_a_picture_needs_its_words_in_each_language(broken: Any) -> None:
    (said,) = broken("site.toml", 'mark = "mark.png"', 'picture = "mark.png"')
    assert "images.picture_text is missing. Needed: a text for each of the site's languages" in said
    (said,) = broken("site.toml", 'picture = "mark.png"', 'picture = "mark.png"\npicture_text = {en = "A"}')
    assert "images.picture_text.es is missing" in said


def test_no_pixel_is_decoded_before_a_page_asks_and_then_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    decode, decoded = images._decoded, []
    monkeypatch.setattr(images, "_decoded", lambda path: decoded.append(path.name) or decode(path))
    folder = tmp_path.resolve()
    (folder / "a.png").write_bytes(encoded(plain()))
    found = read_images({**images.NONE, "mark": "a.png"}, folder, Where("site.toml", "", []))
    assert [file.name for file in found.files] == ["a.png"]
    assert decoded == []
    assert found.mark is found.mark
    assert found.each == [found.mark]
    assert decoded == ["a.png"]


def test_a_file_that_breaks_after_the_site_was_loaded_is_left_out_and_logged(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    found, faults = read(tmp_path, encoded(plain()))
    assert not faults
    (tmp_path / "a.png").write_bytes(encoded(plain())[:-60])
    assert found.mark is None
    assert "a.png: images.mark: found" in caplog.text


def test_the_check_of_a_site_decodes_its_images(folder: Path, broken: Any) -> None:
    (folder / "broken.png").write_bytes(encoded(plain())[:-60])
    assert broken("site.toml", 'mark = "mark.png"', 'mark = "broken.png"') == []  # its head is whole
    (said,) = [fault.sentence() for fault in check_site(folder)]
    assert "broken.png: images.mark: found" in said


def test_a_light_mark_asks_for_a_dark_ground(tmp_path: Path) -> None:
    shades = {shade: plain((shade, shade, shade, 255)) for shade in (20, 235)}
    for picture in shades.values():
        picture.paste((255 - picture.getpixel((0, 0))[0],) * 3 + (0,), (0, 0, 250, 200))  # not seen
    light = {shade: read(tmp_path, encoded(picture))[0].mark.light for shade, picture in shades.items()}
    assert light == {20: False, 235: True}
