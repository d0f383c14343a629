"""What is said of tanks, stills and instruments."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import N_, NN_
from kiosk.words.names import FigureWords

_TANKS_REST = N_("The fermenting tanks rest; last wash {day}.")
_TANK_RESTS = N_("Nothing ferments here; the last wash was done {day}.")
_RUN_UNKNOWN = N_("How strong the spirit runs is not known at the moment.")
_STILL_RESTS = N_("The still rests; last run {day}.")
_STILL_UNKNOWN = N_("What the still gives is not known at the moment.")

WORDS: Mapping[str, FigureWords] = {
    "tanks_at_work": FigureWords(
        noun=NN_("tank at work now", "tanks at work now"),
        noun_then=NN_("tank at work", "tanks at work"),
        fresh=NN_("{amount} tank is fermenting now.", "{amount} tanks are fermenting now."),
        stale=NN_(
            "At the last look, {age}, {amount} tank was fermenting.",
            "At the last look, {age}, {amount} tanks were fermenting.",
        ),
        unknown=N_("How many tanks are fermenting is not known at the moment."),
        resting=_TANKS_REST,
        how=N_("Tanks whose wash has been set and not ended, as of the newest record of these washes."),
    ),
    "wash_fermenting": FigureWords(
        noun=N_("of wash at work now"),
        noun_then=N_("of wash at work"),
        fresh=N_("In the tanks {amount} of wash are at work now."),
        stale=N_("At the last look, {age}, {amount} of wash were at work."),
        unknown=N_("How much wash is fermenting is not known at the moment."),
        resting=_TANKS_REST,
        how=N_("Volumes at setting of the washes that stand in the tanks."),
    ),
    "wash_day": FigureWords(
        noun=N_("of the fermentation now"),
        noun_then=N_("of the fermentation"),
        fresh=N_("The wash is on {amount} of its fermentation now."),
        stale=N_("The wash was on {amount} of its fermentation {age}."),
        unknown=N_("How far the wash has come is not known at the moment."),
        resting=_TANK_RESTS,
        how=N_("Service days since the wash was set, the day of setting being the first."),
    ),
    "wash_abv_now": FigureWords(
        noun=N_("in the wash now"),
        noun_then=N_("in the wash"),
        fresh=N_("The wash has reached {amount} now."),
        stale=N_("The wash had reached {amount} {age}."),
        unknown=N_("How strong the wash is cannot be said at the moment."),
        resting=_TANK_RESTS,
        how=N_("By Balling's formula from the first gravity and the latest, both at 20 °C."),
    ),
    "wash_ends_in": FigureWords(
        noun=N_("until the wash should be done"),
        noun_then=N_("until the wash should be done"),
        fresh=N_("By its readings, the wash should be done in {amount}."),
        stale=N_("By readings made {age}, the wash should be done in {amount}."),
        unknown=N_("When the wash will be done cannot be said yet."),
        resting=_TANK_RESTS,
        how=N_(
            "Curves through the latest five gravities, carried on to the gravity at which our washes end."
        ),
    ),
    "run_abv_now": FigureWords(
        noun=N_("from the still now"),
        noun_then=N_("from the still"),
        fresh=N_("The spirit is running at {amount} now."),
        stale=N_("The spirit was running at {amount} {age}."),
        unknown=_RUN_UNKNOWN,
        resting=_STILL_RESTS,
        how=N_("The latest reading at the parrot, corrected for its temperature."),
    ),
    "run_proof_now": FigureWords(
        noun=N_("from the still now"),
        noun_then=N_("from the still"),
        fresh=N_("The spirit is running at {amount} now."),
        stale=N_("The spirit was running at {amount} {age}."),
        unknown=_RUN_UNKNOWN,
        resting=_STILL_RESTS,
        how=N_("The latest reading at the parrot, corrected for its temperature."),
    ),
    "run_cut_now": FigureWords(
        noun=N_("from the still now"),
        noun_then=N_("from the still"),
        fresh=N_("What runs from the still now: {amount}."),
        stale=N_("What ran from the still at the last look, {age}: {amount}."),
        unknown=_STILL_UNKNOWN,
        resting=_STILL_RESTS,
        how=N_(
            "The cut written down with the latest reading; low wines are the first pot's, the others "
            "the second's."
        ),
    ),
    "run_collected_now": FigureWords(
        noun=N_("run off so far"),
        noun_then=N_("run off"),
        fresh=N_("So far {amount} have run off."),
        stale=N_("At the last look, {age}, {amount} had run off."),
        unknown=_STILL_UNKNOWN,
        resting=_STILL_RESTS,
        how=N_("All cuts of the run under way, as collected at its latest reading."),
    ),
    "hearts_volume_today": FigureWords(
        noun=N_("of hearts today"),
        noun_then=N_("of hearts"),
        fresh=N_("We have collected {amount} of hearts today."),
        stale=N_("By the last reading, {age}, we had collected {amount} of hearts."),
        unknown=N_("How much has run as hearts is not known at the moment."),
        resting=_STILL_RESTS,
        how=N_(
            "Readings of this day's spirit runs, added up by mass; the receiver's own gauge comes at the end."
        ),
    ),
    "hearts_abv_today": FigureWords(
        noun=N_("in the hearts of today"),
        noun_then=N_("in the hearts"),
        fresh=N_("The hearts of today stand at {amount} so far."),
        stale=N_("The hearts stood at {amount} {age}."),
        unknown=N_("How strong the hearts are is not known at the moment."),
        resting=_STILL_RESTS,
        how=N_("Mean strength of what ran as hearts today, true by mass."),
    ),
    "hearts_alcohol_today": FigureWords(
        noun=N_("in the hearts of today"),
        noun_then=N_("in the hearts"),
        fresh=N_("The hearts of today hold {amount} so far."),
        stale=N_("By the last reading, {age}, the hearts held {amount}."),
        unknown=N_("How much alcohol the hearts hold is not known at the moment."),
        resting=_STILL_RESTS,
        how=N_("Pure alcohol in the hearts of this day's spirit runs, by their readings."),
    ),
    "recovery_last_run": FigureWords(
        noun=N_("of the alcohol came back in the last run"),
        noun_then=N_("of the alcohol came back in the last run"),
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
        noun_then=N_("between the gauge of the last hearts and their readings"),
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
        noun_then=NN_("reading taken", "readings taken"),
        fresh=NN_(
            "{amount} reading has been taken today.",
            "{amount} readings have been taken today.",
        ),
        stale=NN_(
            "By the last count, {age}, {amount} reading had been taken.",
            "By the last count, {age}, {amount} readings had been taken.",
        ),
        unknown=N_("How many readings have been taken is not known at the moment."),
        resting=N_("No instrument has been read today; the last reading was {day}."),
        how=N_("Readings of stills and washes and gauges of casks dated in this service day."),
    ),
}
