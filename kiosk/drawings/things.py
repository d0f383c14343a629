"""Things that several drawings show: cane, casks, bottles and glasses."""

import math
from typing import Final

from kiosk.drawings.ink import circle, n, path, placed, polygon

_BOARDS: Final = (-0.42, 0.0, 0.42)


def stalk(
    ink: str, x: float, y: float, height: float, lean: float = 0, joints: int = 7, width: float = 11
) -> str:
    """Return a cane stalk that stands at (x, y): internodes that grow shorter towards the top."""
    d = ""
    for i in range(joints):
        low, high = (i / joints) ** 0.92, ((i + 1) / joints) ** 0.92
        y0, y1 = y - height * low - (1.3 if i else 0), y - height * high + 1.3
        x0, x1 = x + lean * low * low, x + lean * high * high
        half0, half1 = width / 2 * (1 - 0.32 * low), width / 2 * (1 - 0.32 * high)
        mx, my, half = (x0 + x1) / 2, (y0 + y1) / 2, (half0 + half1) * 0.4
        d += (
            f"M{n(x0 - half0)} {n(y0)}Q{n(mx - half)} {n(my)} {n(x1 - half1)} {n(y1)}L{n(x1 + half1)} {n(y1)}"
            f"Q{n(mx + half)} {n(my)} {n(x0 + half0)} {n(y0)}Z"
        )
    return path(ink, d)


def blades(ink: str, *leaves: tuple[float, float, float, float, float, float]) -> str:
    """Return sword leaves: root x and y, reach across and down, how high they arch, how broad they are."""
    d = ""
    for x, y, dx, dy, lift, width in leaves:
        cx, cy, tx, ty, side = x + dx * 0.5, y - lift, x + dx, y + dy, 1 if dx > 0 else -1
        d += (
            f"M{n(x - side * width * 0.2)} {n(y - width * 0.3)}Q{n(cx - side * width * 0.3)} {n(cy - width * 0.6)} "
            f"{n(tx)} {n(ty)}Q{n(cx - side * width * 0.5)} {n(cy + width * 1.5)} "
            f"{n(x + side * width * 0.3)} {n(y + width * 0.9)}Z"
        )
    return path(ink, d)


def plume(ink: str, x: float, y: float, height: float, lean: float) -> str:
    """Return the flower of the cane above its leaves."""
    tx, ty = x + lean, y - height
    d = f"M{n(x - 1)} {n(y)}L{n(tx)} {n(ty + height * 0.55)}h2L{n(x + 1)} {n(y)}Z"
    for i in range(5):
        yy, half = ty + height * (0.62 - i * 0.14), height * 0.17 * (1 - i * 0.17)
        foot = tx + lean * 0.05 * i
        d += (
            f"M{n(foot)} {n(yy + 6)}Q{n(foot - half)} {n(yy - height * 0.02)} {n(tx + lean * 0.09 * i)} "
            f"{n(yy - height * 0.2)}Q{n(foot + half)} {n(yy - height * 0.02)} {n(foot)} {n(yy + 6)}Z"
        )
    return path(ink, d)


def cut_cane(ink: str, x: float, y: float, length: float, thick: float, first: int, slope: float = 0) -> str:
    """Return a cut stalk that lies from (x, y) to the right; `first` varies where its nodes fall."""
    d, at, k, end = "", x, first, x + length
    while at < end - 4:
        width = min((44, 52, 38, 58, 47, 41, 55)[k % 7] * (0.6 + thick / 20), end - at)
        k += 1
        a, b = y + slope * (at - x) / length, y + slope * (at + width - x) / length
        tail = f"q{n(thick / 2)} {n(thick / 2)} 0 {n(thick)}" if at + width >= end - 4 else f"v{n(thick)}"
        d += f"M{n(at)} {n(a)}Q{n(at + width / 2)} {n((a + b) / 2 + 1)} {n(at + width - 1.4)} {n(b)}{tail}"
        d += f"Q{n(at + width / 2)} {n((a + b) / 2 + thick - 1)} {n(at)} {n(a + thick)}Z"
        at += width
    return path(ink, d)


