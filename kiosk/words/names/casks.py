"""What is said of the casks, counted."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_FILLED_UNKNOWN = N_("How many casks are filled is not known at the moment.")
_NONE_FILLED = N_("No cask is filled; the last one was emptied {day}.")

WORDS: Mapping[str, FigureWords] = {
    "casks_filled": FigureWords(
        noun=NN_("cask filled", "casks filled"),
        noun_then=NN_("cask filled", "casks filled"),
        fresh=NN_("{amount} cask is filled now.", "{amount} casks are filled now."),
        stale=NN_(
            "There was {amount} filled cask at the last count, {age}.",
            "There were {amount} filled casks at the last count, {age}.",
        ),
        unknown=_FILLED_UNKNOWN,
        how=N_("Fillings that have not been emptied, as of the newest record of any cask."),
    ),
    "casks_empty": FigureWords(
        noun=NN_("cask empty", "casks empty"),
        noun_then=NN_("cask empty", "casks empty"),
        fresh=NN_(
            "{amount} cask is empty and waits for spirit now.",
            "{amount} casks are empty and wait for spirit now.",
        ),
        stale=NN_(
            "There was {amount} empty cask at the last count, {age}.",
            "There were {amount} empty casks at the last count, {age}.",
        ),
        unknown=N_("How many casks are empty is not known at the moment."),
        how=N_("Casks of the records that hold no filling and were not retired."),
    ),
    "casks_by_store": FigureWords(
        noun=NN_("cask filled", "casks filled"),
        noun_then=NN_("cask filled", "casks filled"),
        fresh=NN_("{amount} cask is filled now.", "{amount} casks are filled now."),
        stale=NN_(
            "There was {amount} filled cask at the last count, {age}.",
            "There were {amount} filled casks at the last count, {age}.",
        ),
        unknown=_FILLED_UNKNOWN,
        how=N_("Fillings not emptied, by the store they lie in after all moves."),
    ),
    "casks_by_wood": FigureWords(
        noun=NN_("cask filled", "casks filled"),
        noun_then=NN_("cask filled", "casks filled"),
        fresh=NN_("{amount} cask is filled now.", "{amount} casks are filled now."),
        stale=NN_(
            "There was {amount} filled cask at the last count, {age}.",
            "There were {amount} filled casks at the last count, {age}.",
        ),
        unknown=_FILLED_UNKNOWN,
        how=N_("Fillings not emptied, by the wood written down for the cask."),
    ),
    "cask_fills_mean": FigureWords(
        noun=N_("fillings a cask on average"),
        noun_then=N_("fillings a cask on average"),
        fresh=N_("The casks filled now have been filled {amount} times each on average."),
        stale=N_(
            "At the last count, {age}, the filled casks had been filled {amount} times each on average."
        ),
        unknown=N_("How often the casks have been filled is not known at the moment."),
        resting=_NONE_FILLED,
        how=N_(
            "Mean over the casks filled now of how many fillings each has had, this one included; "
            "only fillings on record."
        ),
    ),
    "cask_oldest": FigureWords(
        noun=N_("that the oldest filling has lain in its cask"),
        noun_then=N_("that the oldest filling had lain in its cask"),
        fresh=N_("The oldest filling in the store has lain in its cask for {amount} now."),
        stale=N_("At the last count, {age}, the oldest filling had lain in its cask for {amount}."),
        unknown=N_("How long the oldest cask has been filled is not known at the moment."),
        resting=_NONE_FILLED,
        how=N_(
            "Time since the earliest filling that has not been emptied, never rounded up. It is a "
            "cask's time and no bottle's age."
        ),
    ),
    "casks_filled_this_year": FigureWords(
        noun=NN_("cask filled this year", "casks filled this year"),
        noun_then=NN_("cask filled in the year", "casks filled in the year"),
        fresh=NN_(
            "We have filled {amount} cask this year.",
            "We have filled {amount} casks this year.",
        ),
        stale=NN_(
            "By the last count, {age}, we had filled {amount} cask in the year.",
            "By the last count, {age}, we had filled {amount} casks in the year.",
        ),
        unknown=N_("How many casks the year has filled is not known at the moment."),
        resting=N_("No cask has been filled this year; the last was filled {day}."),
        how=N_("Fillings of this calendar year, emptied again or not."),
    ),
    "casks_due_for_gauging": FigureWords(
        noun=NN_("cask due for gauging", "casks due for gauging"),
        noun_then=NN_("cask due for gauging", "casks due for gauging"),
        fresh=NN_("{amount} cask is due for gauging now.", "{amount} casks are due for gauging now."),
        stale=NN_(
            "At the last count, {age}, {amount} cask was due for gauging.",
            "At the last count, {age}, {amount} casks were due for gauging.",
        ),
        unknown=N_("How many casks are due for gauging is not known at the moment."),
        how=N_(
            "Filled casks last gauged half a year ago or more, or touched since by something nobody measured."
        ),
    ),
}
