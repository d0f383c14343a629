"""The inks of every screen and paper: their roles, their light and dim colours, and the contrast they keep.

Few inks, each with one role. One ink is for action (`act`), one for what comes next
(`next`); the inks of states (`st-`) mean a state and nothing else; `clay` is for drawings.
Style sheets name an ink as `var(--name)`. A house brings its own `accent`, from which the
inks of its bands and actions are mixed.

Contrast is that of WCAG 2.2: text needs 4.5 on its ground (success criterion 1.4.3), the
edges of what can be pressed need 3 (1.4.11).
"""

from __future__ import annotations

import colorsys
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

TEXT_CONTRAST, EDGE_CONTRAST = 4.5, 3.0
BAND_CONTRAST = 11.0
"""How dark a band of the house stays in the dim room: its text has this contrast on it."""


class Ink(NamedTuple):
    """An ink: its name in style sheets, its colours #rrggbb in light and in the dim room, its role."""

    name: str
    light: str
    dim: str
    role: str


CANE, CANE_DIM = "#471340", "#dba9ce"
"""The accents of a house that sets none: the purple of ripe cane."""

INKS = (
    Ink("paper", "#f7f1de", "#0a1a20", "the ground of pages"),
    Ink("tile", "#fffbef", "#12262d", "the ground of what can be pressed or filled in"),
    Ink("sunk", "#ece3c8", "#071419", "the ground of what is set back"),
    Ink("ink", "#0d2b33", "#efe6cd", "text and strong lines"),
    Ink("muted", "#4d5b5c", "#a9b3ac", "second lines"),
    Ink("edge", "#7b7263", "#73858a", "edges of what can be pressed"),
    Ink("rule", "#d8cda9", "#28404a", "lines that only divide"),
    Ink("bar", "#0d2b33", "#050f13", "the bars above and below"),
    Ink("bar-text", "#f7f1de", "#efe6cd", "text on the bars"),
    Ink("act", CANE, CANE_DIM, "what acts, links and numbers"),
    Ink("act-text", "#f7f1de", "#0a1a20", "text on what acts"),
    Ink("field", CANE, "#3a1034", "the bands of the house"),
    Ink("field-text", "#f7f1de", "#efe6cd", "text on the bands"),
    Ink("field-quiet", "#dcc6d6", "#cdb4c6", "second lines on the bands"),
    Ink("field-deep", "#2c0a27", "#22091f", "the ground line on the bands"),
    Ink("field-low", "#73396a", "#6a3562", "drawings on the bands that are not lit"),
    Ink("next", "#f4cf3a", "#cdae31", "the one thing that is in hand or comes next"),
    Ink("next-text", "#0d2b33", "#0a1a20", "text on what comes next"),
    Ink("juice", "#f4cf3a", "#dcbb34", "sky, wood and juice in drawings; marks under live figures"),
    Ink("on-juice", CANE, "#3a1034", "numbers and drawings on juice"),
    Ink("clay", "#c65a30", "#b95a34", "copper and spirit in drawings, never text or state"),
    Ink("juice-light", "#f7f1de", "#e9dcae", "what is light in drawings on juice"),
    Ink("juice-low", "#e3b021", "#b5971f", "the flat tint of drawings on juice"),
    Ink("clay-lit", "#d9683a", "#c9643a", "clay in drawings on the bands"),
    Ink("tint", "#e5dabb", "#22393f", "the flat tint of drawings on paper"),
    Ink("tint-mid", "#d8caa2", "#2a3f47", "drawings on paper that are not lit"),
    Ink("tint-low", "#c9b98f", "#354b53", "their outlines"),
    Ink("field-hill", "#5c2453", "#4a1943", "the flat tint of drawings on the bands"),
    Ink("field-mid", "#5f2a57", "#522349", "drawings on the bands that are not lit: their fillings"),
    Ink("field-high", "#8a4f80", "#8a4f80", "drawings on the bands that are not lit: their lights"),
    Ink("st-check", "#8a4b00", "#f0b25c", "a check to make, a limit that is reached"),
    Ink("st-stop", "#b0121f", "#ff8f86", "service stopped, allergy, danger"),
    Ink("st-free", "#0f5c8c", "#84c4ee", "no alcohol, under age"),
    Ink("st-ok", "#1c6b3c", "#7fcb98", "current and in order"),
    Ink("st-on", "#fffbef", "#0a1a20", "text on the ink of a state"),
)
"""Every ink, as a house without an accent of its own prints it."""

