"""What a guest must know before a stop, as shapes with words."""

from dataclasses import dataclass

from kiosk.site.content.stops import Stop
from kiosk.words.catalogs import N_, Words

PROTECTION_SIGNS = {
    "closed_shoes": ("shoes", N_("Closed shoes")),
    "eyes": ("eyes", N_("Eye protection")),
    "ears": ("ears", N_("Ear plugs")),
    "hair_tied": ("hair-tied", N_("Long hair tied back")),
    "hard_hat": ("hard-hat", N_("Hard hat")),
    "high_visibility": ("vest", N_("Bright vest")),
    "sun_hat": ("sun-hat", N_("Sun hat")),
}
"""What a stop may ask people to wear: the icon and the words."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """An icon and the words that always stand with it."""

    shape: str
    text: str


def symbols(stop: Stop, words: Words) -> list[Symbol]:
    """Return what holds at a stop: phones first, then protection, steps, seats, noise, smell."""
    _ = words.gettext
    signs = [
        Symbol("phone-away", _("Phones stay at the door"))
        if stop.at_the_door
        else Symbol("phone", _("Phones are welcome"))
    ]
    signs += [Symbol(icon, _(text)) for icon, text in (PROTECTION_SIGNS[code] for code in stop.protection)]
    signs.append(_steps(stop, words))
    signs.append(
        Symbol("seats", _("Seats for everybody"))
        if stop.seats
        else Symbol("standing", _standing(stop, words))
    )
    if stop.noise:
        signs.append(Symbol("noise", _("Loud in places")))
    if stop.smell:
        signs.append(Symbol("smell", _("Smells of alcohol")))
    return signs


def _steps(stop: Stop, words: Words) -> Symbol:
    if not stop.steps:
        return Symbol("no-steps", words.gettext("No steps"))
    return Symbol("steps", words.ngettext("{n} step", "{n} steps", stop.steps))


def _standing(stop: Stop, words: Words) -> str:
    if not stop.standing_minutes:
        return words.gettext("No seats")
    return words.ngettext(
        "No seats: {n} minute on your feet", "No seats: {n} minutes on your feet", stop.standing_minutes
    )
