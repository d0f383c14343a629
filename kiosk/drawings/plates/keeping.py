"""Plates of the stops where spirit rests and is finished: cask store, bottling, laboratory, tasting room."""

import math

from kiosk.drawings.ink import box, circle, lines, n, path, placed, shapes, spokes
from kiosk.drawings.plates.kit import Part, Plate, bottle_line, gable, ground, hatching, rect


def _cask_end(x: float, y: float, r: float) -> str:
    """Return a lying cask from its end, in line."""
    inner = r * 0.8
    chords = [(inner * at, inner * math.sqrt(1 - at * at)) for at in (-0.66, -0.33, 0, 0.33, 0.66)]
    boards = lines("f", *[(x + dx, y - half, x + dx, y + half) for dx, half in chords])
    return (
        circle("a p", x, y, r) + circle("a t", x, y, inner) + boards + spokes("f", x, y, inner, r, 18, 0.17)
    )


def _store() -> str:
    """Return the store in section: thick walls, racks, one cask cut open, the rod, the open ridge."""
    walls = "".join(rect("a p", x, 100, 20, 120) + hatching(x, 100, 20, 120) for x in (22, 318))
    roof = gable(4, 356, 104, 28, 8) + shapes(
        ("b p", box(166, 19, 28, 13)), ("f", "M168 23h24M168 27h24"), ("a p", "M160 20L180 9L200 20Z")
    )
    casks = rect("b p", 42, 160, 210, 4) + rect("b p", 42, 215, 210, 5)
    for row, y in enumerate((188, 133)):
        for k in range(4):
            x = 68 + k * 52
            casks += _open_cask(x, y) if (row, k) == (0, 3) else _cask_end(x, y, 25)
            casks += path("b p", f"M{x + 12} {y + 27}H{x + 20}V{y + 20}Z")
    rod = rect("b p", 302, 120, 5, 98) + lines(
        "f", *[(302, 130 + i * 8, 305, 130 + i * 8) for i in range(10)]
    )
    angels = path("lc w2 r", "M172 4q-5 -5 0 -9t0 -8M188 4q-5 -5 0 -9t0 -8")
    return ground() + walls + roof + casks + _keeper(284) + rod + angels


def _open_cask(x: float, y: float) -> str:
    r, inner = 25.0, 20.0
    half = math.sqrt(inner**2 - 8**2)
    return (
        circle("a t", x, y, r)
        + circle("a p", x, y, inner)
        + path("c", f"M{n(x - half)} {y - 8}A{n(inner)} {n(inner)} 0 1 0 {n(x + half)} {y - 8}Z")
        + lines("b", (x - half, y - 8, x + half, y - 8))
        + path("a p", f"M{x - 4} {y - r - 2}h8l-1 {n(r - inner + 3)}h-6Z")
    )


def _keeper(x: float) -> str:
    """Return a person of the house in line, for scale, who holds the rod."""
    parts = (
        "M-8 174L-7 218H-1.5L0 184L1.5 218H7L8 174Z",
        "M-9 176V150Q-9 142 -3 141H3Q9 142 9 150V176Z",
        "M4 144Q10 146 11 152L20 156V160L8 158Z",
    )
    hat = "M-13 130Q-6.5 129 -6.5 124Q0 119 6.5 124Q6.5 129 13 130Q0 134 -13 130Z"
    body = "".join(path("b p", placed(d, x, 0)) for d in parts)
    return body + circle("b p", x, 133.5, 6.2) + path("b p", placed(hat, x, 0))


def _bottling() -> str:
    """Return the workshop: jar of infusion, blending vessel and filler, corker, the bench of the labels."""
    posts = lines("b", (18, 84, 18, 220), (24, 84, 24, 220), (336, 84, 336, 220), (342, 84, 342, 220))
    saw = "M8 88V84" + "".join(f"L{10 + i * 113} 84V46L{123 + i * 113} 84" for i in range(3)) + "L352 88Z"
    lights = "".join(rect("b p", x, 46, 8, 38) + path("f", f"M{x} 58h8M{x} 70h8") for x in (10, 123, 236))
    bench = rect("a p", 14, 168, 332, 6) + "".join(rect("b p", x - 4, 174, 8, 46) for x in (36, 180, 324))
    crates = rect("b p", 40, 208, 280, 4) + "".join(
        rect("b p", x, 184, 48, 24) + path("f", f"M{x + 6} 192h36M{x + 6} 200h36")
        for x in (50, 116, 194, 258)
    )
    labelled = "".join(
        bottle_line(x, 168, 39, 0.56) + rect("b p", x - 6, 147, 12, 11) for x in (286, 304, 322)
    )
    return (
        ground()
        + posts
        + path("a t", saw)
        + lights
        + bench
        + crates
        + _jar()
        + _filler()
        + _corker()
        + labelled
    )


def _jar() -> str:
    """Return the jar in which fruit steeps."""
    glass = "M38 168V122C38 112 48 111 48 104H98C98 111 108 112 108 122V168Z"
    fruit = "".join(
        circle("b p", x, y, r) + circle("f", x, y, r * 0.74) + spokes("f", x, y, 0, r * 0.7, 8)
        for x, y, r in ((55, 152, 11.5), (87, 154, 11.5), (71, 139, 9))
    )
    return (
        shapes(("a p", glass), ("c", "M39 127H107V167H39Z"), ("b p", box(45, 97, 56, 7)), ("a", glass))
        + fruit
    )


