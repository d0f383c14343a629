"""The words of the figures of the casks, of the spirit in them and of the angels' share."""

from collections.abc import Mapping
from functools import partial

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_of_filled = partial(
    FigureWords,
    noun=NN_("cask filled", "casks filled"),
    fresh=NN_("{amount} cask is filled now.", "{amount} casks are filled now."),
    stale=NN_(
        "There was {amount} filled cask at the last count, {age}.",
        "There were {amount} filled casks at the last count, {age}.",
    ),
    unknown=N_("How many casks are filled is not known at the moment."),
)
_of_casks = partial(FigureWords, resting=N_("No cask is filled; the last one was emptied {day}."))
_of_spirit = partial(FigureWords, unknown=N_("How much spirit is maturing is not known at the moment."))
_of_angels = partial(FigureWords, unknown=N_("How much the angels have taken is not known at the moment."))
_of_a_year = partial(
    FigureWords, unknown=N_("How much the angels take in a year is not known at the moment.")
)

WORDS: Mapping[str, FigureWords] = {
    "casks_filled": _of_filled(
        how=N_("Fillings that have not been emptied, as of the newest record of any cask.")
    ),
    "casks_empty": FigureWords(
        noun=NN_("cask empty", "casks empty"),
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
    "casks_by_store": _of_filled(how=N_("Fillings not emptied, by the store they lie in after all moves.")),
    "casks_by_wood": _of_filled(how=N_("Fillings not emptied, by the wood written down for the cask.")),
    "cask_fills_mean": _of_casks(
        noun=N_("fillings a cask on average"),
        fresh=N_("The casks filled now have been filled {amount} times each on average."),
        stale=N_(
            "At the last count, {age}, the filled casks had been filled {amount} times each on average."
        ),
        unknown=N_("How often the casks have been filled is not known at the moment."),
        how=N_(
            "Mean over the casks filled now of how many fillings each has had, this one included; "
            "only fillings on record."
        ),
    ),
    "cask_oldest": _of_casks(
        noun=N_("that the oldest filling has lain in its cask"),
        noun_later=N_("that the oldest filling had lain in its cask"),
        fresh=N_("The oldest filling in the store has lain in its cask for {amount} now."),
        stale=N_("At the last count, {age}, the oldest filling had lain in its cask for {amount}."),
        unknown=N_("How long the oldest cask has been filled is not known at the moment."),
        how=N_(
            "Time since the earliest filling that has not been emptied, never rounded up. It is a "
            "cask's time and no bottle's age."
        ),
    ),
    "casks_filled_this_year": FigureWords(
        noun=NN_("cask filled this year", "casks filled this year"),
        noun_later=NN_("cask filled in the year", "casks filled in the year"),
        fresh=NN_("We have filled {amount} cask this year.", "We have filled {amount} casks this year."),
        stale=NN_(
            "By the last count, {age}, we had filled {amount} cask in the year.",
            "By the last count, {age}, we had filled {amount} casks in the year.",
        ),
        unknown=N_("How many casks the year has filled is not known at the moment."),
        resting=N_("No cask has been filled this year; the last was filled {day}."),
        how=N_("Fillings of this calendar year, emptied again or not; a topping is none."),
    ),
    "casks_due_for_gauging": FigureWords(
        noun=NN_("cask due for gauging", "casks due for gauging"),
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
    "spirit_maturing": _of_spirit(
        noun=N_("maturing in casks"),
        fresh=N_("Our casks hold {amount} now."),
        stale=N_("Our casks held {amount} at the last count, {age}."),
        how=N_("Each cask's last gauge less draws and its store's loss since; pure alcohol at 20 °C."),
    ),
    "spirit_maturing_volume": _of_spirit(
        noun=N_("of spirit maturing in casks"),
        fresh=N_("Our casks hold {amount} of spirit now."),
        stale=N_("Our casks held {amount} of spirit at the last count, {age}."),
        how=N_("Each cask's last gauge less draws and its store's loss since; volume at 20 °C."),
    ),
    "cask_mean_now": FigureWords(
        noun=N_("in a cask on average now"),
        noun_later=N_("in a cask on average"),
        fresh=N_("An average cask of ours holds {amount} now."),
        stale=N_("An average cask of ours held {amount} at the last count, {age}."),
        unknown=N_("How much an average cask holds is not known at the moment."),
        how=N_("The volume in all filled casks that were ever gauged, over their number; at 20 °C."),
    ),
    "cask_mean_filling": FigureWords(
        noun=N_("in a cask on average when it was filled"),
        fresh=N_("When it was filled, an average cask of ours took {amount}."),
        stale=N_("When it was filled, an average cask of ours took {amount}, by the count {age}."),
        unknown=N_("How much went into an average cask is not known at the moment."),
        how=N_("What was put into all filled casks that were ever gauged, over their number; at 20 °C."),
    ),
    "spirit_maturing_abv": FigureWords(
        noun=N_("in the casks on average"),
        fresh=N_("In our casks the spirit stands at {amount} on average now."),
        stale=N_("By the last estimate, {age}, the spirit in our casks stood at {amount} on average."),
        unknown=N_("How strong the maturing spirit is cannot be said at the moment."),
        how=N_("Pure alcohol in all filled casks over their volume, both estimated."),
    ),
    "angels_share_to_date": _of_angels(
        noun=N_("taken by the angels so far, of the casks filled now"),
        noun_later=N_("taken by the angels, of the casks then filled"),
        fresh=N_("So far the angels have taken {amount} of the pure alcohol in the casks filled now."),
        stale=N_("By the last estimate, {age}, the angels had taken {amount} of the pure alcohol."),
        how=N_(
            "Of the casks filled now: pure alcohol put in, less what is there, was taken on purpose, "
            "leaked or was drunk by the wood, over what was put in. Filling or emptying a cask moves it both "
            "ways, and so does a corrected gauge."
        ),
    ),
    "angels_share_since_first": _of_angels(
        noun=N_("taken by the angels so far, of all casks since the first"),
        noun_later=N_("taken by the angels, of all casks since the first"),
        fresh=N_("Of all that was ever put into our casks, the angels have taken {amount} so far."),
        stale=N_(
            "By the last estimate, {age}, of all that was ever put into our casks the angels had "
            "taken {amount}."
        ),
        how=N_(
            "As the share of the casks filled now, of every filling since the first cask, emptied "
            "ones included."
        ),
    ),
    "angels_share_per_year": _of_a_year(
        noun=N_("a year for the angels"),
        fresh=N_("The angels take {amount} of what lies in our casks each year now."),
        stale=N_("By the last estimate, {age}, the angels took {amount} of what lay in our casks each year."),
        how=N_(
            "Loss rates of the stores, fitted on all gauges with casks as witnesses, weighted by what"
            " lies in each; pure alcohol."
        ),
    ),
    "angels_share_by_store": _of_a_year(
        noun=N_("a year for the angels"),
        fresh=N_("Here the angels take {amount} each year now."),
        stale=N_("By the last estimate, {age}, the angels took {amount} each year here."),
        how=N_("This store's own loss rate, fitted on the gauges of the casks that lay in it; pure alcohol."),
    ),
    "angels_bottles_to_date": _of_angels(
        noun=NN_(
            "bottle's worth for the angels (750 mL at 40% vol)",
            "bottles' worth for the angels (750 mL at 40% vol)",
        ),
        fresh=NN_(
            "What the angels have taken so far from all our casks would fill {amount} bottle "
            "of 750 mL at 40% vol.",
            "What the angels have taken so far from all our casks would fill {amount} bottles "
            "of 750 mL at 40% vol.",
        ),
        stale=NN_(
            "By the last estimate, {age}, the angels' part would have filled {amount} bottle of 750 "
            "mL at 40% vol.",
            "By the last estimate, {age}, the angels' part would have filled {amount} bottles of 750 "
            "mL at 40% vol.",
        ),
        how=N_(
            "The angels' share of every filling since the first cask in liters of pure alcohol, over the 0.3 "
            "liters in such a bottle. It falls only where a gauge is corrected or a new one shows less loss "
            "than was estimated."
        ),
    ),
    "angels_bottle_every": FigureWords(
        noun=N_("for each bottle that the angels drink (750 mL at 40% vol)"),
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
