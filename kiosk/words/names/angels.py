"""What is said of the spirit in the casks and of the angels."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_MATURING_UNKNOWN = N_("How much spirit is maturing is not known at the moment.")
_ANGELS_UNKNOWN = N_("How much the angels have taken is not known at the moment.")
_YEAR_UNKNOWN = N_("How much the angels take in a year is not known at the moment.")

WORDS: Mapping[str, FigureWords] = {
    "spirit_maturing": FigureWords(
        noun=N_("maturing in casks"),
        noun_then=N_("maturing in casks"),
        fresh=N_("Our casks hold {amount} now."),
        stale=N_("Our casks held {amount} at the last count, {age}."),
        unknown=_MATURING_UNKNOWN,
        how=N_("Each cask's last gauge less draws and its store's loss since; pure alcohol at 20 °C."),
    ),
    "spirit_maturing_volume": FigureWords(
        noun=N_("of spirit maturing in casks"),
        noun_then=N_("of spirit maturing in casks"),
        fresh=N_("Our casks hold {amount} of spirit now."),
        stale=N_("Our casks held {amount} of spirit at the last count, {age}."),
        unknown=_MATURING_UNKNOWN,
        how=N_("Each cask's last gauge less draws and its store's loss since; volume at 20 °C."),
    ),
    "spirit_maturing_abv": FigureWords(
        noun=N_("in the casks on average"),
        noun_then=N_("in the casks on average"),
        fresh=N_("In our casks the spirit stands at {amount} on average now."),
        stale=N_("By the last estimate, {age}, the spirit in our casks stood at {amount} on average."),
        unknown=N_("How strong the maturing spirit is cannot be said at the moment."),
        how=N_("Pure alcohol in all filled casks over their volume, both estimated."),
    ),
    "angels_share_to_date": FigureWords(
        noun=N_("taken by the angels so far, of the casks filled now"),
        noun_then=N_("taken by the angels, of the casks then filled"),
        fresh=N_("So far the angels have taken {amount} of the pure alcohol in the casks filled now."),
        stale=N_("By the last estimate, {age}, the angels had taken {amount} of the pure alcohol."),
        unknown=_ANGELS_UNKNOWN,
        how=N_(
            "Of the casks filled now: pure alcohol put in, less what is there, was taken on purpose, "
            "leaked or was drunk by the wood, over what was put in."
        ),
    ),
    "angels_share_since_first": FigureWords(
        noun=N_("taken by the angels so far, of all casks since the first"),
        noun_then=N_("taken by the angels, of all casks since the first"),
        fresh=N_("Of all that was ever put into our casks, the angels have taken {amount} so far."),
        stale=N_(
            "By the last estimate, {age}, of all that was ever put into our casks the angels had "
            "taken {amount}."
        ),
        unknown=_ANGELS_UNKNOWN,
        how=N_(
            "As the share of the casks filled now, of every filling since the first cask, emptied "
            "ones included."
        ),
    ),
    "angels_share_per_year": FigureWords(
        noun=N_("a year for the angels"),
        noun_then=N_("a year for the angels"),
        fresh=N_("The angels take {amount} of what lies in our casks each year now."),
        stale=N_("By the last estimate, {age}, the angels took {amount} of what lay in our casks each year."),
        unknown=_YEAR_UNKNOWN,
        how=N_(
            "Loss rates of the stores, fitted on all gauges with casks as witnesses, weighted by what"
            " lies in each; pure alcohol."
        ),
    ),
    "angels_share_by_store": FigureWords(
        noun=N_("a year for the angels"),
        noun_then=N_("a year for the angels"),
        fresh=N_("Here the angels take {amount} each year now."),
        stale=N_("By the last estimate, {age}, the angels took {amount} each year here."),
        unknown=_YEAR_UNKNOWN,
        how=N_("This store's own loss rate, fitted on the gauges of the casks that lay in it; pure alcohol."),
    ),
    "angels_bottles_to_date": FigureWords(
        noun=NN_(
            "bottle's worth for the angels (750 mL at 40% vol)",
            "bottles' worth for the angels (750 mL at 40% vol)",
        ),
        noun_then=NN_(
            "bottle's worth for the angels (750 mL at 40% vol)",
            "bottles' worth for the angels (750 mL at 40% vol)",
        ),
        fresh=NN_(
            "What the angels have taken so far from the casks filled now would fill {amount} bottle "
            "of 750 mL at 40% vol.",
            "What the angels have taken so far from the casks filled now would fill {amount} bottles "
            "of 750 mL at 40% vol.",
        ),
        stale=NN_(
            "By the last estimate, {age}, the angels' part would have filled {amount} bottle of 750 "
            "mL at 40% vol.",
            "By the last estimate, {age}, the angels' part would have filled {amount} bottles of 750 "
            "mL at 40% vol.",
        ),
        unknown=_ANGELS_UNKNOWN,
        how=N_(
            "The angels' share of the casks filled now in litres of pure alcohol, over the 0.3 litres"
            " in such a bottle."
        ),
    ),
    "angels_bottle_every": FigureWords(
        noun=N_("for each bottle that the angels drink (750 mL at 40% vol)"),
        noun_then=N_("for each bottle that the angels drink (750 mL at 40% vol)"),
        fresh=N_("The angels drink a bottle of 750 mL at 40% vol every {amount} now."),
        stale=N_(
            "By the last estimate, {age}, the angels drank a bottle of 750 mL at 40% vol every {amount}."
        ),
        unknown=N_("How fast the angels drink is not known at the moment."),
        how=N_(
            "The pure alcohol of one such bottle over what the filled casks lose in an hour; the "
            "interval is that of the loss rate."
        ),
    ),
}
