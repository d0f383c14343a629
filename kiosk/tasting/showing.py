"""The room in the words of whoever reads it: staff's language on the tile, the guest's to turn to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from kiosk.figures.drinks import FL_OZ_ML, Served, ServiceState
from kiosk.figures.figure import Unit
from kiosk.site.settings import Site, Units
from kiosk.tasting.entries import Answer
from kiosk.tasting.room import Sample, Tile
from kiosk.words import errors, numbers, reasons, units
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

# None today and under age look alike on purpose: the difference is nobody else's business.
STATES: Mapping[ServiceState, tuple[str, str, str]] = {
    ServiceState.NOT_CHECKED: ("not_checked", "wait", N_("Age not checked")),
    ServiceState.MAY_BE_SERVED: ("may_be_served", "ok", N_("May be served")),
    ServiceState.NONE_TODAY: ("alcohol_free", "none", N_("Alcohol-free")),
    ServiceState.UNDER_AGE: ("alcohol_free", "none", N_("Alcohol-free")),
    ServiceState.STOPPED: ("stopped", "stop", N_("Service ended")),
}
BEHIND: Mapping[ServiceState, str] = {
    ServiceState.NONE_TODAY: N_("None today, by own wish. One tap changes it back."),
    ServiceState.UNDER_AGE: N_("Under age. Only a document seen by another person changes this."),
    ServiceState.STOPPED: N_("No more spirits for this guest today: offer water, food, and a way home."),
}
HELD = N_("Kept for a person to look at: it could not be matched with what is on record.")


@dataclass(frozen=True, slots=True)
class ShownSample:
    """A sample as text; `why` is empty when it fits, `kind_why` says the same to the guest."""

    product: str
    volume_ul: int
    name: str
    size: str
    why: tuple[str, ...]
    kind_why: str


@dataclass(frozen=True, slots=True)
class ShownTile:
    """A tile as text. `look` and `mark` name its colour and shape, `state` its word."""

    tile: Tile
    name: str
    language: str
    look: str
    mark: str
    state: str
    behind: str
    had: str
    left: str | None
    most: Decimal | None
    next: ShownSample | None
    alcohol_free: ShownSample | None
    last: str
    undo: str | None  # the key of the pour that can still be undone


def tile(shown: Tile, site: Site, spoken: Mapping[str, Words], words: Words, now: datetime) -> ShownTile:
    """Return a tile in the reader's words."""
    look, mark, state = STATES[shown.state]
    to_guest = spoken.get(shown.language, words)
    return ShownTile(
        tile=shown,
        name=shown.first_name or "",
        language=shown.language,
        look="gone" if shown.gone else look,
        mark="none" if shown.gone else mark,
        state=words.gettext("Has left") if shown.gone else words.gettext(state),
        behind=words.gettext(BEHIND[shown.state]) if shown.state in BEHIND else "",
        had=numbers.number(shown.had, 1, words),
        left=None if shown.left is None else numbers.number(shown.left, 1, words),
        most=None if shown.left is None else shown.had + shown.left,
        next=_sample(shown.next, site, words, to_guest),
        alcohol_free=_sample(shown.alcohol_free, site, words, to_guest),
        last=_last(shown.last, site, words),
        undo=shown.last.key if shown.last and shown.undoable(now) else None,
    )


def _sample(sample: Sample | None, site: Site, words: Words, to_guest: Words) -> ShownSample | None:
    if sample is None:
        return None
    codes = sample.reasons
    return ShownSample(
        sample.product,
        sample.volume_ul,
        product_name(site, sample.product, words),
        size(sample.volume_ul, site, words) if sample.volume_ul else "",
        tuple(reasons.for_staff(code, site.policy, words) for code in codes),
        reasons.for_guest(codes[0], site.policy, to_guest) if codes else "",
    )


def _last(served: Served | None, site: Site, words: Words) -> str:
    if served is None:
        return ""
    measured = [size(served.volume_ul, site, words)] if served.volume_ul else []
    return ", ".join([product_name(site, served.glass, words), *measured])


def product_name(site: Site, product: str, words: Words) -> str:
    """Return a product's or recipe's name in the reader's language, or its code where the site has none."""
    known = site.products.get(product) or site.recipes.get(product)
    return known.names.get(words.language, product) if known else product


def size(volume_ul: int, site: Site, words: Words) -> str:
    """Return the volume of a pour as the site's trade writes it."""
    millilitres = Fraction(volume_ul, 1000)
    if site.units is Units.US:
        return words.gettext("{ounces} fl oz", ounces=numbers.number(millilitres / FL_OZ_ML, 2, words))
    return str(units.amount(millilitres, Unit.ML, 1, words, site.units))


def sentence(answer: Answer, site: Site, words: Words) -> str:
    """Return what became of a tap, for the person who tapped."""
    if answer.outcome == "held":
        return words.gettext(HELD)
    if answer.outcome == "rejected":
        facts = {name: errors.said(value, words) for name, value in answer.facts.items()}
        return words.gettext(answer.message, **facts)
    if answer.reasons:
        why = " ".join(reasons.for_staff(code, site.policy, words) for code in answer.reasons)
        if answer.outcome == "poured":
            return words.gettext("Recorded, and flagged for the manager. {why}", why=why)
        return why
    return words.gettext("Recorded.")
