"""The site's own colours as a stylesheet, with ink that can be read on them."""

from __future__ import annotations

from kiosk.site.settings import Colours

DARK_INK, LIGHT_INK = "#17130f", "#fffdf9"


def luminance(colour: str) -> float:
    """Return the relative luminance of `#rrggbb`, 0 to 1 (WCAG 2.2, 'relative luminance')."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, 'contrast ratio')."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def ink_on(colour: str) -> str:
    """Return the house's dark or light ink, whichever reads better on a colour."""
    return max((DARK_INK, LIGHT_INK), key=lambda ink: contrast(ink, colour))


def stylesheet(colours: Colours) -> str:
    """Return the custom properties that the tokens build on."""
    return (
        ":root {\n"
        f"  --site-accent: {colours.accent};\n"
        f"  --site-accent-ink: {ink_on(colours.accent)};\n"
        f"  --site-accent-dark: {colours.accent_dark};\n"
        f"  --site-accent-dark-ink: {ink_on(colours.accent_dark)};\n"
        "}\n"
    )
