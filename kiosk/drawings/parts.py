"""Parts of screens and papers that carry a value: mark, cask head, stamp, cane stalk, bottle, seat dots."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any, ClassVar, Final, Literal, get_args

from markupsafe import Markup

from kiosk.drawings.icons import icon
from kiosk.drawings.ink import box, circle, lines, n, path, svg, text
from kiosk.drawings.levels import revolved_height

Shape = Literal["round", "broken", "kite", "drop", "square", "octagon", "free"]
Tint = Literal["clear", "aged", "fruit", "cacao"]

# Size of a figure on a cask head by its count of characters; what is longer shrinks on.
_FIGURE_SIZES: Final = {1: 96.0, 2: 84.0, 3: 70.0, 4: 56.0, 5: 46.0}
_STAMPS: Final[dict[Shape, tuple[str, float, float]]] = {
    "round": ("", 0, 29),
    "broken": ("", 0, 29),
    "kite": ("M32 1L61 28L32 63L3 28Z", -2.5, 25),
    "drop": ("M32 0C40 11 60 24 60 40A28 23.5 0 0 1 4 40C4 24 24 11 32 0Z", 6, 27),
    "square": ("M3 3h58v58h-58Z", 0, 31),
    "octagon": ("M20 2h24l18 18v24L44 62H20L2 44V20Z", 0, 30),
    "free": ("", 0, 26),
}


def neutral_mark(label: str = "") -> Markup:
    """Return the mark of a house that has brought none: a stool of three canes on its ground."""
    stems = "".join(
        path(
            "k",
            f"M{n(x - 2.6)} {n(y)}q0.8 -4 0.2 -8.4h4.800q-0.6 4.4 0.2 8.4Z",
        )
        for x, low, count in ((12, 34, 2), (22, 34, 3), (32, 34, 2))
        for y in [low - 9.4 * i for i in range(count)]
    )
    leaves = path(
        "c",
        "M22 6Q15 -2 6 3Q16 2 20.500 8ZM22 6Q29 -2 38 3Q28 2 23.500 8ZM12 15Q7 9 1 14Q8 12 11 17ZM32 15Q37 9 43 14Q36 12 33 17Z",
    )
    return svg(
        (0, -2, 44, 42), stems + leaves + path("k", "M2 35.500h40v3.500h-40Z"), kind="mark", label=label
    )


def cask_head(figure: str, unit: str = "", label: str = "") -> Markup:
    """Return a figure cut into a cask head; it is text that the caller has formatted, empty for a bare head."""
    wood = 84.0
    boards = "".join(
        f"M{n(100 - half)} {n(100 + at * wood)}H{n(100 + half)}"
        for at in (-0.62, -0.22, 0.22, 0.62)
        for half in [math.sqrt(wood**2 - (at * wood) ** 2)]
    )
    size = _FIGURE_SIZES.get(len(figure), max(24.0, 250.0 / max(1, len(figure))))
    staves = "".join(
        f"M{n(100 + 91 * math.cos(a))} {n(100 + 91 * math.sin(a))}L{n(100 + 100 * math.cos(a))} {n(100 + 100 * math.sin(a))}"
        for a in [(i + ((i * 7) % 5 - 2) * 0.05) * 2 * math.pi / 26 for i in range(26)]
    )
    words = text("num mid", 100, 100 + size * 0.383 - (9 if unit else 0), figure, size)
    if unit:
        words += text(
            "num mid unit", 100, 126 + size * 0.38, unit.upper(), 24 if len(unit) < 7 else 150 / len(unit)
        )
    rings = (
        circle("rim", 100, 100, 99)
        + path("stave", staves)
        + circle("gap", 100, 100, 90)
        + circle("wood", 100, 100, wood)
    )
    return svg((0, 0, 200, 200), rings + path("board", boards) + words, kind="cask-head", label=label)


def stamp(number: str, shape: Shape = "round", label: str = "") -> Markup:
    """Return a guest's number as it stands on a cask head; the shape is the guest's state.

    A free head without a number shows the outline of a person who is still to come.

    Raises KeyError for a shape that is not drawn.
    """
    d, lift, size = _STAMPS[shape]
    body = path("disc", d) if d else ""
    if shape == "round":
        body = circle("rim", 32, 32, 30.2) + circle("disc", 32, 32, 25.5)
    elif shape in ("broken", "free"):
        body = circle("rim", 32, 32, 29)
    elif shape == "square":
        body += path("cut", "M3 9.500h58M3 54.500h58")
    size *= {1: 1.12, 2: 1.0}.get(len(number), 2.3 / max(2, len(number)))
    words = text("num mid", 32, 32 + lift + size * 0.383, number, size)
    if shape == "free" and not number:
        words = circle("awaited", 32, 24, 7.5) + path(
            "awaited", "M17 47C17 38 23 34.500 32 34.500S47 38 47 47"
        )
    return svg((0, 0, 64, 64), body + words, kind=f"stamp {shape}", label=label)


def stalk_gauge(
    internodes: int | Sequence[float],
    filled: float,
    *,
    next_one: int | None = None,
    capped: bool | None = None,
    label: str = "",
    width: float = 120,
    height: float = 18,
) -> Markup:
    """Return a cane stalk as a gauge; its internodes are measures, filled up to what was served.

    `internodes` is their count, or their lengths when they differ; `filled` counts internodes
    and may stop inside one. A stalk that is full is capped; `capped` decides otherwise.
    `next_one` marks the internode that is poured next.
    """
    lengths = [1.0] * internodes if isinstance(internodes, int) else [float(v) for v in internodes]
    if not lengths or min(lengths) <= 0:
        raise ValueError("a stalk needs internodes, each longer than nothing")
    scale = (width - 9) / sum(lengths)
    edges = [0.0]
    for length in lengths:
        edges.append(edges[-1] + length * scale)
    full = filled >= len(lengths) if capped is None else capped
    out = "".join(_internode(i, edges, filled, next_one, height) for i in range(len(lengths)))
    for i, x in enumerate(edges):
        state = "node on" if filled > 0 and i <= filled else "node"
        out += path(state, box(max(0.0, x - 1.1), 0, 2.2, height))
    end = edges[-1]
    tip = f"M{n(end + 1)} {n(height * 0.6)}Q{n(end + 2)} {n(height * 0.08)} {n(end + 9)} 0Q{n(end + 9)} {n(height * 0.6)} {n(end + 1)} {n(height * 0.95)}Z"
    out += path("cap", box(end + 2, 0, 6, height)) if full else path("tip", tip)
    kind = "gauge full" if full else "gauge"
    return svg((0, 0, width, height), out, kind=kind, label=label)


def limit_stalk(limit: float | Decimal, unit: float, served: float | Decimal, **how: Any) -> Markup:
    """Return a limit as a stalk, filled by what was served; one internode is one `unit` of the limit.

    All three are amounts of the same measure. A limit that is no multiple of the unit ends in a
    shorter internode, as long as what is over; a stalk without anything left is full and capped.
    `how` goes to `stalk_gauge`.

    Raises ValueError for a limit of nothing.
    """
    whole, over = divmod(round(float(limit) / unit, 4), 1)
    lengths = [1.0] * int(whole) + ([over] if over else [])
    done = max(0.0, float(served) / unit)
    if served >= limit:
        done = len(lengths)
    elif done > whole:
        done = whole + (done - whole) / over
    return stalk_gauge(lengths, done, **how)


def _internode(i: int, edges: Sequence[float], filled: float, next_one: int | None, height: float) -> str:
    left, right = edges[i] + 1.6, edges[i + 1] - 1.6

    def piece(state: str, a: float, b: float) -> str:
        waist = min(2.4, (b - a) / 6)
        m = (a + b) / 2
        return path(
            state,
            f"M{n(a)} 2.2Q{n(m)} {n(2.2 + waist)} {n(b)} 2.2V{n(height - 2.2)}Q{n(m)} {n(height - 2.2 - waist)} {n(a)} {n(height - 2.2)}Z",
        )

    share = min(1.0, max(0.0, filled - i))
    state = "internode next" if i == next_one else "internode"
    if share >= 1:
        return piece("internode on", left, right)
    empty = piece(state, left, right)
    return empty + piece("internode on", left, left + (right - left) * share) if share > 0.02 else empty


@dataclass(frozen=True)
class HouseBottle:
    """The house bottle as glass: `half` its width in the body, and its height from foot to mouth."""

    FULL: ClassVar[float] = 0.86  # where a full bottle stands, as a share of its height

    half: float = 23.0
    height: float = 120.0

    def half_at(self, up: float) -> float:
        """Return half the inner width at `up`, a share of the height."""
        if up <= 0.6:
            return self.half
        if up >= 0.78:
            return self.half * 0.36
        share = (up - 0.6) / 0.18
        return self.half * (1 - 0.64 * share * share * (3 - 2 * share))

    def level(self, share: float) -> float:
        """Return how high the fill stands, as a share of the height, when `share` of the bottle is left."""
        return revolved_height(share, self.half_at, self.FULL)

    def d(self, low: float, high: float, x: float, foot: float) -> str:
        """Return the path data of the glass between two heights, standing at (x, foot)."""
        bend = [0.6 + 0.015 * i for i in range(13)]
        ups = [low, *[u for u in bend if low < u < high], high]
        right = [(x + self.half_at(u), foot - u * self.height) for u in ups]
        left = [(2 * x - a, b) for a, b in reversed(right)]
        return "M" + "L".join(f"{n(a)} {n(b)}" for a, b in right + left) + "Z"


def bottle_level(
    share: float | None,
    tint: Tint,
    *,
    expected: float | None = None,
    tag: str = "",
    now: bool = False,
    label: str = "",
) -> Markup:
    """Return the house bottle filled to its true height when `share` of it is left.

    `expected` draws a second level in dashes; `tag` is a short text on the label, as a
    strength; `now` marks the bottle in hand. Without a share the bottle is drawn in dashes.
    """
    outline, x, foot = HouseBottle(), 26.0, 123.0
    body = (
        path("glass", outline.d(0, 0.94, x, foot))
        if share is not None
        else path("glass unknown", outline.d(0, 0.94, x, foot))
    )
    if share is not None and share > 0:
        up = outline.level(share)
        fill = outline.d(0, up, x, foot)
        y = foot - up * outline.height
        body += path(f"fill {tint}{' now' if now else ''}", fill)
        if tint == "fruit" and not now:
            body += path("hatch", _hatch(outline, up, x, foot))
        body += lines("surface", (x - outline.half_at(up), y, x + outline.half_at(up), y))
    if share is not None:
        body += path("rim", outline.d(0, 0.94, x, foot))
    if expected is not None:
        y = foot - outline.level(expected) * outline.height
        body += lines("expected", (x - outline.half - 3, y, x + outline.half + 3, y))
    if tag:
        body += path("tag", box(x - 17, foot - 53, 34, 31)) + text(
            "num mid", x, foot - 31, tag, 18 if len(tag) < 3 else 40 / len(tag)
        )
    body += path("stopper", box(x - 11.5, foot - 120, 23, 8))
    return svg((0, 0, 52, 126), body, kind="bottle-level", label=label)


def _hatch(outline: HouseBottle, up: float, x: float, foot: float) -> str:
    """Return slanting lines inside the fill, cut at the glass by small steps."""
    d, top = "", foot - up * outline.height
    for start in range(-130, 60, 6):
        inside: list[tuple[float, float]] = []
        for i in range(131):
            px, py = x + start + i, foot - i
            if py >= top and abs(px - x) <= outline.half_at((foot - py) / outline.height):
                inside.append((px, py))
        if len(inside) > 1:
            d += f"M{n(inside[0][0])} {n(inside[0][1])}L{n(inside[-1][0])} {n(inside[-1][1])}"
    return d


DotState = Literal["had", "now", "next", "skipped", "behind", "no_alcohol"]


def seat_dots(states: Sequence[DotState], label: str = "") -> Markup:
    """Return a row of dots, one a sample of the flight: had, in hand, to come, skipped, missed, without alcohol."""
    out, x = "", 8.0
    for state in states:
        if state == "skipped":
            out += path("dot skipped", f"M{n(x - 6)} 8h12")
        elif state == "no_alcohol":
            out += path(
                "dot no-alcohol",
                f"M{n(x)} 0Q{n(x + 6.6)} 6.6 {n(x + 6.2)} 10a6.2 5.6 0 0 1 -12.400 0Q{n(x - 6.6)} 6.6 {n(x)} 0Z",
            )
        else:
            out += circle(f"dot {state}", x, 8, {"had": 6.6, "now": 6, "next": 2.6, "behind": 5.6}[state])
        x += 20
    return svg((0, 0, max(16.0, x - 12), 16), out, kind="dots", label=label)


SEAT_ICONS = (
    *("id", "child", "no-alcohol", "limit", "stop", "allergy", "arrow"),
    *("undo", "room", "people", "language", "bottles"),
)


def seat_symbols() -> Markup:
    """Return the shapes from which a script draws seats, each once and under its own id.

    They are `stamp-round` and its kin, `dot-had` and its kin, and `icon-` with the name of each icon.
    """
    drawn: dict[str, Markup] = {f"stamp-{shape}": stamp("", shape) for shape in _STAMPS}
    for state in get_args(DotState):
        drawn[f"dot-{state}"] = seat_dots([state])
    drawn |= {f"icon-{name}": icon(name) for name in SEAT_ICONS}
    return Markup("").join(
        Markup(str(one).replace("<svg ", f'<svg id="{name}" ', 1)) for name, one in drawn.items()
    )


def balance_bar(short: float | None, tolerance: float, label: str = "") -> Markup:
    """Return a difference on a line: the bracket is the tolerance, what is short lies left of the middle.

    Both in one unit, the tolerance above 0. A difference beyond the bracket is an arrow; None, which is not known, shows the bracket alone.
    """
    middle, reach = 58.0, 18.0
    low, high = middle - reach, middle + reach
    out = lines("axis", (0, 10, 116, 10)) + lines("zero", (middle, 6, middle, 14))
    out += path("bracket", f"M{n(low + 5)} 3h-5v14h5M{n(high - 5)} 3h5v14h-5")
    if short is not None:
        at = middle - reach * short / tolerance
        if low <= at <= high:
            out += path("here", f"M{n(at)} 2l7 8-7 8-7-8Z")
        else:
            x, back = (max(6.0, at), 13) if at < middle else (min(110.0, at), -13)
            out += path("here", f"M{n(x - back / 2.6)} 10l{back} -9v18Z")
    return svg((0, 0, 116, 20), out, kind="balance-bar", label=label)


@lru_cache(maxsize=512)
def place_dots(here: int, booked: int, places: int, label: str = "") -> Markup:
    """Return a tour's places as dots in rows of 24: filled for a guest who is here, a ring for a booked one."""
    out, count, row = "", max(here, booked, places), 24
    for i in range(count):
        state, r = ("had", 5.2) if i < here else ("booked", 4.3) if i < booked else ("free", 1.8)
        out += circle("dot over" if i >= places else f"dot {state}", 7 + i % row * 13, 7 + i // row * 13, r)
    return svg(
        (0, 0, 14 + 13 * (row - 1), 1 + 13 * max(1, math.ceil(count / row))),
        out,
        kind="dots places",
        label=label,
    )


def tank_level(share: float | None, label: str = "") -> Markup:
    """Return a wooden tank with wash to a share of its height; empty and dashed at None."""
    left, right, top, foot = 5.0, 47.0, 3.0, 43.0
    outline = f"M{n(left + 3)} {n(top)}H{n(right - 3)}L{n(right)} {n(foot)}H{n(left)}Z"
    body = path("p", outline)
    if share is not None:
        up = min(1.0, max(0.0, share))
        y, slant = foot - up * (foot - top - 4), 3 * up * 0.9
        body += path(
            "c", f"M{n(left)} {n(foot)}L{n(left + slant)} {n(y)}H{n(right - slant)}L{n(right)} {n(foot)}Z"
        )
    body += path("ls w3" if share is not None else "ls w2 d", outline)
    body += path("ls w2", "M7.300 12.500H44.700M5.800 33.500H46.200")
    return svg((0, 0, 52, 46), body, kind="tank", label=label)


def fall_curve(
    points: Sequence[tuple[float, float, str, str]],
    wedge: tuple[float, float, float] | None = None,
    label: str = "",
) -> Markup:
    """Return readings as a falling line, and the wedge in which the next should fall.

    `points` are minutes, value, the value and the time as text; `wedge` minutes, lowest, highest.
    """
    if not points:
        return Markup("")
    ends = [(minutes, value) for minutes, value, _, _ in points]
    if wedge:
        ends += [(wedge[0], wedge[1]), (wedge[0], wedge[2])]
    first, low = ends[0][0], min(value for _, value in ends)
    wide, tall = max(1.0, max(one for one, _ in ends) - first), max(0.5, max(one for _, one in ends) - low)

    def place(minutes: float, value: float) -> tuple[float, float]:
        return 34 + (minutes - first) / wide * 332, 90 - (value - low) / tall * 62

    at = [place(one[0], one[1]) for one in points]
    body = path("line", "M8 128H392") + path("curve", "M" + "L".join(f"{n(x)} {n(y)}" for x, y in at))
    if wedge:
        x, under, over = place(wedge[0], 0)[0], place(0, wedge[1])[1], place(0, wedge[2])[1]
        body = path("wedge", f"M{n(at[-1][0])} {n(at[-1][1])}L{n(x)} {n(over)}V{n(under)}Z") + body
    for (x, y), (_, _, value, time) in zip(at, points, strict=True):
        body += circle("point", x, y, 5) + text("mid value", x, y - 12, value, 15)
        body += text("mid time", x, 118, time, 13)
    return svg((0, 0, 400, 130), body, kind="fall", label=label)