_GROUNDS = ("paper", "tile", "sunk")
PAIRS: tuple[tuple[str, str, float], ...] = (
    *((text, ground, TEXT_CONTRAST) for text in ("ink", "muted", "act") for ground in _GROUNDS),
    *(
        (state, ground, TEXT_CONTRAST)
        for state in ("st-check", "st-stop", "st-free", "st-ok")
        for ground in _GROUNDS
    ),
    *(("edge", ground, EDGE_CONTRAST) for ground in _GROUNDS),
    *(("st-on", state, TEXT_CONTRAST) for state in ("st-check", "st-stop", "st-free", "st-ok")),
    ("bar-text", "bar", TEXT_CONTRAST),
    ("next", "bar", TEXT_CONTRAST),
    ("act-text", "act", TEXT_CONTRAST),
    ("field-text", "field", TEXT_CONTRAST),
    ("field-quiet", "field", TEXT_CONTRAST),
    ("field-text", "field-deep", TEXT_CONTRAST),
    ("field-quiet", "field-deep", TEXT_CONTRAST),
    ("juice", "field", TEXT_CONTRAST),
    ("juice", "field-deep", TEXT_CONTRAST),
    ("next-text", "next", TEXT_CONTRAST),
    ("on-juice", "juice", TEXT_CONTRAST),
)
"""The pairs of text or edge and ground that pages use, with the contrast that each keeps."""


def is_colour(value: object) -> bool:
    """Say whether a value is a colour written #rrggbb."""
    return isinstance(value, str) and re.fullmatch(r"#[0-9a-fA-F]{6}", value) is not None


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio (1 to 21) of two colours written #rrggbb.

    >>> round(contrast("#000000", "#ffffff"))
    21
    """
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def house_inks(accent: str, accent_dim: str) -> tuple[Ink, ...]:
    """Return the inks of a house by its accents for light and for dim pages, both #rrggbb."""
    if (accent, accent_dim) == (CANE, CANE_DIM):
        return INKS
    paper, dim_text = "#f7f1de", "#efe6cd"
    band = next(dark for dark in _darker(accent) if contrast(dark, dim_text) >= BAND_CONTRAST)
    own = {
        "act": (accent, accent_dim),
        "field": (accent, band),
        "field-quiet": (_mixed(paper, accent, 0.15), _mixed(dim_text, band, 0.15)),
        "field-deep": (_mixed(accent, "#000000", 0.4), _mixed(band, "#000000", 0.4)),
        **{
            name: (_mixed(accent, paper, share), _mixed(band, dim_text, share))
            for name, share in (
                ("field-hill", 0.1),
                ("field-mid", 0.14),
                ("field-low", 0.25),
                ("field-high", 0.4),
            )
        },
        "on-juice": (accent, band),
    }
    return tuple(Ink(ink.name, *own.get(ink.name, (ink.light, ink.dim)), ink.role) for ink in INKS)


def lost_pairs(inks: Sequence[Ink], *, dim: bool) -> Iterator[tuple[str, str]]:
    """Yield each pair of text or edge and ground that has lost its contrast, on light or on dim pages."""
    colours = {ink.name: ink.dim if dim else ink.light for ink in inks}
    for text, ground, least in PAIRS:
        if contrast(colours[text], colours[ground]) < least:
            yield text, ground


def keeps_contrast(accent: str, *, dim: bool) -> bool:
    """Say whether every pair of inks that an accent enters, for light or for dim pages, keeps its contrast."""
    inks = house_inks(CANE if dim else accent, accent if dim else CANE_DIM)
    return not any(lost_pairs(inks, dim=dim))


def nearest(accent: str, *, dim: bool) -> str:
    """Return the colour nearest in lightness to an accent, of its hue, that keeps the contrast of its pairs."""
    hue, lightness, saturation = colorsys.rgb_to_hls(*_channels(accent))
    steps = sorted((step / 100 for step in range(101)), key=lambda step: abs(step - lightness))
    colours = (_written(colorsys.hls_to_rgb(hue, step, saturation)) for step in steps)
    return next(colour for colour in (accent, *colours) if keeps_contrast(colour, dim=dim))


def stylesheet(inks: Sequence[Ink]) -> str:
    """Return the style sheet that gives every ink its colour, in light, in the dim room and on paper."""
    light, dim = (
        "".join(f"--{ink.name}:{colour};" for ink, colour in zip(inks, colours, strict=True))
        for colours in ([ink.light for ink in inks], [ink.dim for ink in inks])
    )
    dark = f"color-scheme:dark;{dim}"
    return (
        f":root{{color-scheme:light;{light}}}\n"
        f'@media screen and (prefers-color-scheme:dark){{[data-theme="auto"]{{{dark}}}}}\n'
        f'@media screen{{[data-theme="dim"]{{{dark}}}}}\n'
    )


def on_paper(inks: Sequence[Ink]) -> Mapping[str, str]:
    """Return the colours #rrggbb of the inks as they are printed, by name."""
    return {ink.name: ink.light for ink in inks}


@lru_cache(4096)
def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    red, green, blue = map(_linear, _channels(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


def _channels(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    return red, green, blue


def _written(channels: Sequence[float]) -> str:
    return "#" + "".join(f"{round(channel * 255):02x}" for channel in channels)


def _darker(colour: str) -> Iterator[str]:
    """Yield a colour and darker ones down to black."""
    return (_mixed(colour, "#000000", step / 50) for step in range(51))


def _mixed(colour: str, other: str, share: float) -> str:
    """Return a colour with a `share` (0 to 1) of another in it."""
    pairs = zip(_channels(colour), _channels(other), strict=True)
    return _written([one + (two - one) * share for one, two in pairs])
