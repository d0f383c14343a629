"""Reads the images that a house brings, its mark and the picture of its front page, from the site's folder.

When the site is loaded only the head of a file is judged. Its pixels are decoded once, when
the first page or paper asks for them, and written anew as WebP: what a browser or a printer
gets holds the pixels of the first frame, and neither metadata nor anything else of the file.
`kiosk check` decodes every file; where a file breaks after that, the house is drawn without it
and the log says why. Only PNG and WebP are read. SVG is refused: it is a document that may hold
scripts and name other files. Bytes and pixels are bounded before anything is decoded, so that
a small file cannot ask for much memory.
"""

import hashlib
import logging
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image as Pillow
from PIL import ImageChops, ImageOps, ImageStat, UnidentifiedImageError

from kiosk.site.faults import Fault
from kiosk.site.toml_reader import Setting, Where
from kiosk.site.values import TEXTS, matching, texts
from kiosk.words.catalogs import N_

log = logging.getLogger(__name__)

MOST_FILE_BYTES = 8_000_000
MOST_PIXELS = 16_000_000
"""What a photograph of 4000 x 4000 has; decoded it takes 64 MB."""
LEAST_SIDE, MOST_RATIO = 16, 6
MARK_SIDE, MARK_BYTES = 192, 6_000
"""A mark is printed 13 mm and shown at most 8 % of a screen high."""
PICTURE_SIDE, PICTURE_BYTES = 1600, 60_000
FEW_COLOURS, ALIKE = 64, 4.0
"""A drawing in flat colors, which these few show within 4 of 255, is written without loss: it is small."""
LOSSLESS, QUALITIES = 100, (85, 70, 55, 40)
EVEN_GREY = 125
"""The grey (0 to 255) on which the light and the dark ground of a mark have about the same contrast."""

FILE = N_('a PNG or WebP file in the site\'s folder, such as "mark.png"')
READABLE = N_("a whole picture in the format PNG or WebP")
SMALLER = N_("at most {pixels} million pixels, and a file of at most {megabytes} MB")
SHAPE = N_("a picture of which each side has at least {least} pixels, and none is {ratio} times the other")
SEEN = N_("a picture that is not wholly transparent")

_name = matching(r"(?i)[^\x00-\x1f]+\.(?:png|webp)")
SETTINGS = (
    Setting("mark", _name, FILE, "The house's own mark, a file in the site's folder.", None),
    Setting("picture", _name, FILE, "A picture for the front page, a file in the site's folder.", None),
    texts("picture_text", "What the picture shows, for those who do not see it.", default={}),
)
NONE: Mapping[str, Any] = {"mark": None, "picture": None, "picture_text": {}}


@dataclass(frozen=True, slots=True)
class Image:
    """An image as it is served: WebP, with its size in pixels and its digest, which its address holds."""

    webp: bytes = field(repr=False)
    width: int
    height: int
    light: bool  # what it shows is light: it stands on a dark ground

    @property
    def digest(self) -> str:
        """The first digits of the SHA-256 of what is served."""
        return hashlib.sha256(self.webp).hexdigest()[:16]

    def picture(self, *, grey: bool = False) -> Pillow.Image:
        """Return the image decoded, for paper; in greys for a printer with black only."""
        picture = Pillow.open(BytesIO(self.webp)).convert("RGBA")
        return picture.convert("LA").convert("RGBA") if grey else picture


@dataclass(frozen=True, slots=True)
class ImageFile:
    """A file of the site's folder that holds an image, and the bounds of what is served of it."""

    name: str  # in the site's folder
    path: Path
    setting: str
    side: int  # at most so many pixels
    most_bytes: int

    def image(self) -> Image:
        """Return the image decoded and written anew. Raises _Unusable."""
        picture = _decoded(self.path)
        webp, width, height = _written(picture, self.side, self.most_bytes)
        seen = picture.getchannel("A").point(lambda v: 255 * (v > 0))
        grey = ImageStat.Stat(picture.convert("L"), seen)
        return Image(webp, width, height, grey.mean[0] > EVEN_GREY)

    def faults(self) -> list[Fault]:
        """Return why the file cannot be used, by decoding it; nothing where it can."""
        try:
            _decoded(self.path)
        except _Unusable as unusable:
            return [unusable.of(self)]
        return []


@dataclass(frozen=True)
class HouseImages:
    """The images of a house, each None where it has brought none."""

    mark_file: ImageFile | None = None
    picture_file: ImageFile | None = None
    picture_text: Mapping[str, str] = field(default_factory=dict)  # by language code

    @cached_property
    def mark(self) -> Image | None:
        """The mark, read when it is first asked for."""
        return _served(self.mark_file)

    @cached_property
    def picture(self) -> Image | None:
        """The picture of the front page, read when it is first asked for."""
        return _served(self.picture_file)

    @property
    def files(self) -> Sequence[ImageFile]:
        """The files that the house has brought; none is decoded for it."""
        return [file for file in (self.mark_file, self.picture_file) if file]

    @property
    def each(self) -> Sequence[Image]:
        """The images that the house has brought, read."""
        return [image for image in (self.mark, self.picture) if image]


