"""Plates of the stops where spirit is made: mill and filters, fermentation, still house."""

import math
from typing import Final

from kiosk.drawings.ink import box, circle, lines, n, path, placed, spokes
from kiosk.drawings.plates.kit import Part, Plate, bricks, coil, gable, ground, joints, rect, wheel


def _mill() -> str:
    """Return the mill in section: feed, three rollers, bagasse out, juice over the screen into its tank."""
    posts = rect("b p", 24, 84, 6, 136) + rect("b p", 322, 76, 6, 144)
    rafters = [(20 + i * 16, 95 - i * 1.24, 20 + i * 16, 87.5 - i * 1.24) for i in range(20)]
    roof = path("a t", "M8 88L346 62V70L8 97Z") + lines("f", *rafters)
    out = ground((196, 276)) + posts + roof + wheel(176, 132, 46, 8, 7, 9) + _rollers() + _feed()
    chute = path("b p", "M140 146L196 168L194 173L138 152Z") + path(
        "f", "M150 149l7 -7M160 153l8 -8M170 157l8 -7M180 161l8 -7M188 170l4 9M190 170l9 6"
    )
    tray = path("a p", "M74 186H138L150 196H64Z") + path("c", "M76 188H136L144 194H70Z")
    return out + chute + tray + _filters()


def _rollers() -> str:
    """Return the cheek of the mill with its three rollers, on their bed."""
    bed = rect("a p", 50, 196, 112, 10) + rect("a p", 44, 206, 124, 14) + joints(44, 168, 206, 220, 7)
    out = path("a p", "M66 196V116Q66 100 82 100H130Q146 100 146 116V196Z") + bed
    for x, y, r in ((106, 128, 21), (86, 165, 18), (126, 165, 18)):
        out += (
            circle("a t", x, y, r)
            + circle("f", x, y, r - 3.5)
            + circle("b p", x, y, 5)
            + circle("k", x, y, 1.4)
        )
        out += spokes("f", x, y, 7, r - 5, 8)
    return (
        out
        + path("b", "M74 105L66 96M138 105L146 96")
        + "".join(rect("b p", x - 3, 90, 6, 10) for x in (92, 106, 120))
    )


def _feed() -> str:
    """Return the feed table with three stalks on it."""
    out = path("b p", "M-10 132L66 146V152L-10 138Z") + lines("b", (6, 142, 6, 220), (54, 150, 54, 220))
    for i, (a, b, y) in enumerate(((-12, 84, 122), (-8, 80, 116), (-12, 76, 110))):
        out += path("b p" if i == 1 else "b t", f"M{a} {y}L{b} {y + 18}L{b - 1} {y + 24}L{a} {y + 6}Z")
        nodes = [(a + 18 + j * 22, y + 3.6 + j * 4.1) for j in range(3)]
        out += lines("f", *[(x, at, x - 1, at + 5.4) for x, at in nodes])
    return out


def _filters() -> str:
    """Return what follows the mill: gutter, screen over the sunk tank, riser, filter."""
    out = (
        path("a", "M196 220V240H276V220")
        + path("c", "M197.500 228H274.500V238.500H197.500Z")
        + path("a", "M196 220V240H276V220")
    )
    out += path("b p", "M150 189L204 197V204L150 196Z") + path(
        "c", "M151 191.500L203 199.500V202.500L151 194.500Z"
    )
    out += path("a p", "M202 195L264 205V216L202 208Z")
    out += lines(
        "f", *[(x, 196.5 + (x - 202) * 0.16, x, 207.5 + (x - 202) * 0.13) for x in range(208, 264, 5)]
    )
    out += path("lc w2 r", "M212 211V226M228 213V226M244 215V226")
    out += (
        path("b", "M268 236H290V150H300")
        + circle("b p", 290, 212, 6)
        + path("k", "M287 208.500l6 3.500l-6 3.500Z")
    )
    out += path("a p", "M300 132H336V190L318 204L300 190Z") + path("c", "M302 182H334V189L318 201L302 189Z")
    out += path("a", "M300 132H336V190L318 204L300 190Z") + lines(
        "f", *[(302, 138 + i * 6, 334, 138 + i * 6) for i in range(7)]
    )
    return out + lines("b", (304, 194, 300, 220), (332, 194, 336, 220), (318, 204, 318, 212))


def _fermentation() -> str:
    """Return the vats in section: one resting, two at work, the walkway, the open ridge."""
    out = (
        ground()
        + lines("b", (28, 92, 28, 220), (34, 92, 34, 220), (326, 92, 326, 220), (332, 92, 332, 220))
        + gable(6, 354, 94, 42)
    )
    out += (
        rect("b p", 160, 34, 40, 14)
        + lines("f", (162, 38, 198, 38), (162, 42, 198, 42))
        + path("a p", "M152 36L180 22L208 36Z")
    )
    out += rect("b p", 34, 114, 292, 4.5)
    for i, x in enumerate((88, 184, 280)):
        out += (
            rect("b p", x - 2, 118.5, 4, 10) + circle("b p", x, 122, 4) + lines("b", (x - 6, 122, x + 6, 122))
        )
        out += rect("b p", x - 36, 210, 14, 10) + rect("b p", x + 22, 210, 14, 10) + _vat(x, i)
    return (
        out
        + path("b", "M133 220L127 130M141 220L135 130")
        + lines(
            "b", *[(127.4 + i * 0.75, 136 + i * 11.5, 135.4 + i * 0.75, 136 + i * 11.5) for i in range(8)]
        )
    )


