"""The words of the figures from the cane to the bottle: cane, juice, wash, still and bottling."""

from collections.abc import Mapping
from functools import partial

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_of_mill = partial(FigureWords, resting=N_("The mill rests; last milling {day}."))
_of_harvest = partial(FigureWords, resting=N_("The harvest rests; last milling {day}."))
_of_bottling = partial(FigureWords, resting=N_("Nothing has been bottled this year; last bottling {day}."))
_of_tanks = partial(FigureWords, resting=N_("The fermenting tanks rest; last wash {day}."))
_of_tank = partial(FigureWords, resting=N_("Nothing ferments here; the last wash was done {day}."))
_of_still = partial(FigureWords, resting=N_("The still rests; last run {day}."))
_STILL_UNKNOWN = N_("What the still gives is not known at the moment.")
_RUN = _of_still(
    noun=N_("from the still now"),
    noun_later=N_("from the still"),
    fresh=N_("The spirit is running at {amount} now."),
    stale=N_("The spirit was running at {amount} {age}."),
    unknown=N_("How strong the spirit runs is not known at the moment."),
    how=N_("The latest reading at the parrot, corrected for its temperature."),
)

WORDS: Mapping[str, FigureWords] = {
    "cane_area": FigureWords(
        noun=N_("of cane land"),
        fresh=N_("Our cane grows on {amount} of land."),
        stale=N_("By records made {age}, our cane grew on {amount} of land."),
        unknown=N_("How much land the cane has is not known at the moment."),
        how=N_("The areas of all fields in the records, added up."),
    ),
    "cane_standing": FigureWords(
        noun=N_("since the cane that has stood longest was last cut"),
        fresh=N_("The cane that has stood longest is on {amount} since it was last cut."),
        stale=N_("The cane that had stood longest was on {amount} since it was last cut, {age}."),
        unknown=N_("How long the cane has stood is not known at the moment."),
        how=N_("Days since the last cut of the field that was cut longest ago, its day being the first."),
    ),
    "cane_milled_today": _of_mill(
        noun=N_("of cane milled today"),
        noun_later=N_("of cane milled"),
        fresh=N_("The mill has taken {amount} of cane today."),
        stale=N_("By the last count, {age}, the mill had taken {amount} of cane."),
        unknown=N_("How much cane has been milled is not known at the moment."),
        how=N_("Weights of the loads milled in this service day, added up."),
    ),
    "juice_brix_today": _of_mill(
        noun=N_("in the juice of today"),
        noun_later=N_("in the juice"),
        fresh=N_("The juice of today stands at {amount} of sweetness."),
        stale=N_("By the last reading, {age}, the juice stood at {amount} of sweetness."),
        unknown=N_("How sweet the juice is cannot be said at the moment."),
        how=N_("Mean of the loads milled in this service day, weighted by their juice."),
    ),
    "cane_last_load": _of_harvest(
        noun=N_("of cane in the last load"),
        fresh=N_("The last load over the scale was {amount} of cane."),
        stale=N_("The last load over the scale, {age}, was {amount} of cane."),
        unknown=N_("What the last load weighed is not known at the moment."),
        how=N_("Weight of the newest load of this season."),
    ),
    "cane_season": _of_harvest(
        noun=N_("of cane milled this season"),
        noun_later=N_("of cane milled in the season"),
        fresh=N_("This season the mill has taken {amount} of cane."),
        stale=N_("By the last count, {age}, the mill had taken {amount} of cane in its season."),
        unknown=N_("How much cane the season has brought is not known at the moment."),
        how=N_("Weights of the loads since the last rest of sixty days without milling."),
    ),
    "loads_season": _of_harvest(
        noun=NN_("load of cane this season", "loads of cane this season"),
        noun_later=NN_("load of cane in the season", "loads of cane in the season"),
        fresh=NN_(
            "{amount} load of cane has come in this season.",
            "{amount} loads of cane have come in this season.",
        ),
        stale=NN_(
            "By the last count, {age}, {amount} load of cane had come in.",
            "By the last count, {age}, {amount} loads of cane had come in.",
        ),
        unknown=N_("How many loads the season has brought is not known at the moment."),
        how=N_("Loads milled since the last rest of sixty days without milling."),
    ),
    "juice_per_tonne_season": _of_harvest(
        noun=N_("of juice from a tonne of cane"),
        fresh=N_("This season a tonne of cane has given {amount} of juice."),
        stale=N_("By the last count, {age}, a tonne of cane had given {amount} of juice."),
        unknown=N_("How much juice a tonne of cane gives is not known at the moment."),
        how=N_("Juice of this season's loads by weight (volume and degrees Brix), over their cane."),
    ),
    "cane_in_a_bottle": FigureWords(
        noun=N_("of our own cane in a bottle"),
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
        fresh=N_("A bottle of our latest bottling took {amount} of cane juice."),
        stale=N_("By records made {age}, a bottle took {amount} of cane juice."),
        unknown=N_("How much juice goes into a bottle is not known at the moment."),
        how=N_("As cane in a bottle, with the juice of each load by weight."),
    ),
    "casks_behind_a_bottle": FigureWords(
        noun=NN_("cask behind a bottle", "casks behind a bottle"),
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
        noun_later=NN_("bottle filled", "bottles filled"),
        fresh=NN_("{amount} bottle has been filled today.", "{amount} bottles have been filled today."),
        stale=NN_(
            "By the last count, {age}, {amount} bottle had been filled that day.",
            "By the last count, {age}, {amount} bottles had been filled that day.",
        ),
        unknown=N_("How many bottles have been filled is not known at the moment."),
        resting=N_("Nothing is being bottled; last bottling {day}."),
        how=N_("Bottles of the lots with this day of bottling."),
    ),
    "bottled_this_year": _of_bottling(
        noun=NN_("bottle filled this year", "bottles filled this year"),
        noun_later=NN_("bottle filled in the year", "bottles filled in the year"),
        fresh=NN_("We have filled {amount} bottle this year.", "We have filled {amount} bottles this year."),
        stale=NN_(
            "Up to the last bottling, {age}, we had filled {amount} bottle in the year.",
            "Up to the last bottling, {age}, we had filled {amount} bottles in the year.",
        ),
        unknown=N_("How many bottles the year has given is not known at the moment."),
        how=N_("Bottles of the lots of this calendar year, of all sizes."),
    ),
    "water_share_this_year": _of_bottling(
        noun=N_("of what goes into a bottle is water to bring it to strength"),
        fresh=N_("Of what we put together for a bottle this year, {amount} was water."),
        stale=N_("Up to the last bottling, {age}, {amount} of what we put together was water."),
        unknown=N_("How much water went into the bottles is not known at the moment."),
        how=N_("Water over water and spirit, by volume as poured together, of lots without sugar or fruit."),
    ),
    "water_of_reduction_this_year": _of_bottling(
        noun=N_("of water to bring spirit to its strength this year"),
        noun_later=N_("of water to bring spirit to its strength in the year"),
        fresh=N_("This year it took {amount} of water to bring our spirit to the strength of the label."),
        stale=N_(
            "Up to the last bottling, {age}, it took {amount} of water to bring the spirit of the "
            "year to strength."
        ),
        unknown=N_("How much water went into the bottles is not known at the moment."),
        how=N_(
            "Weight of what was bottled this year less that of the spirit drawn for it; lots with "
            "sugar or fruit are left out."
        ),
    ),
    "tanks_at_work": _of_tanks(
        noun=NN_("tank at work now", "tanks at work now"),
        noun_later=NN_("tank at work", "tanks at work"),
        fresh=NN_("{amount} tank is fermenting now.", "{amount} tanks are fermenting now."),
        stale=NN_(
            "At the last look, {age}, {amount} tank was fermenting.",
            "At the last look, {age}, {amount} tanks were fermenting.",
        ),
        unknown=N_("How many tanks are fermenting is not known at the moment."),
        how=N_("Tanks whose wash has been set and not ended, as of the newest record of these washes."),
    ),
    "wash_fermenting": _of_tanks(
        noun=N_("of wash at work now"),
        noun_later=N_("of wash at work"),
        fresh=N_("In the tanks {amount} of wash are at work now."),
        stale=N_("At the last look, {age}, {amount} of wash were at work."),
        unknown=N_("How much wash is fermenting is not known at the moment."),
        how=N_("Volumes at setting of the washes that stand in the tanks."),
    ),
    "wash_day": _of_tank(
        noun=N_("of the fermentation now"),
        noun_later=N_("of the fermentation"),
        fresh=N_("The wash is on {amount} of its fermentation now."),
        stale=N_("The wash was on {amount} of its fermentation {age}."),
        unknown=N_("How far the wash has come is not known at the moment."),
        how=N_("Service days since the wash was set, the day of setting being the first."),
    ),
    "wash_gravity_now": _of_tank(
        noun=N_("is the gravity of the wash now"),
        noun_later=N_("is the gravity of the wash"),
        fresh=N_("The gravity of the wash is {amount} now; water stands at one."),
        stale=N_("The gravity of the wash was {amount} {age}; water stands at one."),
        unknown=N_("What the gravity of the wash is cannot be said at the moment."),
        how=N_("The latest gravity of the wash, corrected to 20 °C."),
    ),
    "wash_abv_now": _of_tank(
        noun=N_("in the wash now"),
        noun_later=N_("in the wash"),
        fresh=N_("The wash has reached {amount} now."),
        stale=N_("The wash had reached {amount} {age}."),
        unknown=N_("How strong the wash is cannot be said at the moment."),
        how=N_("By Balling's formula from the first gravity and the latest, both at 20 °C."),
    ),
    "wash_ends_in": _of_tank(
        noun=N_("until the wash should be done"),
        fresh=N_("By its readings, the wash should be done in {amount}."),
        stale=N_("By readings made {age}, the wash should be done in {amount}."),
        unknown=N_("When the wash will be done cannot be said yet."),
        how=N_(
            "Curves through the latest five gravities, carried on to the gravity at which our washes end."
        ),
    ),
    "run_abv_now": _RUN,
    "run_proof_now": _RUN,
    "run_cut_now": _of_still(
        noun=N_("from the still now"),
        noun_later=N_("from the still"),
        fresh=N_("What runs from the still now: {amount}."),
        stale=N_("What ran from the still at the last look, {age}: {amount}."),
        unknown=_STILL_UNKNOWN,
        how=N_(
            "The cut written down with the latest reading; low wines are the first pot's, the others "
            "the second's."
        ),
    ),
    "run_collected_now": _of_still(
        noun=N_("run off so far"),
        noun_later=N_("run off"),
        fresh=N_("So far {amount} have run off."),
        stale=N_("At the last look, {age}, {amount} had run off."),
        unknown=_STILL_UNKNOWN,
        how=N_("All cuts of the run under way, as collected at its latest reading."),
    ),
    "hearts_volume_today": _of_still(
        noun=N_("of hearts today"),
        noun_later=N_("of hearts"),
        fresh=N_("We have collected {amount} of hearts today."),
        stale=N_("By the last reading, {age}, we had collected {amount} of hearts."),
        unknown=N_("How much has run as hearts is not known at the moment."),
        how=N_(
            "Readings of this day's spirit runs, added up by mass; the receiver's own gauge comes at the end."
        ),
    ),
    "hearts_abv_today": _of_still(
        noun=N_("in the hearts of today"),
        noun_later=N_("in the hearts"),
        fresh=N_("The hearts of today stand at {amount} so far."),
        stale=N_("The hearts stood at {amount} {age}."),
        unknown=N_("How strong the hearts are is not known at the moment."),
        how=N_("Mean strength of what ran as hearts today, true by mass."),
    ),
    "hearts_alcohol_today": _of_still(
        noun=N_("in the hearts of today"),
        noun_later=N_("in the hearts"),
        fresh=N_("The hearts of today hold {amount} so far."),
        stale=N_("By the last reading, {age}, the hearts held {amount}."),
        unknown=N_("How much alcohol the hearts hold is not known at the moment."),
        how=N_("Pure alcohol in the hearts of this day's spirit runs, by their readings."),
    ),
    "recovery_last_run": FigureWords(
        noun=N_("of the alcohol came back in the last run"),
        fresh=N_("Of the alcohol that went into the last run, {amount} came out again."),
        stale=N_("Of the alcohol that went into the last run, {age}, {amount} came out again."),
        unknown=N_("What the last run gave back is not known at the moment."),
        how=N_(
            "Pure alcohol in all receivers of the last spirit run, the pot among them, over that of "
            "its charge."
        ),
    ),
    "hearts_gauge_less_readings": FigureWords(
        noun=N_("between the gauge of the last hearts and their readings"),
        fresh=N_("The gauge of the last hearts differs from their readings by {amount}."),
        stale=N_("The gauge of the last hearts, {age}, differed from their readings by {amount}."),
        unknown=N_("How gauge and readings of the last hearts agree is not known at the moment."),
        how=N_(
            "Pure alcohol by the receiver's gauge less that by the readings, without its sign, as a "
            "share of the gauge."
        ),
    ),
    "readings_today": FigureWords(
        noun=NN_("reading taken today", "readings taken today"),
        noun_later=NN_("reading taken", "readings taken"),
        fresh=NN_("{amount} reading has been taken today.", "{amount} readings have been taken today."),
        stale=NN_(
            "By the last count, {age}, {amount} reading had been taken.",
            "By the last count, {age}, {amount} readings had been taken.",
        ),
        unknown=N_("How many readings have been taken is not known at the moment."),
        resting=N_("No instrument has been read today; the last reading was {day}."),
        how=N_("Readings of stills and washes and gauges of casks dated in this service day."),
    ),
}
