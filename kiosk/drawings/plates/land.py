"""Plates of the stops in the open: welcome house, cane field, harvest yard."""

import math

from kiosk.drawings.ink import box, circle, lines, n, path, placed, shapes
from kiosk.drawings.plates.kit import GROUND, Part, Plate, ground, joints, rect, wheel


def _welcome() -> str:
    """Return the welcome house from the front: gallery, door, bench, the drink that waits, the turret."""
    base = rect("b p", 54, 208, 252, 12) + joints(54, 306, 208, 220, 14) + rect("b t", 74, 128, 212, 80)
    door = shapes(
        ("b p", "M156 208V160A24 24 0 0 1 204 160V208Z"),
        ("f", "M160 160A20 20 0 0 1 200 160ZM180 160V140M180 160L166 146M180 160L194 146"),
    )
    leaves = _louvre(159, 163, 20, 43) + _louvre(181, 163, 20, 43)
    shutters = "".join(_louvre(x, 146, 16, 38) for x in (96, 112, 232, 248))
    posts = "".join(
        rect("b p", x - 3, 129, 6, 79) + path("b", placed("M-3 143Q-4 131 -17 130M3 143Q4 131 17 130", x, 0))
        for x in (60, 140, 220, 300)
    )
    rails = "".join(
        path("b", f"M{a} 182h74M{a} 203h74")
        + lines("f", *[(a + 7.4 * i, 182, a + 7.4 * i, 203) for i in range(1, 10)])
        for a in (63, 223)
    )
    steps = rect("b p", 148, 212, 64, 8) + rect("b p", 142, 216, 76, 4)
    walls = ground() + base + _tiled_roof() + door + leaves + shutters + posts + rails + steps
    return walls + _jug(262, 208) + _bench(76, 208)


def _tiled_roof() -> str:
    """Return the hip roof of the welcome house with its turret and vane."""
    rows = [(104 - 68 * i / 7, 62 + 9.2 * i, 256 + 68 * i / 7) for i in range(7)]
    courses = [(left + 3, y, right - 3, y) for left, y, right in rows[1:]]
    tiles = [
        (x, y, x, min(124.0, y + 9.2))
        for i, (left, y, right) in enumerate(rows)
        for x in range(int(left) + 8 + i % 3 * 7, int(right) - 6, 23)
    ]
    return (
        path("a p", "M36 126L104 62H256L324 126Z")
        + rect("a p", 36, 124, 288, 5)
        + lines("f", *courses, *tiles)
        + shapes(
            ("b p", box(164, 44, 32, 18)),
            ("f", "M166 48.5h28M166 53h28M166 57.5h28"),
            ("a p", "M158 45L180 30L202 45Z"),
            ("b", "M180 30V12"),
            ("b t", "M180 16C188 9 196 11 203 16C196 18 188 19 180 16Z"),
        )
    )


def _louvre(x: float, y: float, width: float, height: float) -> str:
    return rect("b p", x, y, width, height) + lines(
        "f", *[(x + 1.6, y + height * i / 10, x + width - 1.6, y + height * i / 10) for i in range(1, 10)]
    )


def _jug(x: float, foot: float) -> str:
    table = rect("a p", x - 20, foot - 24, 44, 4) + lines(
        "b", (x - 16, foot - 20, x - 16, foot), (x + 20, foot - 20, x + 20, foot)
    )
    jug = path("a p", f"M{x - 8} {foot - 24}V{foot - 44}H{x + 8}V{foot - 24}Z") + path(
        "c", f"M{x - 7} {foot - 38}H{x + 7}V{foot - 25}H{x - 7}Z"
    )
    return table + jug + path("b", f"M{x + 8} {foot - 41}q8 6 0 13")


def _bench(x: float, foot: float) -> str:
    return rect("a p", x, foot - 15, 44, 4) + lines(
        "b", (x + 4, foot - 11, x + 4, foot), (x + 40, foot - 11, x + 40, foot)
    )


def _cane(x: float, height: float, lean: float, width: float, kind: str) -> str:
    """Return one stalk in line: internodes, leaves that arch over and hang."""
    out, count = "", max(4, int(height / 19))
    spots = [(x + lean * height * (i / count) ** 1.6, GROUND - height * i / count) for i in range(count + 1)]
    top_x, top_y = spots[-1]
    k = height / 140
    leaves = (
        (-1, 26, 54, 20),
        (1, 30, 50, 26),
        (-1, 34, 42, 40),
        (1, 26, 58, 12),
        (-1, 16, 62, 4),
        (1, 38, 36, 46),
    )
    for side, reach, up, drop in leaves:
        out += _leaf(top_x, top_y + (60 - up) * 0.5, side * reach * k, up * k, drop * k)
    for i in range(count):
        (x0, y0), (x1, y1) = spots[i], spots[i + 1]
        a, b = width / 2 * (1 - 0.25 * i / count), width / 2 * (1 - 0.25 * (i + 1) / count)
        out += path(
            kind,
            f"M{n(x0 - a)} {n(y0)}Q{n((x0 + x1) / 2 - (a + b) * 0.39)} {n((y0 + y1) / 2)} {n(x1 - b)} {n(y1)}H{n(x1 + b)}"
            f"Q{n((x0 + x1) / 2 + (a + b) * 0.39)} {n((y0 + y1) / 2)} {n(x0 + a)} {n(y0)}Z",
        )
    return out + lines("f", *[(px - width / 2, py - 2, px + width / 2, py - 2) for px, py in spots[1:-1]])


