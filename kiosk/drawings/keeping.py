"""The stops where spirit rests, is finished and is tasted: cask store, bottling, laboratory, tasting room."""

from kiosk.drawings.ink import box, circle, lines, n, path, rectangle, spokes, wedges
from kiosk.drawings.people import person
from kiosk.drawings.things import bottle, cask_end, glass, racking, scallops, vapour

SAMPLES = ("p", "y", "c", "c", "y")


def cask_store() -> str:
    """Return the cask store: open ridge, casks on their racks, a person with the dipping rod."""
    house = path("k", "M2 112L118 34Q121 32 124 34L238 110L232 121L222 115V240H18V116L8 122Z")
    ridge = path("k", "M108 18h26v26h-26ZM100 20L121 6L142 20Z") + lines(
        "lp w3", (112, 26, 130, 26), (112, 32, 130, 32)
    )
    room = path("y", "M34 240V130Q34 124 40 124H200Q206 124 206 130V240Z")
    boards = wedges(
        "p", (34, 106, 62, 86, 5), (66, 84, 92, 66, 5), (206, 106, 178, 86, 5), (174, 84, 148, 66, 5)
    )
    rack = path("k", box(34, 236, 122, 4) + box(36, 181, 118, 5))
    casks = "".join(
        cask_end(x, y, 19) + racking("k", x, y + 19.5, 15) for y in (216.5, 161.5) for x in (57, 95, 133)
    )
    keeper = person(169, 240, 84, "hold")
    rod = rectangle("p", 193, 146, 7, 94) + rectangle("k", 195, 148, 3, 92)
    return house + ridge + boards + room + rack + casks + keeper + rod + vapour("lc", (112, 6), (130, 4))


def bottling() -> str:
    """Return infusion and hand bottling: the steeping jar, the filler, a person who corks, drying fruit."""
    frame = path(
        "k",
        box(4, 60, 232, 9)
        + box(12, 60, 8, 180)
        + box(220, 60, 8, 180)
        + "M20 92L44 69H53L20 102ZM220 92L196 69H187L220 102Z",
    )
    table = path("k", box(0, 206, 240, 10) + box(28, 216, 8, 24) + box(204, 216, 8, 24)) + rectangle(
        "k", 30, 231, 180, 4
    )
    drying = "".join(
        path("k", box(x - 0.8, 69, 1.6, drop)) + circle("y", x, 75 + drop, 6.5)
        for x, drop in ((92, 16), (106, 9), (120, 18))
    )
    corker = person(184, 230, 108, "hold", legs="none", coat="apron", left=True)
    row = "".join(
        bottle(x, 206, 40, ink="k h", label=label, width=14) for x, label in ((206, "c"), (222, "p"))
    )
    filler = (
        path("c", "M120 78H156L145 98H131Z")
        + rectangle("c", 135.6, 97, 4.8, 16)
        + rectangle("k", 135, 66, 6, 12)
    )
    return (
        frame
        + drying
        + corker
        + _jar()
        + filler
        + bottle(138, 206, 92, ink="k h", label="y", width=28)
        + row
        + table
    )


def _jar() -> str:
    """Return the jar in which fruit steeps."""
    shell = path("k h", "M26 206C6 172 16 134 50 120V104H44V96H88V104H82V120C116 134 126 172 106 206Z")
    liquor = path("c", "M32 201C17 174 22 150 40 140H92C110 150 115 174 100 201Z")
    light = path("p", "M27 150Q30 138 41 132L38 138Q32 143 30 154Z")
    fruit = ""
    for x, y, r in ((48, 162, 12), (80, 156, 11), (66, 184, 13), (91, 182, 8), (38, 186, 7)):
        fruit += circle("y", x, y, r)
        if r > 8:
            fruit += spokes("lc w2", x, y, 1, r * 0.78, 6, 0.3)
    lid = path("y", box(49, 89, 34, 8) + box(53, 84, 26, 6))
    return shell + liquor + light + fruit + lid


def laboratory() -> str:
    """Return the laboratory: hydrometer in its cylinder, balance, glass still on a heating mantle, samples."""
    house = path("k", "M4 96L118 40Q120 39 122 40L236 96L232 106L222 101V240H18V101L8 106Z")
    boards = wedges(
        "p", (34, 94, 66, 77, 5), (72, 75, 102, 61, 5), (206, 94, 174, 77, 5), (168, 75, 138, 61, 5)
    )
    room = rectangle("y", 30, 106, 180, 134)
    shelf = rectangle("k", 84, 140, 122, 4) + "".join(
        bottle(x, 140, 26, ink="c" if i % 3 == 1 else "k", label="", width=10)
        for i, x in enumerate(range(92, 204, 13))
    )
    chemist = person(50, 236, 96, "hold", legs="none", head="bun", coat="pale")
    bench = path("k", box(24, 206, 192, 8) + box(30, 214, 180, 26)) + lines(
        "lp w2", (76, 218, 76, 236), (122, 218, 122, 236), (168, 218, 168, 236)
    )
    knobs = path("lp w3", "M48 224H58M94 224H104M140 224H150M184 224H194")
    return (
        house
        + boards
        + room
        + shelf
        + chemist
        + _float_cylinder(84, 206)
        + _balance(119, 206)
        + _glass_still()
        + bench
        + knobs
    )


