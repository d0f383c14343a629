"""Names of people and devices: on one line, in order, and no two that look alike.

A pour, a check and an entry in the history are read under a name: two people whose names
differ by a capital, an accent or a letter of another script would be taken for one.
"""

from collections.abc import Iterable
from unicodedata import category, normalize

from kiosk.staff.errors import Refusal, StaffError

# Letters of the Cyrillic and Greek scripts, and some Latin ones, that small or as a capital are
# drawn like another Latin letter: from the confusables of Unicode Technical Standard 39.
_DRAWN_ALIKE = str.maketrans(
    "авгезікмнопрѕстухѵјԛԝһӏԁԍαβγεζηικμνορτυχωϲσıłøđħɑɡ",
    "abre3ikmhonpsctyxvjqwhldgabyezhikmnoptyxwcoilodhag",
)


def one_line(name: str, longest: int) -> str:
    """Return a name without extra blanks, cut at `longest` characters. Raises StaffError (NAME_MISSING)."""
    plain = " ".join(name.split())[:longest]
    if not plain:
        raise StaffError(Refusal.NAME_MISSING)
    return plain


def name_order(name: str) -> str:
    """Return the sort key of a name: accents do not count, but ñ follows n."""
    kept = name.casefold().replace("ñ", "n\uffff")
    return "".join(sign for sign in normalize("NFD", kept) if not 0x300 <= ord(sign) <= 0x36F)


def look(name: str) -> str:
    """Return what names that look alike have in common: letters and digits without case, accent or script."""
    plain = normalize("NFKD", normalize("NFKC", name).casefold())
    return "".join(sign for sign in plain if category(sign)[0] in "LN").translate(_DRAWN_ALIKE)


def require_distinct(name: str, others: Iterable[str]) -> None:
    """Raise StaffError for a name that is taken (NAME_TAKEN) or looks like one of the others (NAME_ALIKE)."""
    same = look(name)
    for other in others:
        if other == name:
            raise StaffError(Refusal.NAME_TAKEN, name=name)
        if look(other) == same:
            raise StaffError(Refusal.NAME_ALIKE, name=name, other=other)
