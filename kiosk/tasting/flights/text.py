"""A flight's plan in the reader's language: its glasses, and what would make it fit the rules."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kiosk.figures.drinks import Plan, drinks_had
from kiosk.figures.service.allowance import HOURS
from kiosk.figures.service.plan import WELCOME
from kiosk.site.products import Contains, allergen_names, list_allergens, product_name
from kiosk.site.settings import Site, WelcomeDrink
from kiosk.tasting.approvals.approvals import allergens_for_guest
from kiosk.tasting.bottles.text import tint_of
from kiosk.tasting.flights.plan import FlightPlan, PlannedGlass
from kiosk.tasting.room.text import size
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
class GlassText:
    """One glass of a flight as text; `when` only of a welcome drink, `why` are the rules it would break."""

    name: str
    when: str
    size: str
    strength: str
    twin: str
    contains: Contains
    why: tuple[str, ...]
    lighter: str  # the warning that a weaker or drier sample follows a stronger or sweeter one
    named_by: tuple[str, ...]  # guests of the tour who named something in it
    tint: str
    volume_ul: int


@dataclass(frozen=True, slots=True)
class FlightText:
    """A flight's plan as text; `drinks` for each guest are rounded up, `remedies` is empty if it fits.

    `total` is what each guest is poured of what has alcohol.
    """

    flight: FlightPlan
    glasses: tuple[GlassText, ...]
    total: str
    drinks: str
    remedies: tuple[str, ...]
    last_pour: str
    too_late: bool
    alternatives: tuple[str, ...]


def flight_text(
    flight: FlightPlan, allergens: Sequence[tuple[int, Iterable[str]]], site: Site, words: Words
) -> FlightText:
    """Return a flight's plan as text; `allergens` are those that guests of a tour named, by guest number."""
    plan = flight.plan
    return FlightText(
        flight=flight,
        glasses=tuple(_glass(glass, flight, allergens, site, words) for glass in flight.glasses),
        total=size(flight.poured_ul, site, words),
        drinks=formats.number(drinks_had(plan.ethanol, site.standard_drink), 1, words) if plan else "",
        remedies=tuple(_remedies(flight, plan, site, words)) if plan else (),
        last_pour=formats.time(plan.last_pour_at, site.zone, words) if plan and plan.last_pour_at else "",
        too_late=any(HOURS in codes for codes in plan.refusals.values()) if plan else False,
        alternatives=tuple(_alternatives(site, words)),
    )


def _glass(
    glass: PlannedGlass,
    flight: FlightPlan,
    allergens: Sequence[tuple[int, Iterable[str]]],
    site: Site,
    words: Words,
) -> GlassText:
    item, plan = glass.item, flight.plan
    codes = plan.refusals.get(item.pos, ()) if plan else ()
    turn = next((t for t in plan.turns if t.position == item.pos), None) if plan else None
    return GlassText(
        name=product_name(site, item.glass, words),
        when=words.gettext(WELCOMES[site.welcome_drink]) if item.pos == WELCOME else "",
        size=size(item.volume_ul, site, words) if item.volume_ul else "",
        strength=_strength(glass, words),
        twin=product_name(site, item.twin, words) if item.twin else "",
        contains=list_allergens(glass.allergens, words),
        why=tuple(reasons.for_staff(code, flight.rules, words) for code in codes),
        lighter=words.gettext(LIGHTER[turn.from_]) if turn else "",
        named_by=tuple(_named_by(item.glass, allergens, site, words)),
        tint=tint_of(site, item.product),
        volume_ul=item.volume_ul,
    )


def _strength(glass: PlannedGlass, words: Words) -> str:
    if glass.offer is None:
        return ""
    if glass.offer.free:
        return words.gettext("without alcohol")
    percent = formats.number(glass.offer.abv_e2 / 100, 1, words)
    return f"{percent} {units.symbol('% vol', words)}"


def _named_by(
    code: str, allergens: Sequence[tuple[int, Iterable[str]]], site: Site, words: Words
) -> Iterable[str]:
    for number, named in allergens:
        contained = allergens_for_guest(site, code, named)
        if contained:
            yield words.gettext(
                "Guest {number}: {allergens}", number=number, allergens=allergen_names(contained, words)
            )


def _remedies(flight: FlightPlan, plan: Plan, site: Site, words: Words) -> Iterable[str]:
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
            samples=_names(flight, plan.leave_out_at_smallest, site, words),
        )
    yield words.gettext(
        "In the sizes planned, leave out: {samples}.", samples=_names(flight, plan.leave_out, site, words)
    )


def _names(flight: FlightPlan, positions: Iterable[int], site: Site, words: Words) -> str:
    by_pos = {one.item.pos: product_name(site, one.item.glass, words) for one in flight.glasses}
    return ", ".join(by_pos[pos] for pos in sorted(positions))


def _alternatives(site: Site, words: Words) -> Iterable[str]:
    """Yield the names of what every guest may have: products and mixed glasses without alcohol."""
    free = [product.id for product in site.products.values() if product.abv_e2 == 0]
    twins = [recipe.twin for recipe in site.recipes.values() if recipe.twin]
    return (product_name(site, code, words) for code in (*free, *twins))
