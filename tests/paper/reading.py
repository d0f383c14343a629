"""Reads what was printed: pages as pictures and text, codes by two decoders, fonts from the file."""

from __future__ import annotations

import re

import cv2
import numpy
import pypdfium2
import zxingcpp
from PIL import Image

DPI = 150


def pictures(pdf: bytes, dpi: int = DPI) -> list[Image.Image]:
    """Return each page as it prints."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=dpi / 72).to_pil() for page in document]
    finally:
        document.close()


def words_on(pdf: bytes) -> str:
    """Return the text of all pages, line ends as spaces."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        pages = [page.get_textpage().get_text_range() for page in document]
    finally:
        document.close()
    return re.sub(r"\s+", " ", " ".join(pages))


def read_by_both(picture: Image.Image) -> tuple[list[str], str]:
    """Return what zxing-cpp and OpenCV read from the codes of a page."""
    first = [found.text for found in zxingcpp.read_barcodes(picture)]
    grey = numpy.asarray(picture.convert("L"))
    second, _points, _straight = cv2.QRCodeDetector().detectAndDecode(grey)
    return first, second


def fonts_in(pdf: bytes) -> set[str]:
    """Return the names of the fonts that a file lists."""
    return {name.decode() for name in re.findall(rb"/BaseFont\s*/([A-Za-z0-9+\-]+)", pdf)}


def embedded(pdf: bytes) -> int:
    """Return how many fonts lie in the file."""
    return len(re.findall(rb"/FontFile2", pdf))
