"""One of every drawing, by name, for the tests that hold for all."""

from __future__ import annotations

from kiosk.drawings.frieze import frieze
from kiosk.drawings.icons import ICONS, icon
from kiosk.drawings.parts import (
    balance_bar,
    bottle_level,
    cask_head,
    neutral_mark,
    place_dots,
    seat_dots,
    stalk_gauge,
    stamp,
)
from kiosk.drawings.plates import PLATES, draw_plate
from kiosk.drawings.plates.instruments import (
    cane_staff,
    gravity_float,
    juice_tank,
    load_dial,
    parrot,
    two_floats,
)
from kiosk.drawings.plates.vessels import bottle_fill, cask_cut, glass_drinks, route_map, tasting_glass
from kiosk.drawings.stops import DRAWN, draw_stop

STOPS = list(DRAWN)
NAMES = {part.key: part.key.replace("_", " ") for plate in PLATES.values() for part in plate.parts}

INSTRUMENTS = {
    "parrot": parrot(71.3, "71.3", "% vol"),
    "parrot resting": parrot(None),
    "two floats": two_floats((71.3, "71.3"), (None, ""), ("hearts", "bottle")),
    "gravity": gravity_float(1.021, "1.021"),
    "gravity resting": gravity_float(None),
    "dial": load_dial(1830, 2000, "1,830", "kg"),
    "dial resting": load_dial(None, 2000),
    "staff": cane_staff(2.6, 3, "2.6", "m"),
    "staff resting": cane_staff(None, 3),
    "tank": juice_tank(540, 500, "1 t", "540", "L"),
    "tank resting": juice_tank(None, 500, "1 t"),
    "cask": cask_cut(45.3, 50, 5, "45.3", "gal", "9.6%"),
    "cask resting": cask_cut(None, 50, 5),
    "bottle": bottle_fill(0.62, "62%", "38%"),
    "bottle resting": bottle_fill(None),
    "glass": glass_drinks(0.2, 1.6, "1.6"),
    "glass resting": glass_drinks(None, None),
    "route": route_map([str(i + 1) for i in range(10)], [(1, "A"), (4.5, "B")]),
}
PARTS = {
    "neutral mark": neutral_mark(),
    "cask head": cask_head("71.3", "% VOL"),
    **{
        f"stamp {shape}": stamp("17", shape)
        for shape in ("round", "broken", "kite", "drop", "square", "octagon", "free")
    },
    "stalk": stalk_gauge(6, 2.5, next_one=2),
    "full stalk": stalk_gauge([1, 0.5, 0.8], 3),
    **{
        f"bottle {tint}": bottle_level(0.7, tint, expected=0.6, tag="40")
        for tint in ("clear", "aged", "fruit", "cacao")
    },
    "bottle unknown": bottle_level(None, "aged"),
    "bottle now": bottle_level(0.3, "aged", now=True),
    "tasting glass": tasting_glass(22_000, "aged"),
    "tasting glass with fruit": tasting_glass(15_000, "fruit"),
    "balance": balance_bar(2, 6),
    "balance short": balance_bar(20, 6),
    "balance unknown": balance_bar(None, 6),
    "seat dots": seat_dots(["had", "now", "next", "skipped", "behind", "no_alcohol"]),
    "place dots": place_dots(11, 17, 20),
    "too many places": place_dots(13, 13, 12),
}
EVERY: dict[str, str] = {
    **{slug: draw_stop(slug, slug) for slug in [*STOPS, "a-house's-own"]},
    "frieze": frieze(STOPS, "still-house", "The walk", numbers=True),
    **{f"icon {name}": icon(name) for name in ICONS},
    **PARTS,
    **{f"plate {slug}": draw_plate(slug, NAMES, slug) for slug in PLATES},
    **INSTRUMENTS,
}