def cask_end(x: float, y: float, r: float, *, ring: str = "k", wood: str = "c") -> str:
    """Return a lying cask from its end: rim, groove, boards."""
    d = ""
    for part in _BOARDS:
        half = math.sqrt((0.8 * r) ** 2 - (part * r) ** 2)
        d += f"M{n(x - half)} {n(y + part * r)}H{n(x + half)}"
    width = "w1" if r < 16 else "w2" if r < 34 else "w3"
    return circle(ring, x, y, r) + circle(wood, x, y, r * 0.8) + path(f"l{ring} {width}", d)


# A tasting glass and the house bottle, one hundred units tall; the bottle is twenty wide.
_GLASS: Final = (
    "M-12.8 -100C-14.4 -78.3 -24.8 -69 -20 -51.6C-16.8 -38 -5 -38 -3.5 -34.3V-7L-20 0H20L3.5 -7V-34.3"
    "C5 -38 16.8 -38 20 -51.6C24.8 -69 14.4 -78.3 12.8 -100Z"
)
_SAMPLE: Final = "M-18.4 -71.5H18.4C20.8 -61.6 16 -44.2 0 -43C-16 -44.2 -20.8 -61.6 -18.4 -71.5Z"
_BOTTLE: Final = (
    "M-10 0V-60Q-10 -66 -6.2 -69Q-3.6 -73 -3.6 -78V-90H-5V-100H5V-90H3.6V-78Q3.6 -73 6.2 -69Q10 -66 10 -60V0Z"
)


def glass(x: float, y: float, height: float, sample: str, ink: str = "k") -> str:
    """Return a tasting glass that stands at (x, y) with a sample in the ink `sample`."""
    scale = height / 100
    return path(f"{ink} h", placed(_GLASS, x, y, scale)) + path(sample, placed(_SAMPLE, x, y, scale))


def bottle(x: float, y: float, height: float, *, ink: str = "k", label: str = "p", width: float = 0) -> str:
    """Return the house bottle that stands at (x, y): square shoulders, short neck, flat stopper."""
    across = (width or height * 0.3) / 20
    shell = path(ink, placed(_BOTTLE, x, y, across, height / 100))
    return (
        shell + path(label, placed("M-7.2 -48h14.4v30h-14.4Z", x, y, across, height / 100))
        if label
        else shell
    )


def worm(ink: str, x: float, top: float, foot: float, half: float, turns: int) -> str:
    """Return the coil of a worm tub: the front halves of its turns."""
    step = (foot - top) / turns
    turn = f"q{n(half)} {n(step * 0.75)} {n(2 * half)} {n(step * 0.35)}"
    return path(ink, "".join(f"M{n(x - half)} {n(top + i * step)}{turn}" for i in range(turns)))


def scallops(ink: str, left: float, right: float, y: float, width: float = 7) -> str:
    """Return a row of half circles below a roof's edge."""
    count = round((right - left) / (2 * width))
    r = (right - left) / count / 2
    return path(ink, f"M{n(left)} {n(y)}" + f"a{n(r)} 8 0 0 0 {r * 2:.3f} 0" * count + "Z")


def racking(ink: str, x: float, y: float, half: float) -> str:
    """Return the wedges that keep a cask from rolling."""
    return polygon(ink, (x - half, y), (x - half * 0.4, y), (x - half, y - half * 0.5)) + polygon(
        ink, (x + half, y), (x + half * 0.4, y), (x + half, y - half * 0.5)
    )


def vapour(ink: str, *feet: tuple[float, float]) -> str:
    """Return rising lines of vapour, each from its foot."""
    return path(f"{ink} w4 r", "".join(f"M{n(x)} {n(y)}q-6 -7 0 -13t0 -13" for x, y in feet))
