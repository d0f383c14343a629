"""Woods and ingredients that records name in English, said in the reader's language.

What is not known here is shown as it was written: it is a person's own word.
"""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

_KNOWN = (
    N_("American oak"),
    N_("European oak"),
    N_("French oak"),
    N_("new oak"),
    N_("used oak"),
    N_("cane spirit"),
    N_("cane spirit from molasses, pot distilled"),
    N_("cane sugar"),
    N_("fresh ginger root"),
    N_("ripe coconut, grated"),
    N_("ripe pineapple"),
    N_("toasted cacao nibs"),
    N_("spring water"),
    N_("water"),
)
_BY_NAME: Mapping[str, str] = {message.casefold(): message for message in _KNOWN}


def known(recorded: str) -> bool:
    """Say whether a recorded text is one of the words that are translated."""
    return recorded.strip().casefold() in _BY_NAME


def thing(recorded: str, words: Words) -> str:
    """Return a wood or an ingredient in the reader's language, and what is not known as it was written."""
    message = _BY_NAME.get(recorded.strip().casefold())
    return recorded if message is None else words.gettext(message)