def _filler() -> str:
    """Return the blending vessel, its filter, and three bottles under the spouts."""
    vessel = shapes(
        ("a t", "M134 118V102Q134 94 142 94H186Q194 94 194 102V118Z"),
        ("c", "M135.5 106H192.5V116.5H135.5Z"),
        ("b", "M164 94V88H214V104"),
        ("a p", box(206, 104, 16, 14)),
        ("f", "M210 104v14M218 104v14"),
    )
    stand = "".join(
        rect("b p", *place) for place in ((128, 118, 72, 5), (130, 123, 4, 45), (194, 123, 4, 45))
    )
    spouts = "".join(
        rect("b p", x - 1.5, 123, 3, 6) + bottle_line(x, 168, 39, fill)
        for x, fill in ((147, 0.56), (164, 0.4), (181, 0.16))
    )
    return vessel + stand + spouts


def _corker() -> str:
    """Return the hand corker with a bottle in it."""
    frame = rect("a p", 236, 163, 32, 5) + rect("b p", 261, 136, 4.5, 27) + rect("b p", 242, 142, 22, 4)
    return (
        frame
        + path("a", "M247 146V138L226 143")
        + circle("b p", 224, 143.5, 2.6)
        + bottle_line(247, 163, 18, 0.5)
    )


def _laboratory() -> str:
    """Return the laboratory: balance, cylinder with float and thermometer, glass still on a mantle, lot samples."""
    walls = "".join(rect("a p", x, 84, 14, 136) + hatching(x, 84, 14, 136) for x in (22, 324))
    roof = rect("a p", 14, 74, 332, 10) + rect("a t", 24, 54, 312, 20)
    roof += lines("f", *[(36 + i * 14, 59, 36 + i * 14, 69) for i in range(22)])
    lots = rect("b p", 212, 126, 102, 3.5) + "".join(
        bottle_line(x, 126, 24, 0.5, "t") for x in range(220, 312, 13)
    )
    bench = rect("a p", 38, 184, 284, 6) + rect("b p", 48, 190, 8, 30) + rect("b p", 304, 190, 8, 30)
    for x in (64, 216):
        bench += rect("b p", x, 190, 76, 20) + path("b", f"M{x + 38} 190V210")
        bench += circle("b p", x + 19, 200, 2) + circle("b p", x + 57, 200, 2)
    return ground() + walls + roof + lots + _scales(78) + _cylinder(146) + _glass_still() + bench


def _scales(x: float) -> str:
    """Return a balance with two pans and a weight."""
    beam = "M-34 121Q-18 114.5 0 115.5Q18 116.5 34 110L33 113Q18 119.5 0 119Q-18 118 -32.5 124Z"
    table: tuple[tuple[str, str], ...] = (
        ("b p", "M-2 116H2V178H-2Z"),
        ("a p", "M-22 184L-19 178H19L22 184Z"),
        ("a p", beam),
        ("b", "M-33 123L-42 150M-33 123L-24 150M33 112L24 138M33 112L42 138"),
        ("b t", "M-45 150h24q-2 8 -12 8q-10 0 -12 -8ZM21 138h24q-2 8 -12 8q-10 0 -12 -8Z"),
        ("b p", "M-40 142h7v8h-7Z"),
        ("f", "M0 122V150M-8 153Q0 157 8 153"),
    )
    return shapes(*[(kind, placed(d, x, 0)) for kind, d in table]) + circle("b p", x, 114, 4.5)


def _cylinder(x: float) -> str:
    """Return the cylinder with the float in it, and the thermometer beside."""
    table: tuple[tuple[str, str], ...] = (
        ("a p", "M-11 181V114L-14 111H14L11 114V181Z"),
        ("c", "M-10 132H10V180H-10Z"),
        ("a p", "M-16 180h32v4h-32Z"),
        ("a", "M-11 132H11"),
        ("b p", "M-1.5 98H1.5V146L4 149V166Q0 173 -4 166V149L-1.5 146Z"),
        ("f", "".join(f"M-1.5 {102 + i * 4}h3" for i in range(9))),
        ("b p", "M22 120h4v58h-4Z"),
        ("f", "".join(f"M22 {126 + i * 5}h2" for i in range(9))),
    )
    return shapes(*[(kind, placed(d, x, 0)) for kind, d in table]) + circle("b c", x + 24, 178, 4)


