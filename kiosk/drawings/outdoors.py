"""The first stops of the walk, in the open: welcome house, cane field, harvest yard; and a plain building."""

from kiosk.drawings.ink import box, circle, lines, path, polygon, rectangle, shapes, spokes, wedges
from kiosk.drawings.people import person
from kiosk.drawings.things import blades, cut_cane, plume, scallops, stalk

GROUND = 240


def welcome_house() -> str:
    """Return the welcome house: open gallery, shutters, a guide at the steps and guests who arrive."""
    wall = rectangle("c", 34, 132, 176, 92)
    door = rectangle("y", 100, 146, 42, 80) + shapes(
        ("k", "M100 146L86 140V230L100 226ZM142 146L156 140V230L142 226Z"),
        ("lp w2", "M89 156L97 158M89 167L97 169M89 178L97 180M89 189L97 191M145 158L153 156M145 169L153 167"),
        ("lp w2", "M145 180L153 178M145 191L153 189"),
    )
    windows = "".join(
        rectangle("y", x, 152, 18, 34)
        + path("k", box(x - 8, 150, 7, 38) + box(x + 19, 150, 7, 38) + box(x, 167, 18, 3))
        for x in (52, 172)
    )
    roof = (
        path("k", "M4 124L58 56Q60 53 64 53L177 52Q181 52 183 55L237 123L232 132L9 133Z")
        + wedges(
            "p",
            *((44, 118, 69, 64, 6), (74, 120, 88, 62, 6), (104, 121, 109, 60, 6)),
            *((134, 121, 131, 60, 6), (164, 120, 153, 62, 6), (196, 117, 174, 64, 6)),
        )
        + path("k", "M112 53L121 34L130 53Z")
        + circle("k", 121, 31, 4)
        + scallops("y", 10, 231, 132)
    )
    return wall + door + windows + roof + _gallery() + _arrivals()


def _gallery() -> str:
    posts = "".join(rectangle("k", x, 132, 7, 94) for x in (18, 80, 155, 217))
    rails = "".join(
        rectangle("k", a, 200, b - a, 4) + lines("lk w4", *[(x, 202, x, 226) for x in range(a + 8, b - 4, 9)])
        for a, b in ((25, 80), (162, 217))
    )
    steps = path("k", box(8, 224, 226, 8) + box(20, 232, 202, 8)) + path(
        "p", box(94, 231, 54, 2.5) + box(90, 236, 62, 2.2)
    )
    return posts + rails + steps


def _arrivals() -> str:
    return (
        person(110, 240, 78, "point", coat="apron")
        + person(178, 240, 72, "wave", head="bun", coat="pale", legs="skirt", left=True)
        + person(204, 240, 50, head="hair", coat="pale")
    )


def cane_field() -> str:
    """Return the cane field: tall stalks in flower, cut stools, a cutter at work."""
    stems = ((30, 140, -5), (56, 172, 4), (84, 152, -5), (111, 184, 6), (138, 160, -2))
    back: list[tuple[float, float, float, float, float, float]] = []
    front: list[tuple[float, float, float, float, float, float]] = []
    for i, (x, height, lean) in enumerate(stems):
        top, side = GROUND - height, 1 if i % 2 else -1
        back += [(x + lean, top + 2, 46 * side, -8, 44, 8), (x + lean, top + 6, -42 * side, 8, 40, 8)]
        front += [(x + lean, top + 10, 50 * side, 40, 36, 8.5), (x + lean, top + 14, -44 * side, 48, 28, 8.5)]
        front.append((x + lean, top, 15 * side, -32, 24, 7))
    low = "".join(
        stalk("k", x + 15, GROUND, 90 + (i * 37) % 40, 2 - i % 3 * 2, 5, 9)
        for i, (x, _, _) in enumerate(stems)
    )
    tall = "".join(
        stalk("k", x, GROUND, height, lean, 6 if height < 160 else 7, 13) for x, height, lean in stems
    )
    flowers = plume("c", 60, 80, 62, 6) + plume("c", 117, 68, 64, 9)
    return (
        circle("sun", 176, 92, 46)
        + flowers
        + blades("s h", *back)
        + low
        + tall
        + blades("s h", *front)
        + _stools()
        + person(204, 240, 78, "cut", left=True)
    )