def _float_cylinder(x: float, foot: float) -> str:
    """Return the hydrometer's cylinder on its foot, with the float that stands out of it."""
    shell = path(
        "k h",
        f"M{n(x - 12)} {n(foot - 66)}H{n(x + 12)}V{n(foot - 5)}H{n(x + 17)}V{n(foot)}H{n(x - 17)}V{n(foot - 5)}H{n(x - 12)}Z",
    )
    liquid = rectangle("p", x - 8.5, foot - 66, 17, 60) + rectangle("c", x - 8.5, foot - 52, 17, 46)
    stem = rectangle("k", x - 1.6, foot - 84, 3.2, 40)
    body = path(
        "k",
        f"M{n(x - 1.6)} {n(foot - 46)}C{n(x - 6)} {n(foot - 40)} {n(x - 6)} {n(foot - 24)} {n(x)} {n(foot - 14)}C{n(x + 6)} {n(foot - 24)} {n(x + 6)} {n(foot - 40)} {n(x + 1.6)} {n(foot - 46)}Z",
    )
    return shell + liquid + stem + body


def _balance(x: float, foot: float) -> str:
    """Return a balance with two pans."""
    post = path(
        "k h",
        f"M{n(x - 12)} {n(foot)}V{n(foot - 5)}H{n(x - 2)}V{n(foot - 48)}H{n(x + 2)}V{n(foot - 5)}H{n(x + 12)}V{n(foot)}Z",
    )
    beam = path("lk w3 r", f"M{n(x - 16)} {n(foot - 44)}L{n(x + 16)} {n(foot - 50)}") + circle(
        "k", x, foot - 48, 3.4
    )
    strings = lines(
        "lk w1",
        (x - 16, foot - 44, x - 22, foot - 26),
        (x - 16, foot - 44, x - 10, foot - 26),
        (x + 16, foot - 50, x + 10, foot - 32),
        (x + 16, foot - 50, x + 22, foot - 32),
    )
    pans = path(
        "k", f"M{n(x - 24)} {n(foot - 27)}h16q-2 6-8 6t-8-6ZM{n(x + 8)} {n(foot - 33)}h16q-2 6-8 6t-8-6Z"
    )
    return strings + post + beam + pans + rectangle("c", x + 13, foot - 39, 6, 6)


def _glass_still() -> str:
    """Return the small glass still: flask in a heating mantle, cooled arm, flask that receives."""
    mantle = (
        path("k h", "M140 206V190H180V206Z") + circle("y", 174, 200, 2) + lines("ly w2", (145, 200, 164, 200))
    )
    flask = path(
        "k h", "M156 164V154H153V149H167V154H164V160L196 184L192 189L164 168A15 15 0 1 1 156 167Z"
    ) + path("c", "M147.500 183a12.500 12.500 0 0 0 25 0Z")
    jacket = path("p", "M174 172L187 182L184.500 185.500L171.500 175.500Z")
    receiver = path("k h", "M190 184H198V192L204 206H182L188 192Z") + path(
        "c", "M187.500 200h13l2 4.500h-17Z"
    )
    return flask + mantle + jacket + receiver


def tasting_room(glasses: int = 5) -> str:
    """Return the tasting room: open hip roof, guests at the long table, as many glasses as the flight has.

    Raises ValueError for less than one glass or more than ten.
    """
    if not 1 <= glasses <= 10:
        raise ValueError(f"{glasses} glasses; the table has room for 1 to 10")
    roof = path("k", "M-6 116L48 56Q50 53 54 53H186Q190 53 192 56L246 116L241 126H-1Z") + wedges(
        "p",
        *((36, 111, 62, 62, 6), (70, 113, 85, 61, 6), (104, 114, 109, 60, 6)),
        *((136, 114, 131, 60, 6), (170, 113, 155, 61, 6), (204, 111, 178, 62, 6)),
    )
    posts = path(
        "k",
        box(10, 125, 8, 115)
        + box(222, 125, 8, 115)
        + "M18 148L38 126H46L18 157ZM222 148L202 126H194L222 157Z",
    )
    hill = path("t", "M18 214V186C54 164 92 166 128 180C160 164 196 166 222 182V214Z")
    guests = (
        person(60, 232, 92, "rest", legs="none", head="hair")
        + person(182, 232, 92, "rest", legs="none", head="bun")
        + person(121, 232, 100, "rest", legs="none", coat="apron")
    )
    table = path("k", "M18 214H222V224H214L210 240H201L198 224H42L39 240H30L26 224H18Z") + rectangle(
        "k", 66, 232, 108, 8
    )
    tall = min(40.0, 200.0 / glasses)
    row = "".join(
        glass(120 + (i - (glasses - 1) / 2) * min(37.0, 180.0 / glasses), 214, tall, SAMPLES[i % 5])
        for i in range(glasses)
    )
    return roof + scallops("y", -1, 241, 125) + hill + posts + guests + table + row
