"""Instruments that are vessels: a cask cut across, a bottle's fill, a glass; and the route with its groups."""

import math
from collections.abc import Sequence
from itertools import pairwise

from markupsafe import Markup

from kiosk.drawings.ink import box, circle, lines, n, path, placed, polygon, svg, text
from kiosk.drawings.levels import circle_height, revolved_height
from kiosk.drawings.parts import HouseBottle, Tint
from kiosk.drawings.plates.instruments import FIGURE_X, figure, whole

BOWL_ML = 130
"""What a tasting glass holds to its rim; a narrow nosing glass commonly does (common practice)."""

_CASK = (108.0, 172.0, 94.0)  # middle and outer radius


def rod_lines(capacity: float, step: float) -> list[tuple[float, float]]:
    """Return the volumes of a dipping rod with their heights, as shares of the inner diameter."""
    count = math.floor(capacity / step + 1e-9)
    return [(i * step, circle_height(i * step / capacity)) for i in range(1, count + 1)]


def cask_cut(
    volume: float | None,
    capacity: float,
    step: float,
    shown: str = "",
    unit: str = "",
    angels: str = "",
    angels_unit: str = "",
    label: str = "",
) -> Markup:
    """Return a cask cut across with its level, the rod's lines at their true heights, and what left.

    Volume, capacity and step are in one unit; `angels` is the figure of what the angels took.
    Raises ValueError for a volume that the cask does not hold.
    """
    if volume is not None and not 0 <= volume <= capacity:
        raise ValueError(f"{volume} in a cask of {capacity}")
    x, y, r = _CASK
    inner = r * 0.84
    body = _shell(x, y, r, inner)
    if volume is not None:
        level = y + inner - 2 * inner * circle_height(volume / capacity)
        half = math.sqrt(max(0.0, inner**2 - (level - y) ** 2))
        large = 1 if level < y else 0
        body += path(
            "c", f"M{n(x - half)} {n(level)}A{n(inner)} {n(inner)} 0 {large} 0 {n(x + half)} {n(level)}Z"
        )
        body += lines("a", (x - half, level, x + half, level))
    else:
        body += lines("b d", (x - inner, y, x + inner, y))
    body += _rod(x, y + inner, inner, capacity, step)
    if volume is not None:
        body += figure(x + half, level, shown, unit, max(96.0, min(level, 250.0)))
    if angels:
        body += path(
            "la w4 r",
            f"M{n(x + 46)} {n(y - r + 2)}q-6 -8 0 -15t0 -15M{n(x + 62)} {n(y - r + 12)}q6 -8 0 -15t0 -15",
        )
        body += figure(x + 62, y - r - 16, angels, angels_unit, 34)
    return whole(body, label, "cask-cut")


def _shell(x: float, y: float, r: float, inner: float) -> str:
    staves = [(i + 0.5) * math.pi / 12 for i in range(24)]
    joints = lines(
        "b",
        *[
            (x + inner * math.cos(a), y + inner * math.sin(a), x + r * math.cos(a), y + r * math.sin(a))
            for a in staves
        ],
    )
    bung = path("p", placed(f"M-17 -3h34l-2 {n(r - inner + 6)}h-30z", x, y - r))
    depth = r - inner
    bung += path("a", placed(f"M-17 0L-15 {n(depth)}M17 0L15 {n(depth)}", x, y - r))
    cradle = path("k", box(x - r - 10, y + r + 2, 2 * r + 20, 8)) + "".join(
        polygon(
            "k", (x + q * r * 0.9, y + r + 2), (x + q * r * 0.45, y + r + 2), (x + q * r * 0.9, y + r * 0.62)
        )
        for q in (-1, 1)
    )
    return cradle + circle("a t", x, y, r) + joints + circle("a p", x, y, inner) + bung


def _rod(x: float, foot: float, inner: float, capacity: float, step: float) -> str:
    rod = path("b p", box(x - 12, 10, 24, foot - 14))
    for i, (volume, height) in enumerate(rod_lines(capacity, step)):
        y = foot - 2 * inner * height
        if volume < capacity * 0.97:
            rod += lines("a" if i % 2 else "f", (x - 12, y, x - (5 if i % 2 else 8), y))
            rod += (
                text("s word end", x + 11, y + 3.6, f"{volume:g}", 11 if volume < 100 else 8.5)
                if i % 2
                else ""
            )
    return rod


