"""The words of every figure: what they consist of, and those of the guests and the tasting.

The other subjects have a module each; `kiosk.words.figures` puts them together.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.words.catalogs import N_, NN_

Wording = str | tuple[str, str]
"""One message, or its forms for one and for many where the figure counts things."""


@dataclass(frozen=True, slots=True)
class FigureWords:
    """The words of one figure: a sentence for each state, and for staff how it is calculated."""

    noun: Wording  # follows number and unit while the figure is fresh
    fresh: Wording
    stale: Wording
    unknown: str
    how: str  # from which records, and by what calculation
    resting: str = N_("Nothing to tell of today; the last time was {day}.")
    noun_later: Wording = ""  # the noun without "now" or "today", where that differs

    @property
    def noun_then(self) -> Wording:
        """The noun of a figure that is not fresh."""
        return self.noun_later or self.noun


WORDS: Mapping[str, FigureWords] = {
    "guests_today": FigureWords(
        noun=NN_("guest today", "guests today"),
        noun_later=NN_("guest", "guests"),
        fresh=NN_("{amount} guest is with us today.", "{amount} guests are with us today."),
        stale=NN_(
            "There was {amount} guest at the last count, {age}.",
            "There were {amount} guests at the last count, {age}.",
        ),
        unknown=N_("How many guests there are is not known at the moment."),
        resting=N_("No guests today; the last were here {day}."),
        how=N_("Guests checked in during this service day, without canceled tours and bookings."),
    ),
    "tours_today": FigureWords(
        noun=NN_("tour today", "tours today"),
        noun_later=NN_("tour", "tours"),
        fresh=NN_("{amount} tour walks today.", "{amount} tours walk today."),
        stale=NN_(
            "At the last count, {age}, {amount} tour was planned.",
            "At the last count, {age}, {amount} tours were planned.",
        ),
        unknown=N_("How many tours there are is not known at the moment."),
        how=N_("Tours that start in this service day and are not canceled."),
    ),
    "samples_today": FigureWords(
        noun=NN_("sample served today", "samples served today"),
        noun_later=NN_("sample served", "samples served"),
        fresh=NN_("{amount} sample has been served today.", "{amount} samples have been served today."),
        stale=NN_(
            "By the last count, {age}, {amount} sample had been served.",
            "By the last count, {age}, {amount} samples had been served.",
        ),
        unknown=N_("How many samples have been served is not known at the moment."),
        resting=N_("Nothing has been poured today; the last tasting was {day}."),
        how=N_("Samples served in this service day, after every correction."),
    ),
    "sample_volume_today": FigureWords(
        noun=N_("in a sample of today"),
        noun_later=N_("in a sample"),
        fresh=N_("A sample of today holds {amount} on average."),
        stale=N_("At the last count, {age}, a sample held {amount} on average."),
        unknown=N_("No sample with alcohol has been served today."),
        how=N_("Mean volume of the samples with alcohol served in this service day."),
    ),
    "sample_drinks_today": FigureWords(
        noun=N_("in a sample of today"),
        noun_later=N_("in a sample"),
        fresh=N_("A sample of today counts as {amount} on average."),
        stale=N_("At the last count, {age}, a sample counted as {amount} on average."),
        unknown=N_("No sample with alcohol has been served today."),
        how=N_("Mean pure alcohol of the samples with alcohol served in this service day."),
    ),
    "lots_open": FigureWords(
        noun=NN_("lot open for tasting", "lots open for tasting"),
        fresh=NN_("{amount} lot is open for tasting now.", "{amount} lots are open for tasting now."),
        stale=NN_(
            "At the last count, {age}, {amount} lot was open for tasting.",
            "At the last count, {age}, {amount} lots were open for tasting.",
        ),
        unknown=N_("How many lots are open is not known at the moment."),
        how=N_("Lots with an approval for tasting on this day."),
    ),
}
