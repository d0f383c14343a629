"""The stops where spirit is made: mill and filters, fermentation, still house. No fire is open, no lamp hangs."""

import math
from typing import Final

from kiosk.drawings.ink import box, circle, lines, n, path, placed, polygon, rectangle, spokes, wedges
from kiosk.drawings.people import person
from kiosk.drawings.things import worm


def mill() -> str:
    """Return the mill: cane between three rollers, the flywheel, juice through the screen into its tank."""
    stack = (
        polygon("k", (200, 26), (218, 26), (224, 240), (194, 240))
        + rectangle("k", 195, 18, 28, 9)
        + wedges("p", (203, 60, 205, 36, 4), (201, 118, 203, 92, 4))
        + path(
            "t", "M208 12C202 2 214 -6 228 -4C234 -12 246 -8 242 2C236 6 234 10 224 10C218 14 213 15 208 12Z"
        )
    )
    roof = path("k", "M-6 92L98 54L200 92L197 103L97 67L-3 104Z") + rectangle("k", 4, 97, 7, 143)
    return (
        stack
        + roof
        + _flywheel(132, 150, 50)
        + _rollers()
        + _filters()
        + person(222, 240, 76, "hold", left=True)
    )


def _flywheel(x: float, y: float, r: float) -> str:
    rim = path("lk w11", f"M{n(x)} {n(y - r)}a{n(r)} {n(r)} 0 1 1 -.1 0Z")
    arms = spokes("lk w6", x, y, 6, r - 4, 6, 0.26)
    return rim + arms + circle("k", x, y, 13) + circle("y", x, y, 5)


def _rollers() -> str:
    frame = polygon("k h", (30, 110), (96, 110), (110, 228), (16, 228)) + path(
        "k", box(40, 100, 10, 12) + box(76, 100, 10, 12)
    )
    wheels = ""
    for x, y in ((63, 138), (42, 182), (84, 182)):
        wheels += (
            circle("p", x, y, 23)
            + circle("c", x, y, 20.5)
            + spokes("lk w2", x, y, 11, 18, 8)
            + circle("k", x, y, 7)
        )
    feed = ""
    for k, (x0, y0) in enumerate(((-20, 120), (-24, 133), (-18, 146))):
        d = ""
        for i in range(3):
            a, b = i * 0.306, i * 0.306 + 0.279
            x1, y1, x2, y2 = x0 + (46 - x0) * a, y0 + (162 - y0) * a, x0 + (46 - x0) * b, y0 + (162 - y0) * b
            d += f"M{n(x1)} {n(y1 - 4)}L{n(x2)} {n(y2 - 4)}V{n(y2 + 4)}L{n(x1)} {n(y1 + 4)}Z"
        feed += path("c" if k == 1 else "k", d)
    guard = path("ly w3", "M18 166V116H108V166M18 132H108M41 116V104M63 116V104M86 116V104")
    return (
        frame
        + wheels
        + feed
        + guard
        + path("y", "M54 205h16l3 14h22v7H40v-7h12Z")
        + rectangle("k", 12, 230, 104, 10)
    )


def _filters() -> str:
    """Return the screen over which the juice runs, and the tank below it."""
    chute = path("k h", "M92 216L128 214V226L92 228Z") + path("y", "M92 219L128 217.500V221L92 223Z")
    tank = path("k h", "M122 206H196V240H122Z") + path("y", "M128 224H190V234H128Z")
    screen = path("k h", "M126 192L194 200V209L126 203Z") + lines(
        "lp w2", *[(x, 195 + (x - 126) * 0.12, x, 202 + (x - 126) * 0.1) for x in range(134, 192, 8)]
    )
    falls = path("ly w4 r", "M140 208V216M156 210V219M172 211V218")
    return chute + tank + falls + screen