def _stools() -> str:
    """Return what the cutter leaves: short stools, and stalks laid in a row on the ground."""
    stools = "".join(
        polygon("k", (x, 240), (x + 1, 240 - h), (x + 7, 237 - h), (x + 8, 240))
        for x, h in ((162, 15), (172, 11), (182, 17), (222, 13), (232, 17))
    )
    row = "".join(
        cut_cane("c" if i == 1 else "k", 152 + i * 5, 234 - i * 6, 42 - i * 6, 5, i) for i in range(2)
    )
    return stools + row


def harvest_yard() -> str:
    """Return the harvest yard: a trailer of cane on the platform of a scale, its dial, who reads it."""
    return _trailer() + _platform() + _dial() + person(222, 240, 76, "hold", left=True)


def _load() -> str:
    """Return the cane on the trailer: long stalks, their ends uneven, fewer towards the top."""
    insets, slopes = (0, 8, -6, 4, -10, 8, 0, 12, 16, 30, 52), (0.4, -1.8, 1.6, 0.0, -1.2)
    return "".join(
        cut_cane(
            "c" if i % 3 == 2 else "k",
            20 + inset,
            152.5 - i * 7.4,
            164 - inset * 1.6,
            6.2,
            i * 3,
            slopes[i % 5],
        )
        for i, inset in enumerate(insets)
    )


def _trailer() -> str:
    tops = blades(
        "s h",
        (30, 148, -34, 18, 12, 8),
        (22, 132, -34, 24, 18, 8),
        (28, 116, -36, 16, 24, 8),
        (40, 100, -38, 8, 28, 8),
    )
    chains = path("ly w3", "M62 159V92Q64 84 84 80M134 159V92Q132 84 112 80")
    stakes = "".join(
        rectangle("p", x - 2, 84, 9.5, 78) + rectangle("k", x, 82, 5.5, 84) for x in (28, 94, 168)
    )
    bed = path("k", "M16 160H184L190 166V174H16Z") + lines(
        "lp w2", *[(x, 167, x + 26, 167) for x in range(30, 170, 36)]
    )
    hitch = path("k", "M16 164L-6 190L-2 194L22 172ZM-8 190h6v36h-6Z")
    wheels = "".join(
        circle("k", x, 200, 26)
        + circle("p", x, 200, 17)
        + spokes("lk w4", x, 200, 3, 19, 8, 0.2)
        + circle("y", x, 200, 5)
        for x in (56, 144)
    )
    springs = path("k", "M40 174h32l-6 12h-20ZM128 174h32l-6 12h-20Z")
    return _load() + tops + chains + stakes + hitch + bed + springs + wheels


def _platform() -> str:
    ramps = path("k", "M-14 240L4 226H182L200 240Z")
    return ramps + lines("lp w2", (10, 232, 176, 232)) + path("lk w4", "M188 234H208V180")


def _dial() -> str:
    """Return the dial of the scale on its column: graduated, its hand at the load."""
    column = path("k", "M203 240V112H213V240ZM196 232h24v8h-24Z")
    face = circle("k", 208, 84, 32) + circle("p", 208, 84, 27) + circle("y", 208, 84, 24)
    marks = spokes("lk w2", 208, 84, 18, 23, 13, 2.36, 0.75)
    hand = path("lk w4 r", "M208 84L219 68") + circle("k", 208, 84, 4)
    return column + path("k", "M198 52h20v-6h-20Z") + face + marks + hand


def plain_building() -> str:
    """Return a plain building for a stop of a house's own: gable, door, windows, a sign without words."""
    wall = rectangle("c", 36, 128, 168, 112)
    roof = path("k", "M14 128L120 62L226 128L220 138L120 76L20 138Z") + path("t", "M44 128L120 80L196 128Z")
    door = (
        path("k", box(96, 160, 48, 80))
        + path("y", box(102, 166, 36, 74))
        + lines("lk w3", (120, 166, 120, 240))
        + circle("k", 114, 204, 2.6)
        + circle("k", 126, 204, 2.6)
    )
    windows = "".join(
        path("k", box(x, 160, 32, 42))
        + path("y", box(x + 4, 164, 24, 34))
        + lines("lk w3", (x + 16, 164, x + 16, 198), (x + 4, 181, x + 28, 181))
        for x in (50, 158)
    )
    sign = path("k", box(90, 138, 60, 16)) + path("p", box(94, 142, 52, 8))
    base = path("k", box(28, 232, 184, 8))
    return wall + roof + windows + door + sign + base + person(186, 240, 74, "stand", left=True)
