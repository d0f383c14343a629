"""What is said of cane, juice and bottles."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_MILL_RESTS = N_("The mill rests; last milling {day}.")
_HARVEST_RESTS = N_("The harvest rests; last milling {day}.")
_NOT_BOTTLED = N_("Nothing has been bottled this year; last bottling {day}.")

WORDS: Mapping[str, FigureWords] = {
    "cane_area": FigureWords(
        noun=N_("of cane land"),
        noun_then=N_("of cane land"),
        fresh=N_("Our cane grows on {amount} of land."),
        stale=N_("By records made {age}, our cane grew on {amount} of land."),
        unknown=N_("How much land the cane has is not known at the moment."),
        how=N_("The areas of all fields in the records, added up."),
    ),
    "cane_milled_today": FigureWords(
        noun=N_("of cane milled today"),
        noun_then=N_("of cane milled"),
        fresh=N_("The mill has taken {amount} of cane today."),
        stale=N_("By the last count, {age}, the mill had taken {amount} of cane."),
        unknown=N_("How much cane has been milled is not known at the moment."),
        resting=_MILL_RESTS,
        how=N_("Weights of the loads milled in this service day, added up."),
    ),
    "juice_brix_today": FigureWords(
        noun=N_("in the juice of today"),
        noun_then=N_("in the juice"),
        fresh=N_("The juice of today stands at {amount} of sweetness."),
        stale=N_("By the last reading, {age}, the juice stood at {amount} of sweetness."),
        unknown=N_("How sweet the juice is cannot be said at the moment."),
        resting=_MILL_RESTS,
        how=N_("Mean of the loads milled in this service day, weighted by their juice."),
    ),
    "cane_season": FigureWords(
        noun=N_("of cane milled this season"),
        noun_then=N_("of cane milled in the season"),
        fresh=N_("This season the mill has taken {amount} of cane."),
        stale=N_("By the last count, {age}, the mill had taken {amount} of cane in its season."),
        unknown=N_("How much cane the season has brought is not known at the moment."),
        resting=_HARVEST_RESTS,
        how=N_("Weights of the loads since the last rest of sixty days without milling."),
    ),
    "loads_season": FigureWords(
        noun=NN_("load of cane this season", "loads of cane this season"),
        noun_then=NN_("load of cane in the season", "loads of cane in the season"),
        fresh=NN_(
            "{amount} load of cane has come in this season.",
            "{amount} loads of cane have come in this season.",
        ),
        stale=NN_(
            "By the last count, {age}, {amount} load of cane had come in.",
            "By the last count, {age}, {amount} loads of cane had come in.",
        ),
        unknown=N_("How many loads the season has brought is not known at the moment."),
        resting=_HARVEST_RESTS,
        how=N_("Loads milled since the last rest of sixty days without milling."),
    ),
    "juice_per_tonne_season": FigureWords(
        noun=N_("of juice from a tonne of cane"),
        noun_then=N_("of juice from a tonne of cane"),
        fresh=N_("This season a tonne of cane has given {amount} of juice."),
        stale=N_("By the last count, {age}, a tonne of cane had given {amount} of juice."),
        unknown=N_("How much juice a tonne of cane gives is not known at the moment."),
        resting=_HARVEST_RESTS,
        how=N_("Juice of this season's loads by weight (volume and degrees Brix), over their cane."),
    ),
    "cane_in_a_bottle": FigureWords(
        noun=N_("of our own cane in a bottle"),
        noun_then=N_("of our own cane in a bottle"),
        fresh=N_("A bottle of our latest bottling took {amount} of our own cane."),
        stale=N_("By records made {age}, a bottle took {amount} of our own cane."),
        unknown=N_("How much cane goes into a bottle is not known at the moment."),
        how=N_(
            "The newest lot of our own spirit alone, followed along the draws to its loads; what was "
            "lost on the way is in it."
        ),
    ),
    "juice_in_a_bottle": FigureWords(
        noun=N_("of juice in a bottle"),
        noun_then=N_("of juice in a bottle"),
        fresh=N_("A bottle of our latest bottling took {amount} of cane juice."),
        stale=N_("By records made {age}, a bottle took {amount} of cane juice."),
        unknown=N_("How much juice goes into a bottle is not known at the moment."),
        how=N_("As cane in a bottle, with the juice of each load by weight."),
    ),
    "casks_behind_a_bottle": FigureWords(
        noun=NN_("cask behind a bottle", "casks behind a bottle"),
        noun_then=NN_("cask behind a bottle", "casks behind a bottle"),
        fresh=NN_(
            "Spirit from {amount} cask is in each bottle of our latest lot from the wood.",
            "Spirit from {amount} casks is in each bottle of our latest lot from the wood.",
        ),
        stale=NN_(
            "By records made {age}, spirit from {amount} cask was in each bottle.",
            "By records made {age}, spirit from {amount} casks was in each bottle.",
        ),
        unknown=N_("From how many casks a bottle comes is not known at the moment."),
        how=N_("Fillings of casks behind the newest lot of our own spirit that lay in wood."),
    ),
    "bottled_today": FigureWords(
        noun=NN_("bottle filled today", "bottles filled today"),
        noun_then=NN_("bottle filled", "bottles filled"),
        fresh=NN_(
            "{amount} bottle has been filled today.",
            "{amount} bottles have been filled today.",
        ),
        stale=NN_(
            "By the last count, {age}, {amount} bottle had been filled that day.",
            "By the last count, {age}, {amount} bottles had been filled that day.",
        ),
        unknown=N_("How many bottles have been filled is not known at the moment."),
        resting=N_("Nothing is being bottled; last bottling {day}."),
        how=N_("Bottles of the lots with this day of bottling."),
    ),
    "bottled_this_year": FigureWords(
        noun=NN_("bottle filled this year", "bottles filled this year"),
        noun_then=NN_("bottle filled in the year", "bottles filled in the year"),
        fresh=NN_(
            "We have filled {amount} bottle this year.",
            "We have filled {amount} bottles this year.",
        ),
        stale=NN_(
            "Up to the last bottling, {age}, we had filled {amount} bottle in the year.",
            "Up to the last bottling, {age}, we had filled {amount} bottles in the year.",
        ),
        unknown=N_("How many bottles the year has given is not known at the moment."),
        resting=_NOT_BOTTLED,
        how=N_("Bottles of the lots of this calendar year, of all sizes."),
    ),
    "water_of_reduction_this_year": FigureWords(
        noun=N_("of water to bring spirit to its strength this year"),
        noun_then=N_("of water to bring spirit to its strength in the year"),
        fresh=N_("This year it took {amount} of water to bring our spirit to the strength of the label."),
        stale=N_(
            "Up to the last bottling, {age}, it took {amount} of water to bring the spirit of the "
            "year to strength."
        ),
        unknown=N_("How much water went into the bottles is not known at the moment."),
        resting=_NOT_BOTTLED,
        how=N_(
            "Weight of what was bottled this year less that of the spirit drawn for it; lots with "
            "sugar or fruit are left out."
        ),
    ),
}