def _vat(x: float, number: int) -> str:
    """Return a vat; the second is cut open so that wash, bubbles and cooling coil are seen."""
    top, foot, up, down = 146.0, 210.0, 38.0, 42.0
    body = f"M{x - up} {top}L{x - down} {foot}H{x + down}L{x + up} {top}Z"
    out = path("a p", body)
    if number:
        bumps = "".join(f"a{n(r * 0.56)} {n(r * 0.7)} 0 0 1 {r} 0" for r in (9, 12, 10, 13, 9, 11, 8))
        out += path("b p", f"M{x - 36} {top}{bumps}Z")
    if number == 1:
        out += path(
            "c",
            f"M{x - up - 0.6} {top + 8}L{x - down + 1} {foot - 1}H{x + down - 1}L{x + up + 0.6} {top + 8}Z",
        ) + path("a", body)
        out += path("lp w2", f"M{x - 30} 170h60q5 4 0 8h-60q-5 4 0 8h60q5 4 0 8h-66")
        out += "".join(
            circle("b p", x + dx, y, r)
            for dx, y, r in ((-20, 162, 2), (-6, 200, 1.8), (10, 163, 1.6), (24, 201, 2.2), (2, 156, 1.6))
        )
    else:
        out += lines(
            "f", *[(x - up + 2 * up * k / 10, top, x - down + 2 * down * k / 10, foot) for k in range(1, 10)]
        )
        for share in (0.16, 0.5, 0.84):
            y, w = top + (foot - top) * share, up + (down - up) * share
            out += rect("b t", x - w - 1, y - 2.4, 2 * w + 2, 4.8)
    cock = path("b p", f"M{x + down} 200h6v4h-6zM{x + down + 6} 201h4v7") if number != 1 else ""
    return out + lines("a", (x - up - 1.5, top, x + up + 1.5, top)) + cock


# A kettle, one hundred units tall and twenty wide; its head above it, sixty wide, on the collar.
_KETTLE: Final = "M-8.2 0C-10.2 -18 -10.8 -50 -9 -72C-7.6 -90 -4.2 -97 -3.4 -100H3.4C4.2 -97 7.6 -90 9 -72C10.8 -50 10.2 -18 8.2 0Z"
_HEAD: Final = (
    "M-13 0C-28 -9.5 -27 -29.5 -13 -38C-7 -41.5 -5.5 -44.5 -5.5 -48.5C-5.5 -63.5 5 -70 19 -68.5C38 -66.5 54 -49.5 71 -22.5L64 -17.5"
    "C48 -40.5 34 -56.5 20 -57.5C11 -58.5 5 -55 5 -47.5C5 -43.5 7 -40.5 12 -38C27 -29.5 28 -9.5 13 0Z"
)


def _still() -> str:
    """Return the stills in section: two pots over shut doors, heated by steam, worm tub, condenser, parrot."""
    out = ground() + lines("b", (8, 76, 8, 220), (14, 76, 14, 220), (346, 76, 346, 220), (352, 76, 352, 220))
    out += path("a t", "M-8 76L160 15V22.500L-3 82ZM368 76L200 15V22.500L363 82Z") + path(
        "a p", "M146 10L180 -3L214 10L211 15L180 3.500L149 15Z"
    )
    out += lines("b", (160, 11, 160, 20), (200, 11, 200, 20), (14, 77, 346, 77), (14, 80.5, 346, 80.5))
    out += lines("f", (160, 77, 160, 22), (200, 77, 200, 22), (160, 74, 100, 46), (200, 74, 260, 46))
    out += _masonry(28, 182, 96, 76, 15) + _steam(28, 190, -1)
    out += (
        path("a c", placed(_KETTLE, 76, 178.5, 4.4, 0.6))
        + path("a c", placed(_HEAD, 76, 115.5, 1))
        + rect("b p", 57, 115, 38, 4.5)
    )
    out += (
        _rivets(76, 149, 43)
        + path("b p", "M62 128a8 7 0 1 0 .1 0Z")
        + path("f", "M62 130.500a5 4.500 0 1 0 .1 0Z")
        + path("b p", "M137 98.500L149.500 90L152.500 94.500L140 103Z")
    )
    out += _worm_tub()
    out += _masonry(212, 190, 68, 246, 12) + _steam(280, 198, 1)
    out += (
        path("a c", placed(_KETTLE, 246, 186.5, 3.2, 0.5))
        + path("a c", placed(_HEAD, 246, 134, 0.76, 0.78))
        + rect("b p", 231, 133.5, 30, 4)
    )
    out += (
        _rivets(246, 163, 31.5)
        + path("b p", "M236 145a6.500 5.600 0 1 0 .1 0Z")
        + path("b p", "M291.500 121L300.500 115L303 118.500L294 124.500Z")
    )
    return out + _condenser_and_parrot()


