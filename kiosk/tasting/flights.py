"""The planned samples of a tasting and which of them comes next for a guest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.plan import WELCOME
from kiosk.site.settings import Recipe, Site, WelcomeDrink
from kiosk.store.tables.tours import flight_items, flights


@dataclass(frozen=True, slots=True)
class Item:
    """One planned sample: the product that comes from a bottle and how much of it.

    Of a mixed glass `recipe` says which it is and `twin` which is the same without alcohol.
    """

    pos: int
    product: str
    volume_ul: int
    recipe: str | None = None
    twin: str | None = None

    @property
    def glass(self) -> str:
        """What is asked for: the recipe of a mixed glass, else the product."""
        return self.recipe or self.product


def items(session: Session, site: Site, flight_id: int | None) -> tuple[Item, ...]:
    """Return a flight's samples in order, the welcome drink first; a tour without a flight has none."""
    if flight_id is None:
        return ()
    f = flight_items.c
    rows = session.execute(
        select(f.pos, f.product, f.volume_ul).where(f.flight_id == flight_id).order_by(f.pos)
    )
    return tuple(item(site, *row) for row in rows)


def item(site: Site, pos: int, code: str, volume_ul: int | None) -> Item:
    """Return a planned sample as it is served: by a recipe's own measure, a welcome as the site has it."""
    recipe = site.recipes.get(code)
    if recipe is None:
        return Item(pos, code, volume_ul or 0)
    if pos == WELCOME:
        return _welcome(site, recipe)
    return _mixed(pos, recipe, recipe.volume_ul)


def _welcome(site: Site, recipe: Recipe) -> Item:
    if site.welcome_drink is WelcomeDrink.ALCOHOL_FREE and recipe.twin:
        twin = site.recipes[recipe.twin]
        return _mixed(WELCOME, twin, twin.volume_ul)
    small = site.welcome_drink is WelcomeDrink.SMALL and recipe.small_ul
    return _mixed(WELCOME, recipe, small or recipe.volume_ul)


def _mixed(pos: int, recipe: Recipe, volume_ul: int) -> Item:
    return Item(pos, recipe.product or recipe.id, volume_ul, recipe.id, recipe.twin)


def next_item(flight: Sequence[Item], had: Iterable[str], declined: Iterable[str] = ()) -> Item | None:
    """Return the first sample whose glass, or its twin, a guest has neither had nor declined, or None.

    What is planned twice is had twice before the flight goes on.
    """
    done = Counter([*had, *declined])
    for planned in flight:
        glass = next((one for one in (planned.glass, planned.twin) if one and done[one]), None)
        if glass is None:
            return planned
        done[glass] -= 1
    return None


@dataclass(frozen=True, slots=True)
class Listed:
    """A flight in the list: how many samples, and whether a welcome drink comes first."""

    id: int
    name: str
    retired: bool
    samples: int
    welcome: bool


def flight_list(session: Session) -> list[Listed]:
    """Return every flight by name, the retired ones last."""
    f, i = flights.c, flight_items.c
    welcome = func.sum(case((i.pos == WELCOME, 1), else_=0))
    wanted = select(f.id, f.name, f.retired, func.count(i.id), func.coalesce(welcome, 0))
    wanted = wanted.outerjoin_from(flights, flight_items, i.flight_id == f.id)
    rows = session.execute(wanted.group_by(f.id, f.name, f.retired).order_by(f.retired, f.name))
    return [Listed(row[0], row[1], row[2], row[3] - row[4], bool(row[4])) for row in rows]
