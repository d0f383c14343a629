"""What a guest must know before walking into a stop, each as a few words.

The same signs stand on the page before the stop and on its card. `code` names
the shape that goes with the words where there is one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

READ_HERE = N_("Read this here, then put phones away")
READ_ON = N_("Read this stop on your phone")

PROTECTION: Mapping[str, str] = {
    "closed_shoes": N_("Closed shoes"),
    "eyes": N_("Eye protection"),
    "ears": N_("Ear protection"),
    "hair_tied": N_("Hair tied back"),
    "hard_hat": N_("Hard hat"),
    "high_visibility": N_("High-visibility vest"),
    "sun_hat": N_("Hat against the sun"),
}


@dataclass(frozen=True, slots=True)
class Sign:
    """One thing to know: the code of its shape and its words."""

    code: str
    text: str


def signs(
    words: Words,
    *,
    phones: str,
    protection: Sequence[str],
    steps: int,
    seats: bool,
    noise: bool,
    smell: bool = False,
    standing_minutes: int = 0,
) -> list[Sign]:
    """Return the signs of a stop, the ones that keep people safe first."""
    found = [Sign("phones_away", words.gettext("Phones stay put away inside"))] if phones != "yes" else []
    found += [Sign(code, words.gettext(PROTECTION[code])) for code in protection]
    if noise:
        found.append(Sign("noise", words.gettext("It is loud inside")))
    if smell:
        found.append(Sign("smell", words.gettext("Strong smell of alcohol")))
    if steps:
        found.append(Sign("steps", words.ngettext("{n} step on the way", "{n} steps on the way", steps)))
    else:
        found.append(Sign("level", words.gettext("No steps on the way")))
    if standing_minutes:
        standing = words.ngettext("{n} minute on your feet", "{n} minutes on your feet", standing_minutes)
        found.append(Sign("standing", standing))
    if seats:
        found.append(Sign("seats", words.gettext("A seat for everybody who wants one")))
    elif standing_minutes:
        found.append(Sign("no_seats", words.gettext("No seats inside: ask us for a stool")))
    return found