def _glass_still() -> str:
    """Return the small glass still: heating mantle, flask, cooled arm, receiver."""
    return shapes(
        ("a t", "M190 184V168H226V184Z"),
        ("b", "M194 177H212"),
        ("a p", "M204 151V130H212V151A13 13 0 1 1 204 151Z"),
        ("c", "M196 166H220A13 13 0 0 1 216 173.5H200A13 13 0 0 1 196 166Z"),
        ("b", "M190 168H226"),
        ("b p", "M206 130V124H210V130Z"),
        ("b p", "M212 137L216 135L278 164.5L276 168L215 140H212Z"),
        ("a p", "M228 137L266 155L263 161.5L225 143.5Z"),
        ("f", "M230 139.5L262 154.5M229 143L260 158"),
        ("b", "M234 135L237 128M258 160L255 168"),
        ("a p", "M274 162V168L264 184H290L280 168V162Z"),
        ("c", "M269.5 177H284.5L288 183.5H266Z"),
    ) + circle("k", 220, 177, 1.6)


def _tasting() -> str:
    """Return the tasting room: open roof, long table, a flight on its mat, water, bread, the measure."""
    view = path("b", "M40 150C84 130 116 122 148 131C172 120 206 118 236 128C262 124 288 130 320 140") + path(
        "f", "M70 146C90 136 112 131 132 134M164 136C186 128 208 127 228 133M244 136C262 133 282 136 300 142"
    )
    flight = rect("b p", 66, 170, 136, 3) + "".join(
        _tulip(84 + i * 25, 170, 32, ink) for i, ink in enumerate(("p", "t", "c", "c", "c"))
    )
    beside = shapes(
        ("a p", "M218 173V140H240V173Z"),
        ("t", "M219 150H239V172H219Z"),
        ("b", "M240 146q9 7 0 16"),
        ("b p", "M250 163H286Q284 173 268 173T250 163Z"),
        ("f", "M254 163q6 -9 12 -2q6 -8 12 1"),
        ("a p", "M298 173V158H310V173Z"),
        ("c", "M299 165H309V172H299Z"),
        ("f", "M298 161h4M298 165h4M298 169h4"),
    )
    table = rect("a p", 52, 173, 268, 6) + path("b p", "M66 179H76L73 220H69ZM296 179H306L303 220H299Z")
    stools = "".join(
        rect("b p", x - 13, 196, 26, 4) + path("b", f"M{x - 9} 200L{x - 12} 220M{x + 9} 200L{x + 12} 220")
        for x in (112, 160, 208, 256)
    )
    return ground() + _hip_roof() + view + flight + beside + table + stools


def _hip_roof() -> str:
    """Return a tiled hip roof on two posts."""
    rows = [(72 - 56 * k / 5, 36 + 48 * k / 5, 288 + 56 * k / 5) for k in range(6)]
    courses = [(left + 2, y, right - 2, y) for left, y, right in rows[1:5]]
    tiles = [
        (x, y, x, y + 9.6)
        for i, (left, y, right) in enumerate(rows[:5])
        for x in range(int(left) + 6 + i % 2 * 10, int(right) - 4, 25)
    ]
    posts = "".join(
        rect("b p", x - 3, 88, 6, 132) + path("b", placed("M-3 103Q-4 90 -17 89M3 103Q4 90 17 89", x, 0))
        for x in (34, 326)
    )
    return (
        path("a t", "M16 84L72 36H288L344 84Z")
        + lines("f", *courses, *tiles)
        + rect("a p", 14, 83, 332, 5)
        + posts
    )


def _tulip(x: float, foot: float, tall: float, ink: str) -> str:
    """Return a tasting glass in line with its sample."""
    low = "C-25 -40 -10 -36 0 -35C10 -36 25 -40 26 -58"
    bowl = f"M-17 -100C-19 -84 -28 -74 -26 -58{low}C28 -74 19 -84 17 -100Z"
    foot_d = "M0 -35V-2M-21 -1.5H21"
    table = (("b p", bowl), (ink, f"M-26 -58{low}Z"), ("b", bowl + foot_d))
    return shapes(*[(kind, placed(d, x, foot, tall / 100)) for kind, d in table])


PLATES = {
    "cask-store": Plate(
        _store,
        (
            Part("racks", (90, 162), (10, 172)),
            Part("bung", (224, 164), (262, 112)),
            Part("rod", (304, 128), (348, 76)),
            Part("walls", (328, 170), (358, 188)),
            Part("ridge_vent", (190, 26), (232, 6)),
        ),
    ),
    "bottling": Plate(
        _bottling,
        (
            Part("infusion", (48, 134), (8, 112)),
            Part("blend", (150, 110), (122, 66)),
            Part("filter", (214, 110), (232, 66)),
            Part("filler", (164, 126), (108, 186)),
            Part("corker", (252, 144), (272, 112)),
            Part("label", (322, 152), (356, 126)),
        ),
    ),
    "laboratory": Plate(
        _laboratory,
        (
            Part("balance", (110, 114), (64, 66)),
            Part("cylinder", (146, 120), (146, 92)),
            Part("thermometer", (170, 124), (188, 92)),
            Part("glass_still", (214, 170), (200, 226)),
            Part("lot_samples", (298, 112), (334, 108)),
        ),
    ),
    "tasting-room": Plate(
        _tasting,
        (
            Part("flight", (134, 150), (112, 112)),
            Part("mat", (196, 171), (150, 232)),
            Part("water", (229, 144), (232, 108)),
            Part("bread", (268, 162), (276, 122)),
            Part("measure", (304, 160), (318, 134)),
        ),
    ),
}
