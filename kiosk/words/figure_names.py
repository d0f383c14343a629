"""What each figure is called and the sentence for each state it can be in.

A new figure gets its words in `names`, by subject; `tests/words/test_figure_names.py`
fails for one without. `{amount}` is number and unit, `{age}` "3 hours ago", `{day}`
the last day it ran. Only a fresh figure's words may say "now" or "today".
"""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.names import angels, casks, field, house, still
from kiosk.words.names.wording import FigureWords, Wording

__all__ = ["FIGURE_WORDS", "FigureWords", "Wording"]

FIGURE_WORDS: Mapping[str, FigureWords] = {
    **field.WORDS,
    **still.WORDS,
    **casks.WORDS,
    **angels.WORDS,
    **house.WORDS,
}
