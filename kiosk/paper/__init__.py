"""What is printed: fonts, escaping, sheets and the code matrix. All text goes through `text`."""

from kiosk.paper.fonts import text

__all__ = ["text"]