def fermentation() -> str:
    """Return the fermentation house: open ridge for the gas, three vats in foam, a person with a paddle."""
    roof = path("k", "M-8 98L84 56L90 56V44H76L120 22L164 44H150V56L156 56L248 98L246 108L120 66L-6 108Z")
    ridge = rectangle("y", 94, 47, 52, 9) + lines(
        "lk w3", (107, 46, 107, 57), (120, 46, 120, 57), (133, 46, 133, 57)
    )
    posts = rectangle("k", 2, 100, 7, 140) + rectangle("k", 231, 100, 7, 140)
    bubbles = "".join(
        circle("y", x, y, r)
        for x, y, r in (
            (44, 98, 4),
            (52, 84, 2.8),
            (36, 88, 2.2),
            (196, 100, 4),
            (190, 86, 2.8),
            (202, 80, 2.2),
        )
    )
    stirrer = person(120, 182, 84, "hold", legs="none") + path("lk w4 r", "M148 108L140 178")
    return roof + ridge + posts + stirrer + _vat(12, "k") + _vat(88, "c") + _vat(164, "k") + bubbles


def _vat(x: float, ink: str) -> str:
    top, line = 150, "lp" if ink == "k" else "lk"
    foam = path(
        "y h",
        f"M{n(x + 4)} {top + 2}C{n(x - 3)} {top - 8} {n(x + 8)} {top - 16} {n(x + 16)} {top - 11}C{n(x + 18)} {top - 22} "
        f"{n(x + 36)} {top - 24} {n(x + 39)} {top - 13}C{n(x + 47)} {top - 21} {n(x + 60)} {top - 16} {n(x + 56)} {top - 7}"
        f"C{n(x + 65)} {top - 6} {n(x + 64)} {top + 2} {n(x + 58)} {top + 3}Z",
    )
    body = polygon(f"{ink} h", (x + 4, top), (x + 60, top), (x + 66, 240), (x - 2, 240))
    rim = polygon("k", (x, top - 2), (x + 64, top - 2), (x + 65, top + 7), (x - 1, top + 7))
    hoops = "".join(
        rectangle(line[1], x + 1 - (y - top) * 0.05, y, 62 + (y - top) * 0.1, 4.2) for y in (170.0, 218.0)
    )
    staves = lines(
        f"{line} w2", (x + 18, 178, x + 16, 214), (x + 32, 178, x + 32, 214), (x + 46, 178, x + 48, 214)
    )
    foamy = circle("p", x + 25, top - 9, 3) + circle("p", x + 41, top - 6, 2.4)
    return foam + foamy + body + hoops + staves + rim


def still_house() -> str:
    """Return the still house: two pots under steam, swan necks, worm tubs, the parrot, who noses the hearts."""
    house = path("t", "M-4 98L106 26V14H134V26L244 98V108H232V240H8V108H-4Z") + path(
        "p", "M112 18H128V25H112Z"
    )
    necks = path(
        "c h",
        "M34 104C33 74 37 58 49 48C65 36 82 46 88 62L112 122L98 128L76 69C73 62 66 60 61 66C55 74 54 88 55 104Z",
    ) + path(
        "c h",
        "M146 138C145 112 149 100 158 94C171 86 184 94 188 106L207 147L195 153L179 114C177 108 172 107 169 112C164 119 162 126 163 138Z",
    )
    return (
        house
        + necks
        + _tub(92, 122, 34, 6)
        + _tub(190, 147, 28, 5)
        + _pot(45, 190, 72, 84, 18)
        + _pot(155, 200, 54, 60, 14)
        + _hearth(6, 190, 80, 45)
        + _hearth(126, 200, 58, 155)
        + _outlets()
    )


# An onion-shaped pot, one hundred units tall and twenty wide at its belly.
_POT: Final = "M-8.6 0C-11.6 -30 -11 -62 -5.8 -82Q-3 -93 -3 -100H3Q3 -93 5.8 -82C11 -62 11.6 -30 8.6 0Z"