def _served(file: ImageFile | None) -> Image | None:
    """Return the image of a file; None, and a line in the log, for one that broke after it was checked."""
    if file is None:
        return None
    try:
        return file.image()
    except _Unusable as unusable:
        log.error("%s", unusable.of(file).sentence())
        return None


class _Unusable(Exception):
    """A file is no image that is served: `fault` is without its place."""

    def __init__(self, found: str, allowed: str, **facts: object) -> None:
        super().__init__(found)
        self.fault = Fault("", None, "", found, allowed, facts)

    def of(self, file: ImageFile) -> Fault:
        """Return the fault with its place."""
        return replace(self.fault, file=file.name, key=f"images.{file.setting}")


def read_images(table: Mapping[str, Any], folder: Path, where: Where) -> HouseImages:
    """Return the images that a site's settings name, by the heads of their files.

    What cannot be used is a fault and left out; no pixel is decoded.
    """
    if table["picture"] and not table["picture_text"]:
        where.at("picture_text").missing(TEXTS)
    mark = _read(table["mark"], "mark", folder, where, MARK_SIDE, MARK_BYTES)
    picture = _read(table["picture"], "picture", folder, where, PICTURE_SIDE, PICTURE_BYTES)
    return HouseImages(mark, picture, table["picture_text"])


def _read(
    name: str | None, setting: str, folder: Path, where: Where, side: int, most_bytes: int
) -> ImageFile | None:
    if name is None:
        return None
    path = (folder / name).resolve()
    if not path.is_relative_to(folder) or not path.is_file():
        where.at(setting).note(name, FILE)
        return None
    file = ImageFile(path.relative_to(folder).as_posix(), path, setting, side, most_bytes)
    try:
        with _opened(path):
            return file
    except _Unusable as unusable:
        where.faults.append(unusable.of(file))
        return None


@contextmanager
def _opened(path: Path) -> Iterator[Pillow.Image]:
    """Open a file whose head is within the bounds; nothing is decoded yet.

    Raises _Unusable, also for what goes wrong in the block that decodes it.
    """
    bounds = {"pixels": MOST_PIXELS // 1_000_000, "megabytes": MOST_FILE_BYTES // 1_000_000}
    data = b""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_FILE_BYTES + 1)
        if len(data) > MOST_FILE_BYTES:
            raise _Unusable(f"{path.stat().st_size / 1_000_000:.1f} MB", SMALLER, **bounds)
        with Pillow.open(BytesIO(data), formats=("PNG", "WEBP")) as opened:
            width, height = opened.size
            if width * height > MOST_PIXELS:
                raise _Unusable(f"{width} x {height}", SMALLER, **bounds)
            if min(width, height) < LEAST_SIDE or max(width, height) > MOST_RATIO * min(width, height):
                raise _Unusable(f"{width} x {height}", SHAPE, least=LEAST_SIDE, ratio=MOST_RATIO)
            yield opened
    except UnidentifiedImageError:
        start = "".join(c if c.isprintable() else "." for c in data[:8].decode("latin-1"))
        raise _Unusable(f'"{start}"', READABLE) from None
    except (Pillow.DecompressionBombError, OSError, SyntaxError, ValueError, EOFError) as error:
        raise _Unusable(str(error) or type(error).__name__, READABLE) from error


def _decoded(path: Path) -> Pillow.Image:
    """Return the first frame of a file, upright, in red, green, blue and opacity. Raises _Unusable."""
    with _opened(path) as opened:
        picture = ImageOps.exif_transpose(opened).convert("RGBA")
    if not picture.getchannel("A").getbbox():
        raise _Unusable(f"{picture.width} x {picture.height}", SEEN)
    return picture


def _written(picture: Pillow.Image, side: int, most_bytes: int) -> tuple[bytes, int, int]:
    """Return a picture as WebP with its width and height: as large and as fine as the bytes allow."""
    while True:
        plain = Pillow.frombytes("RGBA", picture.size, picture.tobytes())  # without metadata
        plain.thumbnail((side, side), Pillow.Resampling.LANCZOS)
        few = plain.quantize(FEW_COLOURS, Pillow.Quantize.FASTOCTREE, dither=Pillow.Dither.NONE)
        flat = few.convert("RGBA")
        alike = max(ImageStat.Stat(ImageChops.difference(plain, flat)).rms) <= ALIKE
        for quality in (LOSSLESS, *QUALITIES) if alike else QUALITIES:
            out = BytesIO()
            shown = flat if alike else plain
            shown.save(out, "WEBP", quality=quality, lossless=quality == LOSSLESS, method=4)
            if out.tell() <= most_bytes:
                return out.getvalue(), *plain.size
        side = side * 3 // 4
