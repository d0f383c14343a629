"""Several things in one sentence, as the reader joins them."""

from __future__ import annotations

from collections.abc import Sequence

from babel.lists import format_list

from kiosk.words.catalogs import Words


def joined(things: Sequence[str], words: Words) -> str:
    """Return "a, b and c" in the reader's language."""
    return str(format_list(list(things), locale=words.locale))
