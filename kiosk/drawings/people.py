"""People as small flat figures, one hundred units tall from the ground to the crown of the hat."""

from typing import Final

from kiosk.drawings.ink import circle, group, path, shapes

# Each pose: what the arms do, drawn over the body. The figure looks to the right.
_ARMS: Final = {
    "stand": (
        ("k h", "M-8 -72Q-15 -70 -16 -58L-17 -40L-12 -39L-10 -56ZM8 -72Q15 -70 16 -58L17 -40L12 -39L10 -56Z"),
        ("c", "M-17 -40L-12 -39L-12 -35Q-15 -33 -17 -36ZM17 -40L12 -39L12 -35Q15 -33 17 -36Z"),
    ),
    "point": (
        ("k h", "M-8 -72Q-15 -70 -16 -60L-20 -48L-9 -42L-7 -46L-13 -50L-10 -58Z"),
        ("k h", "M5 -73Q13 -73 16 -70L33 -80L36 -75L17 -62Q10 -60 6 -62Z"),
        ("c", "M32.500 -79.500L35.500 -75Q41 -77 42 -80Q38 -83 32.500 -79.500Z"),
    ),
    "wave": (
        ("k h", "M-8 -72Q-15 -70 -16 -58L-17 -42L-12 -41L-10 -56Z"),
        ("k h", "M6 -73Q13 -73 16 -72L22 -90L27 -88L22 -66Q18 -60 8 -60Z"),
        ("c", "M21.500 -89.500L27 -87.500Q30 -93 27 -97Q22 -96 21.500 -89.500Z"),
    ),
    "hold": (
        ("k h", "M4 -73Q12 -73 14 -66L16 -58L28 -62L29 -57L14 -50Q8 -51 6 -58Z"),
        ("c", "M27.500 -62L29 -56.500Q34 -57 34 -60Q33 -63 27.500 -62Z"),
    ),
    "cut": (
        ("k h", "M-8 -72Q-16 -72 -20 -84L-22 -94L-17 -96L-13 -84L-6 -76Z"),
        ("c", "M-22 -94L-17 -96Q-17 -100 -20 -101Q-23 -99 -22 -94Z"),
        ("s", "M-22 -100L-17 -101L-2 -128Q-6 -134 -13 -130Q-19 -116 -22 -100Z"),
        ("k h", "M5 -73Q12 -72 15 -66L30 -58L28 -53L11 -56Q7 -58 5 -64Z"),
        ("c", "M29.500 -58L27.500 -52.500Q33 -51 35 -54Q33 -58 29.500 -58Z"),
    ),
    "rest": (("k h", "M-8 -72Q-15 -70 -15 -58L-13 -42L-7 -42ZM8 -72Q15 -70 15 -58L13 -42L7 -42Z"),),
}
_LEGS: Final = {
    "trousers": (
        ("k h", "M-11 -41L-10 -4H-2.500L0 -31L2.500 -4H10L11 -41Z"),
        ("s", "M-10 -5H-2V0H-12Q-12 -4 -10 -5ZM10 -5H2V0H14Q13 -4 10 -5Z"),
    ),
    "skirt": (
        ("c", "M-7 -20H-2V-3H-7ZM7 -20H2V-3H7Z"),
        ("s", "M-8 -4H-1.500V0H-9ZM8 -4H1.500V0H10Z"),
        ("k h", "M-9 -46L-15 -17Q0 -13 15 -17L9 -46Z"),
    ),
    "none": (),
}
_COATS: Final = {
    "shirt": (("k h", "M-12 -39V-65Q-12 -73 -4 -75H4Q12 -73 12 -65V-39Z"),),
    "pale": (
        ("p h", "M-12 -36V-65Q-12 -73 -4 -75H4Q12 -73 12 -65V-36Z"),
        ("lk w2", "M0 -70V-38M-12 -38V-64Q-12 -73 -4 -75H4Q12 -73 12 -64V-38Z"),
    ),
    "apron": (
        ("k h", "M-12 -39V-65Q-12 -73 -4 -75H4Q12 -73 12 -65V-39Z"),
        ("y", "M-6 -66H7L8 -54L12 -30H-11L-7 -54Z"),
    ),
}
_HEADS: Final = {
    "hat": (
        ("y h", "M-16 -87Q-8 -88 -8 -95Q0 -101 8 -95Q8 -88 16 -87Q17 -84 14 -84H-14Q-17 -84 -16 -87Z"),
        ("k", "M-8.300 -91.500H8.300L8.800 -88.500H-8.800Z"),
    ),
    "hair": (
        (
            "k h",
            "M-8.500 -84Q-9.500 -94 0 -95Q9.500 -94 8.500 -87Q2 -87 -2 -91Q-4 -86 -6 -80Q-9 -80 -8.500 -84Z",
        ),
    ),
    "bun": (
        (
            "k h",
            "M-8.500 -83Q-9.500 -94 0 -95Q9.500 -94 8.500 -88Q2 -88 -3 -91Q-3 -84 -6 -80Q-9 -80 -8.500 -83ZM-11 -99a5 5 0 1 0 .1 0Z",
        ),
    ),
}


def person(
    x: float,
    y: float,
    height: float,
    pose: str = "stand",
    *,
    head: str = "hat",
    coat: str = "shirt",
    legs: str = "trousers",
    left: bool = False,
) -> str:
    """Return a person who stands at (x, y); `legs="none"` for one who stands behind a table.

    Raises KeyError for a pose, head, coat or legs that are not drawn.
    """
    body = shapes(*_LEGS[legs], *_COATS[coat])
    face = path("c", "M-3.500 -80H3.500V-73Q0 -71 -3.500 -73Z") + circle("c h", 0, -84.5, 8)
    return group(
        body, face, shapes(*_HEADS[head]), shapes(*_ARMS[pose]), at=(x, y), scale=height / 100, mirror=left
    )