def _leaf(x: float, y: float, dx: float, up: float, drop: float) -> str:
    tx, ty, w = x + dx, y - up + drop, 3.2
    ax, ay, bx, by = x + dx * 0.16, y - up * 0.82, x + dx * 0.74, y - up * 1.22
    side = w if dx > 0 else -w
    return path(
        "b p",
        f"M{n(x)} {n(y)}C{n(ax - w * 0.3)} {n(ay - w * 0.6)} {n(bx)} {n(by - w * 0.7)} {n(tx)} {n(ty)}"
        f"C{n(bx - dx * 0.06)} {n(by + w * 1.2)} {n(ax + side * 0.9)} {n(ay + w * 1.5)} {n(x)} {n(y)}Z",
    )


def _field() -> str:
    """Return the field cut open: stools with old and new stalks, roots, a planted piece, a cut one."""
    out = path("b", "M-12 150C36 136 80 128 130 130C180 132 240 144 372 134") + path(
        "f", "M40 143C76 135 100 134 128 138M220 144C262 146 310 142 360 138M60 154C90 147 120 146 150 150"
    )
    soil = path("t", "M-12 220H372V246H-12Z")
    out += soil
    for x, height, lean in (
        (30, 118, -0.04),
        (62, 150, 0.02),
        (94, 128, 0.06),
        (246, 140, -0.03),
        (282, 158, 0.01),
        (318, 122, 0.05),
    ):
        out += _cane(x, height, lean, 8, "b t" if height > 125 else "b p")
    out += lines("a", (-12, 220, 372, 220))
    out += path(
        "f",
        "".join(
            f"M{x} 221q-5 7 -10 {d}M{x + 2} 221q0 8 2 {d + 4}M{x + 5} 221q6 6 11 {d}"
            for x, d in ((30, 15), (62, 17), (94, 14), (246, 16), (282, 17), (318, 13))
        ),
    )
    out += "".join(
        path("a p", f"M{x} 220V{220 - h}L{x + 8} {217 - h}V220Z") for x, h in ((150, 16), (161, 12))
    )
    out += (
        path("a c", "M184 230h16v8h-16ZM202 230h16v8h-16Z")
        + path("b", "M200 230q2-8 0-16q-6-6-4-14M200 214q6-6 10-14")
        + path("f", "M188 238q-3 4-6 6M196 238q0 4-1 7M208 238q2 4 5 6")
    )
    return out


def _yard() -> str:
    """Return the weighbridge cut open: trailer on its plate, the levers below, the dial of the scale."""
    out = ground((40, 240))
    out += path("a", "M40 220V243H240V220") + path("t", "M41 228H239V242H41Z") + rect("a p", 40, 214, 200, 6)
    out += (
        lines("a", (64, 220, 64, 232), (216, 220, 216, 232))
        + path("k", "M58 232h12l-6 8ZM210 232h12l-6 8Z")
        + lines("a", (64, 234, 296, 238))
    )
    out += _trailer_line()
    out += (
        path("a p", "M288 220V112H304V220Z") + rect("a p", 280, 214, 32, 6) + lines("b", (296, 220, 296, 238))
    )
    angles = [math.pi * (0.75 + 1.5 * i / 12) for i in range(13)]
    out += circle("a p", 296, 84, 32) + circle("f", 296, 84, 27)
    out += lines(
        "b",
        *[
            (296 + 21 * math.cos(a), 84 + 21 * math.sin(a), 296 + 26 * math.cos(a), 84 + 26 * math.sin(a))
            for a in angles
        ],
    )
    out += lines("ls w3 r", (296, 84, 308, 66)) + circle("k", 296, 84, 2.6)
    return (
        out
        + path("b p", "M330 220V176H352V220Z")
        + rect("a p", 326, 170, 30, 6)
        + path("f", "M334 184h14M334 190h14M334 196h9")
    )


def _trailer_line() -> str:
    load = ""
    for row in range(9):
        left, right, y = 52 + (row * 7) % 11 + row, 224 - (row * 5) % 9 - row, 146 - row * 8.2
        load += path("b t", f"M{left} {n(y)}H{right}q4 4 0 8H{left}q-3 -4 0 -8Z")
        load += lines("f", *[(x, y, x, y + 8) for x in range(left + 12 + row % 3 * 6, right - 4, 26)])
    bed = (
        rect("a p", 46, 155, 184, 7)
        + "".join(rect("b p", x, 72, 5, 84) for x in (58, 134, 212))
        + path("a p", "M230 156H250L262 168V172L246 162H230Z")
        + path("b p", "M80 162h16v14h-16ZM178 162h16v14h-16Z")
    )
    return (
        load
        + path("a", "M96 155V80Q100 74 134 74M176 155V80Q172 74 134 74")
        + bed
        + wheel(88, 190, 24, 10)
        + wheel(186, 190, 24, 10)
    )


PLATES = {
    "welcome-house": Plate(
        _welcome,
        (
            Part("gallery", (98, 134), (22, 100)),
            Part("door", (168, 176), (128, 232)),
            Part("bench", (98, 194), (26, 186)),
            Part("welcome_drink", (262, 174), (340, 176)),
            Part("bell_turret", (190, 50), (236, 24)),
        ),
    ),
    "cane-field": Plate(
        _field,
        (
            Part("leaves", (272, 70), (214, 30)),
            Part("stalk", (64, 150), (16, 70)),
            Part("node", (282, 182), (348, 176)),
            Part("stool", (156, 208), (178, 172)),
            Part("planted_piece", (208, 234), (238, 206)),
        ),
    ),
    "harvest-yard": Plate(
        _yard,
        (
            Part("load", (120, 112), (66, 40)),
            Part("platform", (232, 217), (256, 190)),
            Part("levers", (110, 235), (18, 232)),
            Part("dial", (280, 70), (246, 36)),
            Part("book", (344, 188), (346, 146)),
        ),
    ),
}
