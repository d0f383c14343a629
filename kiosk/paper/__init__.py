"""Printed documents: fonts, sheets, pages, pictures and QR codes. All text passes through `text`."""

from kiosk.paper.fonts import text

__all__ = ["text"]
