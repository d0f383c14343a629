"""The room as text: guests for staff, and one sentence for a guest in their language, without counts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from kiosk.entries.typed_in import typed_in_text
from kiosk.figures.drinks import FL_OZ_ML, ServiceState
from kiosk.figures.figure import Unit
from kiosk.figures.service.allowance import WAIT
from kiosk.site.products import allergen_names, product_name
from kiosk.site.settings import Site, Units
from kiosk.tasting.approvals import approvals
from kiosk.tasting.room.tiles import Tile
from kiosk.words import formats, reasons, units
from kiosk.words.catalogs import N_, Words

# None today and under age look alike on purpose: the difference is nobody else's business.
BEHIND: Mapping[ServiceState, str] = {
    ServiceState.NO_ALCOHOL: N_("No alcohol today, by the guest’s own wish. “Drinking after all” lifts it."),
    ServiceState.UNDER_AGE: N_("Under age. Only an ID check by a second person changes this."),
    ServiceState.SERVICE_STOPPED: N_(
        "No more spirits for this guest today: offer water, food, and a way home."
    ),
}
SERVED_AS: Mapping[ServiceState, str] = {
    ServiceState.NOT_CHECKED: N_("A pour with alcohol was recorded before the age check."),
    ServiceState.NO_ALCOHOL: N_("A pour with alcohol was recorded, but this guest takes no alcohol today."),
    ServiceState.UNDER_AGE: N_(
        "A pour with alcohol was recorded for a guest under age: take the glass away and write it in the "
        "incident register."
    ),
    ServiceState.SERVICE_STOPPED: N_(
        "A pour with alcohol was recorded after service was stopped for this guest."
    ),
}
OVER = N_("More was served than a limit allows.")


@dataclass(frozen=True, slots=True)
class GuestText:
    """A guest as text, for staff."""

    behind: str
    had: str
    flag: str  # why the manager is to be told; for staff, on pressing
    claimed: str  # how many pours name a server who was not signed in
    typed_in: tuple[str, ...]  # who typed pours in for a tablet, when and why


def guest_text(tile: Tile, site: Site, words: Words) -> GuestText:
    """Return a guest's tile in the reader's words."""
    return GuestText(
        behind=words.gettext(BEHIND[tile.state]) if tile.state in BEHIND else "",
        had=formats.number(tile.had, 1, words),
        flag=_flag(tile, words),
        claimed=words.ngettext("{n} pour claimed", "{n} pours claimed", tile.claimed) if tile.claimed else "",
        typed_in=tuple(dict.fromkeys(typed_in_text(one, site, words) for one in tile.typed_in)),
    )


def _flag(tile: Tile, words: Words) -> str:
    if tile.served_as is not None:
        return words.gettext(SERVED_AS[tile.served_as])
    return words.gettext(OVER) if tile.over else ""


def size(volume_ul: float, site: Site, words: Words, digits: int = 1) -> str:
    """Return the volume of a pour as the site's trade writes it, with `digits` decimals where in mL."""
    millilitres = Fraction(round(volume_ul), 1000)
    if site.units is Units.US:
        ounces = millilitres / FL_OZ_ML
        us_digits = 3 if round(ounces * 1000) % 10 else 2  # an eighth of an ounce is 0.125
        return words.gettext("{ounces} fl oz", ounces=formats.number(ounces, us_digits, words))
    return str(units.amount(millilitres, Unit.ML, digits, words, site.units))


def size_in_both(volume_ul: float, site: Site, words: Words, digits: int = 1) -> str:
    """Return the volume of a pour in the site's unit, on a US site with the millilitres beside it."""
    if site.units is not Units.US:
        return size(volume_ul, site, words, digits)
    metric = str(units.amount(Fraction(round(volume_ul), 1000), Unit.ML, digits, words, "metric"))
    return f"{size(volume_ul, site, words)} ({metric})"


ABOUT: Mapping[str, str] = {
    "allergens": N_("What is in the glass"),
    "limit": N_("Last pour reached"),
    "wait": N_("Short wait"),
    "id_check": N_("ID, please"),
    "ended": N_("No more today"),
}
"""What a page may be about, as staff choose it; told mildly, for the guest may read along."""

_OFFERED = N_("Water, something to eat and drinks without alcohol are here for you.")
_WAIT = N_(
    "Your next sample can come at {time}. Meanwhile, water, something to eat and drinks without alcohol "
    "are here for you."
)
_ALLERGENS = N_("{product} contains, or may contain: {allergens}.")
_NO_ALLERGENS = N_(
    "No allergen is listed for {product}. If anything could harm you, please ask us before you taste."
)
_OF_STATE = {ServiceState.NOT_CHECKED: "id_check", ServiceState.SERVICE_STOPPED: "ended"}
_OF_ABOUT = {"id_check": "not_checked", "ended": "service_stopped", "wait": WAIT}


@dataclass(frozen=True, slots=True)
class GuestMessage:
    """One sentence in one language, and what is offered beside it where the sentence does not."""

    language: str
    sentence: str
    offered: str


def guest_message(tile: Tile, about: str, site: Site, words: Words, now: datetime) -> GuestMessage:
    """Return what is turned to a guest, in `words`, theirs; without `about`, what their tile calls for."""
    about = about if about in ABOUT else _called_for(tile)
    offered = words.gettext(_OFFERED) if about == "allergens" else ""
    return GuestMessage(words.language, _sentence(tile, about, site, words, now), offered)


def _called_for(tile: Tile) -> str:
    if tile.state in _OF_STATE:
        return _OF_STATE[tile.state]
    against = tile.next.reasons if tile.next and tile.state is ServiceState.MAY_BE_SERVED else ()
    if against:
        return "wait" if against == (WAIT,) else "limit"
    return "allergens"


def _sentence(tile: Tile, about: str, site: Site, words: Words, now: datetime) -> str:
    if about == "allergens":
        return _allergens(tile, site, words)
    if about == "wait" and tile.not_before > now:
        whole = tile.not_before + timedelta(seconds=59)  # a minute that has passed, never one too early
        return words.gettext(_WAIT, time=formats.time(whole, site.zone, words))
    if about == "limit":
        against = [code for code in (tile.next.reasons if tile.next else ()) if code != WAIT]
        return reasons.for_guest(against[0] if against else "", site.policy, words)
    return reasons.for_guest(_OF_ABOUT[about], site.policy, words)


def _allergens(tile: Tile, site: Site, words: Words) -> str:
    """Speak of the glass that comes next, else of the last one, else of the one without alcohol."""
    coming = tile.next if tile.state is ServiceState.MAY_BE_SERVED else tile.alcohol_free
    glass = coming.product if coming else tile.last.glass if tile.last else ""
    contained = allergen_names(approvals.allergens_in(site, glass), words)
    name = product_name(site, glass, words)
    if contained:
        return words.gettext(_ALLERGENS, product=name, allergens=contained)
    return words.gettext(_NO_ALLERGENS, product=name)
