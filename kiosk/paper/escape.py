"""The one door for text on paper."""

from __future__ import annotations

from html import escape

from kiosk.paper.fonts import printable


def text(value: object) -> str:
    """Return a value as text that a Paragraph prints as it stands.

    reportlab's Paragraph reads markup: a name holding an image tag would embed
    a local file. Here every mark of markup becomes a letter.
    """
    return escape(printable(str(value)), quote=True)