def bottle_fill(
    spirit_share: float | None,
    spirit: str = "",
    water: str = "",
    names: tuple[str, str] = ("", ""),
    label: str = "",
) -> Markup:
    """Return a full bottle and what went into it: spirit from the cask below, water of reduction above.

    `spirit_share` is the spirit's part of what was put together, from 0 to 1. The two shrink a
    little when they meet, so the parts show what went in, not two layers.
    Raises ValueError for a share outside 0 to 1.
    """
    if spirit_share is not None and not 0 <= spirit_share <= 1:
        raise ValueError(f"a share of {spirit_share}")
    glass, x, foot = HouseBottle(half=44, height=252), 86.0, 272.0
    body, figures = path("p", glass.d(0, 0.95, x, foot)), ""
    if spirit_share is None:
        body += path("b d", glass.d(0, 0.5, x, foot))
    else:
        split = glass.level(spirit_share)
        for ink, low, high, shown, name in (
            ("c", 0.0, split, spirit, names[0]),
            ("t", split, glass.FULL, water, names[1]),
        ):
            if high - low > 0.001:
                body += path(ink, glass.d(low, high, x, foot))
                at = (low + high) / 2
                y = foot - at * glass.height
                figures += figure(x + glass.half_at(at) * 0.6, y, shown, name, max(60.0, y)) if shown else ""
        y, half = foot - split * glass.height, glass.half_at(split)
        body += lines("b d", (x - half, y, x + half, y))
    stopper = path("k", box(x - 20, foot - glass.height, 40, 16))
    body += path("a", glass.d(0, 0.95, x, foot)) + stopper + lines("a", (4, foot + 2, 336, foot + 2))
    return whole(body + figures, label, "bottle-fill")


# Half the width of a tasting glass's bowl at a share of its height.
_BOWL = (
    (0.0, 0.0),
    (0.08, 0.62),
    (0.2, 0.9),
    (0.36, 1.0),
    (0.5, 0.96),
    (0.7, 0.78),
    (0.85, 0.66),
    (1.0, 0.62),
)


def _bowl_half(up: float) -> float:
    for (low, narrow), (high, wide) in pairwise(_BOWL):
        if up <= high:
            return narrow + (wide - narrow) * (up - low) / (high - low)
    return _BOWL[-1][1]


def _bowl(x: float, base: float, high: float) -> str:
    """Return the path data of the bowl up to a share of its height; it is 168 tall and 64 wide on each side."""
    ups = [high * i / 14 for i in range(15)]
    right = [(x + 64 * _bowl_half(u), base - u * 168) for u in ups]
    left = [(2 * x - a, b) for a, b in reversed(right)]
    return "M" + "L".join(f"{n(a)} {n(b)}" for a, b in right + left) + "Z"