def _masonry(x: float, top: float, width: float, middle: float, half: float) -> str:
    """Return the base under a pot, with its shut iron door."""
    wall = rect("a p", x, top, width, 220 - top) + bricks(
        x, top, width, 220 - top, 3 if width < 80 else 4, 13, (middle - half - 4, middle + half + 4, top + 6)
    )
    door = path("a p", f"M{middle - half} 220V210A{half} {half} 0 0 1 {middle + half} 210V220Z")
    iron = (
        lines("b", (middle - half, 209, middle + half, 209))
        + circle("k", middle + half - 5, 214, 1.6)
        + rect("b p", x - 4, top - 3.5, width + 8, 5)
    )
    return wall + door + iron


def _steam(wall: float, y: float, side: int) -> str:
    """Return the steam line into a base, with its valve, at the left (-1) or right (1) of its wall."""
    outer, inner = wall + 9 * side, wall + 6 * side
    pipe = path("b", f"M{outer} 220V{y}H{wall}M{inner} 220V{y + 3}H{wall}")
    return (
        pipe
        + circle("b p", wall + 7.5 * side, y + 11, 3.6)
        + lines("b", (wall + 3.5 * side, y + 11, wall + 11.5 * side, y + 11))
    )


def _rivets(x: float, y: float, r: float) -> str:
    band = path(
        "b",
        f"M{n(x - r * 1.05)} {n(y + 2)}C{n(x - r * 0.4)} {n(y + 9)} {n(x + r * 0.4)} {n(y + 9)} {n(x + r * 1.05)} {n(y + 2)}",
    )
    return band + "".join(
        circle("k", x + r * math.sin(a), y + 5.6 * math.cos(a), 0.8)
        for a in [-1.3 + i * 0.2 for i in range(14)]
    )


def _worm_tub() -> str:
    tub = (
        path("a p", "M136 114L131 206H187L182 114Z")
        + path("t", "M136.500 120L132 205H186L181.500 120Z")
        + lines("a", (129, 206, 189, 206))
    )
    feet = rect("b p", 134, 206, 8, 14) + rect("b p", 176, 206, 8, 14)
    worm = coil(
        "M146 99C149 102 152 107 153 113C154 122 174 119 174 128C174 136 144 131 144 140C144 148 175 143 175 152C175 160 143 155 143 164"
        "C143 172 176 167 176 176C176 184 142 179 142 188C142 194 160 193 170 194L196 197"
    )
    return (
        tub
        + feet
        + path("f", "M136 120C142 118 148 122 154 120C160 118 166 122 172 120C176 119 178 119.500 182 120")
        + worm
        + path("b p", "M188 204H206L204 220H190Z")
        + lines("f", (189, 209, 205, 209))
    )


def _condenser_and_parrot() -> str:
    out = (
        coil("M298 119C301 122 302 124 302 128")
        + rect("a p", 291, 127, 22, 64)
        + path("t", box(292, 134, 20, 50))
        + lines("b", (291, 134, 313, 134), (291, 184, 313, 184))
    )
    out += coil("M302 130q6 6 0 10t0 10t0 10t0 10t0 10V198Q302 202 306 202H318")
    out += (
        path("a p", "M317 208V178H328V208Z")
        + path("c", "M318 183H327V207H318Z")
        + path("b p", "M328 182H333Q337 182 337 187V194H334V188Q334 185.500 331 185.500H328Z")
    )
    out += (
        lines("b", (322.5, 160, 322.5, 196))
        + path("k", "M320.500 190h4v8q-2 3-4 0Z")
        + rect("b p", 312, 208, 18, 12)
    )
    return (
        out
        + path("lc w2", "M335.500 194V204")
        + path("b p", "M330 202H344V220H330Z")
        + path("c", "M331 212H343V219H331Z")
    )


PLATES = {
    "mill": Plate(
        _mill,
        (
            Part("feed", (20, 128), (20, 52)),
            Part("rollers", (106, 140), (128, 44)),
            Part("bagasse", (182, 164), (228, 116)),
            Part("screen", (240, 206), (252, 164)),
            Part("filter", (322, 150), (352, 118)),
        ),
    ),
    "fermentation": Plate(
        _fermentation,
        (
            Part("juice_pipe", (60, 116), (14, 128)),
            Part("foam", (206, 142), (236, 132)),
            Part("wash", (160, 200), (140, 232)),
            Part("cooling_coil", (206, 186), (240, 180)),
            Part("ridge_vent", (180, 41), (230, 14)),
        ),
    ),
    "still-house": Plate(
        _still,
        (
            Part("first_pot", (40, 146), (10, 118)),
            Part("swan_neck", (84, 54), (56, 26)),
            Part("worm_tub", (178, 132), (208, 104)),
            Part("second_pot", (268, 158), (272, 232)),
            Part("parrot", (322, 180), (344, 136)),
        ),
    ),
}
