"""The range of colours that a site may choose from: text in them stays readable.

The measure is the contrast ratio of WCAG 2.2 (success criterion 1.4.3): at
least 4.5 to 1 against the ground that the colour is written on.
"""

from __future__ import annotations

import re

LIGHT_GROUND = "#fbf7f0"
DARK_GROUND = "#17130f"
LEAST_CONTRAST = 4.5


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio (1 to 21) of two colours written #rrggbb."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def is_colour(value: object) -> bool:
    """Say whether a value is a colour written #rrggbb."""
    return isinstance(value, str) and re.fullmatch(r"#[0-9a-fA-F]{6}", value) is not None


def readable_on(colour: str, ground: str) -> bool:
    """Say whether text in a colour may stand on a ground."""
    return contrast(colour, ground) >= LEAST_CONTRAST


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    red, green, blue = (_linear(int(colour[place : place + 2], 16) / 255) for place in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)