def glass_drinks(
    share: float | None, drinks: float | None, shown: str = "", unit: str = "", label: str = ""
) -> Markup:
    """Return a tasting glass with its sample, and its standard drinks as rings that fill.

    `share` is the sample's part of the bowl's whole volume; `drinks` counts standard drinks.
    """
    x, foot = 92.0, 272.0
    base = foot - 84
    stem = placed("M-4 -2h8V74L44 84H-44L-4 74Z", x, base)
    glass = path("a", _bowl(x, base, 1)) + path("k", stem) + lines("a", (4, foot + 2, 336, foot + 2))
    body = path("p", _bowl(x, base, 1))
    if share is None or drinks is None:
        return whole(body + glass + lines("b d", (x - 30, base - 40, x + 30, base - 40)), label, "glass")
    up = revolved_height(share, _bowl_half, 1.0)
    y, half = base - up * 168, 64 * _bowl_half(up)
    body += path("c", _bowl(x, base, up)) + lines("a", (x - half, y, x + half, y)) if share else ""
    rings = "".join(
        _ring(FIGURE_X + 20 + (i % 3) * 44, 190 + i // 3 * 44, min(1.0, drinks - i))
        for i in range(max(1, math.ceil(drinks - 1e-9)))
    )
    return whole(body + glass + figure(x + half, y, shown, unit, 110) + rings, label, "glass")


def tasting_glass(volume_ul: float, tint: Tint, label: str = "") -> Markup:
    """Return a tasting glass with a sample at its true height, in the tint of its bottle."""
    x, base, foot = 70.0, 176.0, 248.0
    up = revolved_height(min(1.0, volume_ul / 1000 / BOWL_ML), _bowl_half, 1.0)
    y = base - up * 168
    body = path("glass", _bowl(x, base, 1)) + path(f"fill {tint}", _bowl(x, base, up))
    if tint == "fruit":
        for i in range(1, 5):
            half = 64 * _bowl_half(up * i / 5)
            body += lines("hatch", (x - half, base - up * 168 * i / 5, x + half, base - up * 168 * i / 5))
    half = 64 * _bowl_half(up)
    body += lines("surface", (x - half, y, x + half, y)) + path("rim", _bowl(x, base, 1))
    stem = f"M{n(x - 4)} {n(base - 2)}h8V{n(foot - 10)}L{n(x + 44)} {n(foot)}H{n(x - 44)}L{n(x - 4)} {n(foot - 10)}Z"
    return svg(
        (0, 0, 140, foot + 2), body + path("stopper", stem), kind="bottle-level tasting-glass", label=label
    )


def _ring(x: float, y: float, share: float) -> str:
    """Return a ring that is filled like a clock by a share of one standard drink."""
    ring = circle("a p", x, y, 18)
    if share >= 0.995:
        return ring + circle("c", x, y, 14)
    a = 2 * math.pi * share - math.pi / 2
    large = 1 if share > 0.5 else 0
    return ring + path(
        "c",
        f"M{n(x)} {n(y)}V{n(y - 14)}A14 14 0 {large} 1 {n(x + 14 * math.cos(a))} {n(y + 14 * math.sin(a))}Z",
    )


def route_map(stops: Sequence[str], groups: Sequence[tuple[float, str]], label: str = "") -> Markup:
    """Return the walk with its numbered stops, and where each group is.

    A group is its place and its name: 2 is at the third stop, 2.5 on the way to the fourth.
    Raises ValueError for a group outside the walk.
    """
    for place, name in groups:
        if not 0 <= place <= len(stops) - 1:
            raise ValueError(f"group {name} at {place} of {len(stops)} stops")
    spots = [_spot(i, len(stops)) for i in range(len(stops))]
    way = path("lt w8 r", "M" + "L".join(f"{n(x)} {n(y)}" for x, y in spots)) + path(
        "b d", "M" + "L".join(f"{n(x)} {n(y)}" for x, y in spots)
    )
    discs = "".join(
        circle("a p", x, y, 15) + text("s num mid", x, y + 6, number, 16)
        for (x, y), number in zip(spots, stops, strict=True)
    )
    flags = ""
    for place, name in groups:
        i = min(int(place), len(spots) - 1)
        (x0, y0), (x1, y1) = spots[i], spots[min(i + 1, len(spots) - 1)]
        x, y = x0 + (x1 - x0) * (place - i), y0 + (y1 - y0) * (place - i)
        broad = 16 + 9 * len(name)
        flags += path("a y", f"M{n(x)} {n(y - 12)}V{n(y - 46)}h{n(broad)}l-6 10l6 10h{n(-broad)}") + text(
            "s word flag", x + 6, y - 31, name, 15
        )
    return whole(way + discs + flags, label, "route")


def _spot(i: int, count: int) -> tuple[float, float]:
    """Return where a stop lies: rows of four, walked to and fro."""
    rows = max(1, math.ceil(count / 4))
    row, column = divmod(i, 4)
    across = 40 + column * 86 if row % 2 == 0 else 40 + (3 - column) * 86
    return float(across), 66 + row * (200 / max(1, rows - 1) if rows > 1 else 0)
