"""What each figure is called and the sentence for each state it can be in.

A new figure gets its words here; `tests/words/test_figure_names.py` fails for
one without. `{amount}` is number and unit, `{age}` "3 hours ago", `{day}` the
last day it ran. Only a fresh figure's words may say "now" or "today".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.words.marker import N_, NN_

Wording = str | tuple[str, str]
"""One message, or its forms for one and for many where the figure counts things."""


@dataclass(frozen=True, slots=True)
class FigureWords:
    """The words of one figure."""

    noun: Wording  # stands after number and unit while the figure is fresh
    noun_then: Wording  # the same without "now" or "today"
    fresh: Wording
    stale: Wording
    unknown: str
    resting: str = N_("Nothing to tell of today; the last time was {day}.")


_STILL_RESTS = N_("The still rests; last run {day}.")
_TANKS_REST = N_("The fermenting tanks rest; last wash {day}.")
_MATURING = N_("maturing in casks")
_MATURING_UNKNOWN = N_("How much spirit is maturing is not known at the moment.")

_RUN = FigureWords(
    noun=N_("from the still now"),
    noun_then=N_("from the still"),
    fresh=N_("The spirit is running at {amount} now."),
    stale=N_("The spirit was running at {amount} {age}."),
    unknown=N_("How strong the spirit runs is not known at the moment."),
    resting=_STILL_RESTS,
)

FIGURE_WORDS: Mapping[str, FigureWords] = {
    "casks_filled": FigureWords(
        noun=NN_("cask filled", "casks filled"),
        noun_then=NN_("cask filled", "casks filled"),
        fresh=NN_("{amount} cask is filled now.", "{amount} casks are filled now."),
        stale=NN_(
            "There was {amount} filled cask at the last count, {age}.",
            "There were {amount} filled casks at the last count, {age}.",
        ),
        unknown=N_("How many casks are filled is not known at the moment."),
    ),
    "spirit_maturing": FigureWords(
        noun=_MATURING,
        noun_then=_MATURING,
        fresh=N_("Our casks hold {amount} now."),
        stale=N_("Our casks held {amount} at the last count, {age}."),
        unknown=_MATURING_UNKNOWN,
    ),
    "spirit_maturing_volume": FigureWords(
        noun=N_("of spirit maturing in casks"),
        noun_then=N_("of spirit maturing in casks"),
        fresh=N_("Our casks hold {amount} of spirit now."),
        stale=N_("Our casks held {amount} of spirit at the last count, {age}."),
        unknown=_MATURING_UNKNOWN,
    ),
    "angels_share_to_date": FigureWords(
        noun=N_("taken by the angels so far, of the casks filled now"),
        noun_then=N_("taken by the angels, of the casks then filled"),
        fresh=N_("So far the angels have taken {amount} of the pure alcohol in the casks filled now."),
        stale=N_("By the last estimate, {age}, the angels had taken {amount} of the pure alcohol."),
        unknown=N_("How much the angels have taken is not known at the moment."),
    ),
    "run_abv_now": _RUN,
    "run_proof_now": _RUN,
    "hearts_volume_today": FigureWords(
        noun=N_("of hearts today"),
        noun_then=N_("of hearts"),
        fresh=N_("We have collected {amount} of hearts today."),
        stale=N_("By the last reading, {age}, we had collected {amount} of hearts."),
        unknown=N_("How much has run as hearts is not known at the moment."),
        resting=_STILL_RESTS,
    ),
    "hearts_abv_today": FigureWords(
        noun=N_("in the hearts of today"),
        noun_then=N_("in the hearts"),
        fresh=N_("The hearts of today stand at {amount} so far."),
        stale=N_("The hearts stood at {amount} {age}."),
        unknown=N_("How strong the hearts are is not known at the moment."),
        resting=_STILL_RESTS,
    ),
    "wash_day": FigureWords(
        noun=N_("of the fermentation now"),
        noun_then=N_("of the fermentation"),
        fresh=N_("The wash is on {amount} of its fermentation now."),
        stale=N_("The wash was on {amount} of its fermentation {age}."),
        unknown=N_("How far the wash has come is not known at the moment."),
        resting=_TANKS_REST,
    ),
    "wash_abv_now": FigureWords(
        noun=N_("in the wash now"),
        noun_then=N_("in the wash"),
        fresh=N_("The wash has reached {amount} now."),
        stale=N_("The wash had reached {amount} {age}."),
        unknown=N_("How strong the wash is cannot be said at the moment."),
        resting=_TANKS_REST,
    ),
    "cane_milled_today": FigureWords(
        noun=N_("of cane milled today"),
        noun_then=N_("of cane milled"),
        fresh=N_("The mill has taken {amount} of cane today."),
        stale=N_("By the last count, {age}, the mill had taken {amount} of cane."),
        unknown=N_("How much cane has been milled is not known at the moment."),
        resting=N_("The mill rests; last milling {day}."),
    ),
    "cane_in_a_bottle": FigureWords(
        noun=N_("of our own cane in a bottle"),
        noun_then=N_("of our own cane in a bottle"),
        fresh=N_("A bottle of our latest bottling took {amount} of our own cane."),
        stale=N_("By records made {age}, a bottle took {amount} of our own cane."),
        unknown=N_("How much cane goes into a bottle is not known at the moment."),
    ),
    "guests_today": FigureWords(
        noun=NN_("guest today", "guests today"),
        noun_then=NN_("guest", "guests"),
        fresh=NN_("{amount} guest is with us today.", "{amount} guests are with us today."),
        stale=NN_(
            "There was {amount} guest at the last count, {age}.",
            "There were {amount} guests at the last count, {age}.",
        ),
        unknown=N_("How many guests there are is not known at the moment."),
        resting=N_("No guests today; the last were here {day}."),
    ),
    "samples_today": FigureWords(
        noun=NN_("sample served today", "samples served today"),
        noun_then=NN_("sample served", "samples served"),
        fresh=NN_("{amount} sample has been served today.", "{amount} samples have been served today."),
        stale=NN_(
            "By the last count, {age}, {amount} sample had been served.",
            "By the last count, {age}, {amount} samples had been served.",
        ),
        unknown=N_("How many samples have been served is not known at the moment."),
        resting=N_("Nothing has been poured today; the last tasting was {day}."),
    ),
}