def _pot(x: float, foot: float, width: float, height: float, rivets: int) -> str:
    """Return an onion-shaped pot that stands on `foot`, with its band of rivets and a gleam."""
    r = width / 2
    body = path("c h", placed(_POT, x, foot, r / 10, height / 100))
    collar = rectangle("k", x - r * 0.42, foot - height - 3, r * 0.84, 6)
    y = foot - height * 0.34
    band = path(
        "k",
        f"M{n(x - r)} {n(y)}Q{n(x)} {n(y + 8)} {n(x + r)} {n(y)}V{n(y + 6)}Q{n(x)} {n(y + 14)} {n(x - r)} {n(y + 6)}Z",
    )
    studs = "".join(
        circle("y", x + r * 0.94 * math.sin(a), y + 3 + 4 * math.cos(a), 1.1)
        for a in [-1.35 + 2.7 * i / (rivets - 1) for i in range(rivets)]
    )
    door = circle("k", x + r * 0.28, foot - height * 0.6, r * 0.2) + circle(
        "c", x + r * 0.28, foot - height * 0.6, r * 0.11
    )
    gleam = wedges("p", (x - r * 0.68, y - 5, x - r * 0.44, foot - height * 0.66, 5))
    return body + collar + band + studs + door + gleam


def _hearth(x: float, top: float, width: float, middle: float) -> str:
    """Return the masonry under a pot: a shut iron door, and the valve of the steam that heats it."""
    wall = path("k h", f"M{n(x)} 240V{n(top)}H{n(x + width)}V240Z")
    courses = []
    for i, y in enumerate(range(int(top) + 12, 238, 12)):
        for at in range(int(x) + 6 + (i % 2) * 8, int(x + width) - 12, 20):
            if not middle - 26 < at < middle + 10:
                courses.append((at, y, at + 11, y))
    door = path(
        "p", f"M{n(middle - 13)} 240V218Q{n(middle - 13)} 207 {n(middle)} 207T{n(middle + 13)} 218V240Z"
    ) + path("k", f"M{n(middle - 10)} 238V218Q{n(middle - 10)} 210 {n(middle)} 210T{n(middle + 10)} 218V238Z")
    latch = lines(
        "lp w2", (middle - 10, 219, middle + 10, 219), (middle - 10, 230, middle + 10, 230)
    ) + circle("y", middle + 6, 224.5, 2.2)
    return wall + lines("lp w2", *courses) + door + latch


def _tub(x: float, top: float, width: float, turns: int) -> str:
    """Return a worm tub, cut open so that its coil is seen."""
    body = polygon("k h", (x, top), (x + width, top), (x + width + 4, 240), (x - 4, 240))
    hoops = polygon(
        "p",
        (x - 1.5, top + 14),
        (x + width + 1.5, top + 14),
        (x + width + 1.6, top + 17.5),
        (x - 1.6, top + 17.5),
    )
    hoops += polygon("p", (x - 3.6, 226), (x + width + 3.6, 226), (x + width + 3.8, 229.5), (x - 3.8, 229.5))
    rim = polygon("k", (x - 4, top - 2), (x + width + 4, top - 2), (x + width + 4, top + 6), (x - 4, top + 6))
    return body + hoops + worm("ly w4 r", x + width / 2, top + 26, 220, width * 0.32, turns) + rim


def _outlets() -> str:
    """Return the outlet of the second tub and its parrot with the float in it."""
    pipe = path("k h", "M218 200h10v5h-10Z")
    parrot = path(
        "k h", "M226 192h11v4h-1.500v6h4q4.500 0 4.500 5v5h-4v-4q0-2-2-2h-2.500v28h5v6h-20v-6h7v-38h-1.500Z"
    )
    inside = path("y", "M229.200 203h4.600v26h-4.600Z") + path("lk w1", "M231.500 176V214")
    return pipe + parrot + inside + path("k", "M230 176h3v16h-3Z") + path("y", "M241 214h2.400v8h-2.400Z")
