"""A flight's plan in the reader's words: whether it fits, what would make it fit, what it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kiosk.figures.drinks import Plan, drinks_had
from kiosk.figures.service.allowance import HOURS
from kiosk.figures.service.plan import WELCOME
from kiosk.site.products import Contains, allergen_names, list_allergens
from kiosk.site.settings import Site, WelcomeDrink
from kiosk.tasting.allergens import concerning
from kiosk.tasting.bottles.text import volume
from kiosk.tasting.flights.plan import Asked, FlightPlan, Planned
from kiosk.tasting.room.text import product_name, size
from kiosk.words import formats, reasons, units
from kiosk.words.catalogs import N_, Words

WELCOMES: Mapping[WelcomeDrink, str] = {
    WelcomeDrink.ALCOHOL_FREE: N_("Welcome drink, without alcohol, on arrival"),
    WelcomeDrink.SMALL: N_("Welcome drink, small, on arrival"),
    WelcomeDrink.AFTER: N_("Welcome drink, after the tour"),
}
LIGHTER: Mapping[str, str] = {
    "stronger": N_("A lighter one follows: right after the stronger one, a guest tastes little of it."),
    "sweeter": N_("A drier one follows: after the sweeter one it tastes sharp."),
}


@dataclass(frozen=True, slots=True)
class ShownGlass:
    """One glass of a flight as text; `when` only of the welcome drink, `why` what stands against it."""

    name: str
    when: str
    size: str
    strength: str
    twin: str
    contains: Contains
    why: tuple[str, ...]
    then: str
    named_by: tuple[str, ...]  # guests of the tour who named something in it


@dataclass(frozen=True, slots=True)
class ShownBottles:
    """A product's bottles as text; `short` where fewer stand sealed than must be opened."""

    name: str
    needed: int
    open: str
    to_open: int
    sealed: int
    short: bool


@dataclass(frozen=True, slots=True)
class ShownFlight:
    """A flight as text. `drinks` is rounded up; `remedies` is empty where it fits."""

    flight: FlightPlan
    glasses: tuple[ShownGlass, ...]
    drinks: str
    fits: bool
    remedies: tuple[str, ...]
    bottles: tuple[ShownBottles, ...]
    tasting_glasses: int
    welcome_glasses: int
    last_pour: str
    too_late: bool
    alternatives: tuple[str, ...]


def shown(
    found: FlightPlan, asked: Asked, named: Iterable[tuple[int, Iterable[str]]], site: Site, words: Words
) -> ShownFlight:
    """Return a flight in the reader's words; `named` are the allergens that guests of a tour named."""
    plan, here = found.plan, list(named)
    late = any(HOURS in codes for codes in plan.refusals.values()) if plan else False
    return ShownFlight(
        flight=found,
        glasses=tuple(_glass(one, found, here, site, words) for one in found.glasses),
        drinks=formats.number(drinks_had(plan.ethanol, site.standard_drink), 1, words) if plan else "",
        fits=bool(plan and plan.fits),
        remedies=tuple(_remedies(found, plan, site, words)) if plan else (),
        bottles=tuple(_bottles(found, site, words)),
        tasting_glasses=asked.guests * len(found.samples),
        welcome_glasses=asked.guests if found.welcome else 0,
        last_pour=formats.time(plan.last_pour_at, site.zone, words) if plan and plan.last_pour_at else "",
        too_late=late,
        alternatives=tuple(_alternatives(site, words)),
    )


def _glass(
    one: Planned, found: FlightPlan, named: list[tuple[int, Iterable[str]]], site: Site, words: Words
) -> ShownGlass:
    item, plan = one.item, found.plan
    codes = plan.refusals.get(item.pos, ()) if plan else ()
    turn = next((t for t in plan.turns if t.position == item.pos), None) if plan else None
    return ShownGlass(
        name=product_name(site, item.glass, words),
        when=words.gettext(WELCOMES[site.welcome_drink]) if item.pos == WELCOME else "",
        size=size(item.volume_ul, site, words) if item.volume_ul else "",
        strength=_strength(one, words),
        twin=product_name(site, item.twin, words) if item.twin else "",
        contains=list_allergens(one.allergens, words),
        why=tuple(reasons.for_staff(code, found.rules, words) for code in codes),
        then=words.gettext(LIGHTER[turn.from_]) if turn else "",
        named_by=tuple(_named_by(item.glass, named, site, words)),
    )


def _strength(one: Planned, words: Words) -> str:
    if one.offer is None:
        return ""
    if one.offer.free:
        return words.gettext("without alcohol")
    percent = formats.number(one.offer.abv_e2 / 100, 1, words)
    return f"{percent} {units.symbol('% vol', words)}"


def _named_by(glass: str, named: list[tuple[int, Iterable[str]]], site: Site, words: Words) -> Iterable[str]:
    for number, codes in named:
        found = concerning(site, glass, codes)
        if found:
            yield words.gettext(
                "Guest {number}: {allergens}", number=number, allergens=allergen_names(found, words)
            )


def _remedies(found: FlightPlan, plan: Plan, site: Site, words: Words) -> Iterable[str]:
    if plan.fits:
        return
    if plan.measure_ul:
        measure = size(plan.measure_ul, site, words)
        yield words.gettext("It fits with every sample poured in {size}.", size=measure)
    elif plan.leave_out_at_smallest and plan.largest_ul:
        smallest = size(min(measure.volume_ul for measure in site.measures), site, words)
        yield words.gettext("No measure of the house is small enough for all of it.")
        yield words.gettext(
            "With every sample in {size}, leave out: {samples}.",
            size=smallest,
            samples=_names(found, plan.leave_out_at_smallest, site, words),
        )
    yield words.gettext(
        "In the sizes planned, leave out: {samples}.", samples=_names(found, plan.leave_out, site, words)
    )


def _names(found: FlightPlan, positions: Iterable[int], site: Site, words: Words) -> str:
    by_pos = {one.item.pos: product_name(site, one.item.glass, words) for one in found.glasses}
    return ", ".join(by_pos[pos] for pos in sorted(positions))


def _bottles(found: FlightPlan, site: Site, words: Words) -> Iterable[ShownBottles]:
    for one in found.bottles:
        yield ShownBottles(
            product_name(site, one.product, words),
            one.needed,
            volume(one.open_ul, site, words),
            one.to_open,
            one.sealed,
            short=one.to_open > one.sealed,
        )


def _alternatives(site: Site, words: Words) -> Iterable[str]:
    """Name what is refused to nobody: products without alcohol, and the twins of mixed glasses."""
    free = [product.id for product in site.products.values() if product.abv_e2 == 0]
    twins = [recipe.twin for recipe in site.recipes.values() if recipe.twin]
    return (product_name(site, code, words) for code in (*free, *twins))
