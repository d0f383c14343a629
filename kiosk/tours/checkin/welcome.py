"""The welcome drink of a tour: with alcohol for guests who may be served, its twin for the others."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServiceState
from kiosk.site.settings import Recipe, Site, WelcomeDrink
from kiosk.store.ledgers import key_within
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items
from kiosk.tours.checkin.group import Group, GroupGuest

WELCOME = 0
"""The position of the welcome drink in a flight."""


@dataclass(frozen=True, slots=True)
class WelcomeRound:
    """A glass of the welcome and the guests who wait for it; those of `ask_first` named an allergen in it."""

    recipe: Recipe
    volume_ul: int
    guests: Sequence[GroupGuest]
    ask_first: Sequence[GroupGuest] = ()


def welcome_rounds(session: Session, site: Site, group: Group) -> Sequence[WelcomeRound]:
    """Return what is poured on arrival: the drink and its twin, each with the guests who wait for it.

    Empty where the flight has no welcome drink with a recipe, and where it is served after the tour.
    A guest whose ID is not checked waits for neither.
    """
    recipe = _recipe(session, site, group)
    if recipe is None or site.welcome_drink is WelcomeDrink.AFTER:
        return ()
    twin = site.recipes[recipe.twin] if recipe.twin else recipe
    free = site.welcomes_without_alcohol(recipe)
    had = _had(session, group, (recipe.id, twin.id))
    waiting = [guest for guest in group.here if guest.id not in had]
    strong = [guest for guest in waiting if not free and guest.state is ServiceState.MAY_BE_SERVED]
    without = [guest for guest in waiting if guest not in strong and _decided(guest, free=free)]
    with_alcohol = [] if free else [(recipe, recipe.small_ul or recipe.volume_ul, strong)]
    return [_round(site, *one) for one in (*with_alcohol, (twin, twin.volume_ul, without))]


def welcome_entries(rounds: Sequence[WelcomeRound], tour_id: int, key: str) -> list[dict[str, object]]:
    """Return a pour for each guest who waits, under keys within `key`; none for those to be asked first."""
    return [
        {
            "ledger": "pours",
            "key": key_within(key, guest.id),
            "guest": guest.id,
            "product": one.recipe.id,
            "volume_ul": one.volume_ul,
            "tour": tour_id,
        }
        for one in rounds
        for guest in one.guests
    ]


def _decided(guest: GroupGuest, *, free: bool) -> bool:
    """Return whether a guest takes the glass without alcohol: all do where the house serves no other."""
    return free or guest.state in (
        ServiceState.NO_ALCOHOL,
        ServiceState.UNDER_AGE,
        ServiceState.SERVICE_STOPPED,
    )


def _round(site: Site, recipe: Recipe, volume_ul: int, guests: Sequence[GroupGuest]) -> WelcomeRound:
    product = site.products.get(recipe.product or "")
    contained = {allergen for mixer in recipe.mixers for allergen in mixer.allergens}
    contained.update(product.allergens if product else ())
    ask = [guest for guest in guests if contained.intersection(guest.allergens)]
    return WelcomeRound(recipe, volume_ul, [guest for guest in guests if guest not in ask], ask)


def _recipe(session: Session, site: Site, group: Group) -> Recipe | None:
    f = flight_items.c
    wanted = select(f.product).where(f.flight_id == group.tour.flight_id, f.pos == WELCOME)
    return site.recipes.get(session.scalar(wanted) or "")


def _had(session: Session, group: Group, codes: Sequence[str]) -> frozenset[int]:
    p = pours.c
    glass = func.coalesce(p.recipe, p.product)
    poured = select(p.guest_id).where(p.guest_id.in_([guest.id for guest in group.here]), glass.in_(codes))
    return frozenset(guest for guest in session.scalars(poured) if guest is not None)
