"""Instruments drawn at a live value, each with a line from its mark to the figure.

All stand in a view of 340 by 290. The figure is text that the caller has formatted. A value
that is not known is drawn as resting or in dashes, and no figure stands beside it.
"""

import math
from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from kiosk.drawings.ink import box, circle, lines, n, path, placed, rectangle, svg, text
from kiosk.drawings.levels import density_of_abv, stem_place, top_of_scale
from kiosk.drawings.things import blades, stalk

VIEW: Final = (0.0, 0.0, 340.0, 290.0)
FIGURE_X: Final = 214.0
_STEM, _SURFACE = 76.0, 112.0


def figure(x: float, y: float, shown: str, unit: str = "", at: float | None = None) -> str:
    """Return a line from (x, y) to the figure at the right, and the figure with its unit below."""
    height = y if at is None else at
    size = min(44.0, 176.0 / max(2, len(shown)))
    lead = path("lead", f"M{n(x)} {n(y)}L{FIGURE_X - 22:.0f} {n(height)}H{FIGURE_X - 6:.0f}")
    words = text("s num", FIGURE_X, height + size * 0.36, shown, size)
    return (
        lead
        + circle("lead-end", x, y, 3.2)
        + words
        + (
            text("s word", FIGURE_X, height + size * 0.36 + 20, unit, min(15.0, 220.0 / len(unit)))
            if unit
            else ""
        )
    )


def whole(body: str, label: str, kind: str = "") -> Markup:
    """Return an instrument in its view."""
    return svg(VIEW, body, kind=f"instrument {kind}".strip(), label=label)


def float_in_cylinder(
    x: float, place: float | None, marks: Sequence[tuple[float, str]], foot: float = 268.0
) -> str:
    """Return a cylinder with a float in it; the mark at `place` of the stem stands in the surface.

    `marks` are places on the stem with their numbers, "" for a short line. Without a place
    the float stands on the bottom of an empty cylinder, in dashes.
    """
    left, right = x - 25, x + 25
    shell = path(
        "a p",
        f"M{left} {_SURFACE - 6}V{foot - 8}Q{left} {foot} {left + 8} {foot}H{right - 8}Q{right} {foot} {right} {foot - 8}V{_SURFACE - 6}L{right + 5} {_SURFACE - 12}H{left - 5}Z",
    )
    base = path("k", box(x - 34, foot, 68, 6))
    if place is None:
        return shell + base + _float("b d", x, foot - 1 - _STEM - 72)
    liquid = path(
        "t",
        f"M{left + 1} {_SURFACE}H{right - 1}V{foot - 8}Q{right - 1} {foot - 1} {right - 8} {foot - 1}H{left + 8}Q{left + 1} {foot - 1} {left + 1} {foot - 8}Z",
    )
    top = _SURFACE - place * _STEM
    scale, numbers = "", ""
    for at, number in marks:
        y = top + at * _STEM
        scale += f"M{n(x - 6)} {n(y)}h{9 if number else 5}"
        if number:
            numbers += text("s word end", x - 9, y + 4, number, 11)
    surface = path("a", f"M{left} {_SURFACE}H{right}") + path(
        "b",
        f"M{x - 20} {_SURFACE}Q{x - 9} {_SURFACE} {x - 6} {_SURFACE - 4}M{x + 20} {_SURFACE}Q{x + 9} {_SURFACE} {x + 6} {_SURFACE - 4}",
    )
    return shell + liquid + base + _float("b p", x, top) + path("f", scale) + numbers + surface


def _float(ink: str, x: float, top: float) -> str:
    """Return a float whose topmost mark is at `top`."""
    bulb = placed("M-6 0Q-11 3 -12 10V38Q-12 50 0 58Q12 50 12 38V10Q11 3 6 0Z", x, top + _STEM + 14, 1)
    ballast = placed("M-11 36H11Q11 49 0 57Q-11 49 -11 36Z", x, top + _STEM + 14, 1)
    return path(ink, box(x - 6, top - 12, 12, _STEM + 26)) + path(ink, bulb) + path("k", ballast)


def _abv_marks(low: int, high: int) -> tuple[list[tuple[float, str]], float, float]:
    light, heavy = density_of_abv(high), density_of_abv(low)
    marks = [
        (stem_place(density_of_abv(v), light, heavy), str(v) if v % 10 == 0 else "")
        for v in range(low, high + 1, 2)
    ]
    return marks, light, heavy


def _abv_float(x: float, abv_percent: float | None) -> str:
    if abv_percent is None:
        return float_in_cylinder(x, None, [])
    low = min(70, max(0, int((abv_percent - 8) // 10) * 10))
    marks, light, heavy = _abv_marks(low, low + 30)
    return float_in_cylinder(x, stem_place(density_of_abv(abv_percent), light, heavy), marks)


def parrot(abv_percent: float | None, shown: str = "", unit: str = "", label: str = "") -> Markup:
    """Return the parrot: spirit to its rim, the float read at the surface, in % vol at 20 °C."""
    pipe = "M-4 70H26Q38 70 38 82V226Q38 244 56 244H66"
    inlet = path("tube", pipe) + path("tube-core", pipe)
    spout = path("a p", "M115 116H140Q156 116 156 132V152H144V134Q144 130 140 130H115Z")
    flow = path("c", "M116 119H140Q153 119 153 132V150H147V133Q147 127 140 127H116Z") + path(
        "lc w4 r", "M150 156V196"
    )
    can = path("a p", "M134 194H170L164 206V274H140V206Z") + path("f", "M137 202H167")
    body = inlet + can + spout + (flow if abv_percent is not None else "") + _abv_float(90, abv_percent)
    if abv_percent is not None:
        body += figure(115, _SURFACE, shown, unit, 76)
    return whole(body + _floor(), label, "parrot")


def two_floats(
    first: tuple[float | None, str],
    second: tuple[float | None, str],
    names: tuple[str, str] = ("", ""),
    label: str = "",
) -> Markup:
    """Return two cylinders side by side, each with its strength in % vol, its figure and its name."""
    body = ""
    for x, (abv, shown), name in ((70.0, first, names[0]), (230.0, second, names[1])):
        body += _abv_float(x, abv)
        if abv is not None:
            body += lines("lead", (x + 25, _SURFACE, x + 40, _SURFACE)) + circle(
                "lead-end", x + 25, _SURFACE, 3.2
            )
            body += text("s num", x + 42, _SURFACE + 9, shown, min(26.0, 96.0 / max(2, len(shown))))
        body += text("s word mid", x, 288, name, 14) if name else ""
    return whole(body + lines("a", (4, 274, 336, 274)), label, "two-floats")


def gravity_float(specific_gravity: float | None, shown: str = "", unit: str = "", label: str = "") -> Markup:
    """Return a tank's gravity on a float; the numbers of its stem are points above water, 20 for 1.020."""
    light, heavy = 0.990, 1.090
    marks = [
        (stem_place(1 + v / 1000, light, heavy), str(v) if v % 20 == 0 else "") for v in range(-10, 91, 5)
    ]
    place = (
        None
        if specific_gravity is None
        else stem_place(min(heavy, max(light, specific_gravity)), light, heavy)
    )
    body = float_in_cylinder(90, place, marks)
    if specific_gravity is not None:
        body += figure(115, _SURFACE, shown, unit)
    return whole(body + _floor(), label, "gravity")


def load_dial(load: float | None, usual: float, shown: str = "", unit: str = "", label: str = "") -> Markup:
    """Return the dial of the platform scale; it ends with a round number above the load."""
    top = top_of_scale(load or 0, usual)
    x, y, r = 128.0, 140.0, 112.0

    def at(share: float, radius: float) -> tuple[float, float]:
        angle = math.pi * (0.75 + 1.5 * share)
        return x + radius * math.cos(angle), y + radius * math.sin(angle)

    body = circle("k", x, y, r + 12) + circle("p", x, y, r + 5) + circle("a p", x, y, r)
    body += lines("f", *[(*at(i / 50, r - 9), *at(i / 50, r - 3)) for i in range(51)])
    body += lines("a", *[(*at(i / 10, r - 16), *at(i / 10, r - 3)) for i in range(11)])
    for i in range(6):
        nx, ny = at(i / 5, r - 30)
        body += text("s word mid", nx, ny + 5, f"{top * i / 5:g}", 14)
    if load is None:
        body += lines("b d", (x, y, *at(0, 78))) + circle("k", x, y, 7)
    else:
        hand = (*at(load / top + 2 / 3, 20), *at(load / top, 84))
        body += path("lead", f"M{n(x)} {n(y + 8)}V198") + lines("lc w5 r", hand) + circle("k", x, y, 8)
        body += text("s num mid", x, 228, shown, min(30.0, 130.0 / max(2, len(shown))))
        body += text("s word mid", x, 244, unit, 14)
    return whole(body, label, "dial")


def cane_staff(
    height: float | None, usual: float, shown: str = "", unit: str = "", label: str = ""
) -> Markup:
    """Return a stalk of the field beside a measuring staff, at its height in the staff's unit."""
    top = top_of_scale(height or 0, usual)
    foot, full, x = 268.0, 236.0, 84.0
    body = path("b p", box(132, foot - full, 20, full))
    for i in range(21):
        y = foot - full * i / 20
        body += path("f" if i % 4 else "b", f"M132 {n(y)}h{7 if i % 4 else 12}")
        body += "" if i % 4 else text("s word", 156, y + 5, f"{top * i / 20:g}", 13)
    if height is None:
        body += lines("b d", (x, foot, x, foot - 90))
    else:
        y = foot - height / top * full
        body += _grown(x, foot, foot - y) + lines("lead", (x, y, 152, y))
        body += figure(152, y, shown, unit, max(40.0, min(y, 226.0)))
    return whole(body + _floor(), label, "cane-staff")


def _grown(x: float, foot: float, tall: float) -> str:
    """Return two stalks with leaves; the tip of the taller is `tall` above the foot."""
    reach, crown = min(48.0, tall * 0.34), foot - tall * 0.82
    first = stalk("c", x, foot, tall * 0.82, 0, max(2, round(tall / 24)), 13)
    second = stalk("k", x - 22, foot, tall * 0.7, -6, max(2, round(tall / 26)), 10)
    leaves = blades(
        "k",
        (x, crown, reach, reach * 0.5, reach * 0.7, 7),
        (x, crown + 4, -reach, reach * 0.6, reach * 0.6, 7),
        (x, crown - 2, reach * 0.3, 2 - tall * 0.18, reach * 0.1, 6),
        (x - 28, foot - tall * 0.7, -reach * 0.8, reach * 0.3, reach * 0.6, 6),
    )
    return first + second + leaves


def juice_tank(
    litres: float | None, usual: float, of: str, shown: str = "", unit: str = "", label: str = ""
) -> Markup:
    """Return the juice of a tonne of cane in a graduated tank; `of` names the cane above the rollers."""
    top = top_of_scale(litres or 0, usual)
    left, right, foot, full = 62.0, 158.0, 268.0, 150.0
    body = _press(of) + path("a p", f"M{left} {foot - full - 8}V{foot}H{right}V{foot - full - 8}")
    if litres is None:
        body += lines("b d", (left + 4, foot - 20, right - 4, foot - 20))
    else:
        y = foot - litres / top * full
        body += rectangle("c", left + 2, y, right - left - 4, foot - y - 1.5)
        body += path("lc w4 r", f"M110 82V{n(max(84.0, y - 3))}") + figure(right, y, shown, unit)
    for i in range(11):
        y = foot - full * i / 10
        body += path("f" if i % 2 else "b", f"M{left} {n(y)}h{8 if i % 2 else 14}")
        body += "" if i % 2 else text("s word end", left - 5, y + 4, f"{top * i / 10:g}", 12)
    return whole(body + _floor(), label, "juice-tank")


def _press(of: str) -> str:
    """Return two rollers with the cane above them, and its name."""
    cane = "".join(
        path("b t", box(x, 8, 9, 44)) + path("f", f"M{x} {24 + i * 3}h9")
        for i, x in enumerate(range(78, 143, 13))
    )
    rollers = "".join(circle("a p", x, 70, 20) + circle("k", x, 70, 4) for x in (92, 128))
    return cane + text("s word", 152, 34, of, 15) + rollers


def _floor() -> str:
    return lines("a", (4, 274, 336, 274)) + lines(
        "f", *[(x, 278, x - 6, 286) for x in (24, 30, 36, 190, 196, 300, 306, 312)]
    )
