"""The planned samples of a tasting and which of them comes next for a guest.

Flights planned, changed, archived and given to tours. What was poured already stays as it was.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.service.plan import MOST_SAMPLES, WELCOME
from kiosk.site.settings import Recipe, Site, WelcomeDrink
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tasting import approvals
from kiosk.store.tables.tours import flight_items, flights, tours
from kiosk.tasting.errors import Fault, FormFaults, TastingError
from kiosk.words.catalogs import N_


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
    archived: bool
    samples: int
    welcome: bool


def flight_list(session: Session) -> list[Listed]:
    """Return every flight by name, the archived ones last."""
    f, i = flights.c, flight_items.c
    welcome = func.sum(case((i.pos == WELCOME, 1), else_=0))
    wanted = select(f.id, f.name, f.archived, func.count(i.id), func.coalesce(welcome, 0))
    wanted = wanted.outerjoin_from(flights, flight_items, i.flight_id == f.id)
    rows = session.execute(wanted.group_by(f.id, f.name, f.archived).order_by(f.archived, f.name))
    return [Listed(row[0], row[1], row[2], row[3] - row[4], bool(row[4])) for row in rows]


LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Wanted:
    """A flight as somebody wants it.

    `samples` are in order, each a glass and how much of it (µL; None: as its recipe
    says); `welcome` is the recipe of the welcome drink, if there is one.
    """

    name: str
    welcome: str | None
    samples: tuple[tuple[str, int | None], ...]


class FlightFaults(FormFaults[str | int]):
    """What was typed is no flight: a sentence with its facts by "name", "welcome", "samples" or a place."""

    message = N_("This flight is not saved yet. What is missing is marked below.")


class FlightArchived(TastingError):
    """A archived flight is given to no tour."""

    status = 409
    message = N_("This flight is archived: use it again before you assign it to a tour.")


def save(
    session: Session,
    site: Site,
    wanted: Wanted,
    *,
    by: int,
    at: datetime,
    flight_id: int | None = None,
    revision: int = 0,
) -> int:
    """Plan a flight, or change the one that was looked at under `revision`, and return its id.

    Its former self goes to the history. Raises FlightFaults with all that is wrong;
    Stale and NoSuchRow like every change of a row.
    """
    faults = _faults(session, site, wanted, flight_id)
    if faults:
        raise FlightFaults(faults)
    if flight_id is None:
        flight_id = rows.insert(session, flights, {"name": wanted.name, "archived": False})
    else:
        rows.change(session, flights, flight_id, revision, {"name": wanted.name}, by=by, at=at)
        _clear(session, flight_id, by, at)
    welcome = [(WELCOME, wanted.welcome, None)] if wanted.welcome else []
    planned = [*welcome, *((pos, *one) for pos, one in enumerate(wanted.samples, 1))]
    names = ("pos", "product", "volume_ul")
    samples = [{"flight_id": flight_id, **dict(zip(names, one, strict=True))} for one in planned]
    rows.insert_many(session, flight_items, samples)
    return flight_id


def archive(
    session: Session, flight_id: int, revision: int, archived: bool, *, by: int, at: datetime
) -> None:
    """Retire a flight, or take it up again. Tours that have it keep it."""
    rows.change(session, flights, flight_id, revision, {"archived": archived}, by=by, at=at)


def give(session: Session, flight_id: int, tour_id: int, revision: int, *, by: int, at: datetime) -> None:
    """Give a tour, looked at under `revision`, a flight. Raises FlightArchived."""
    f = flights.c
    archived = session.execute(select(f.archived).where(f.id == flight_id)).scalar_one_or_none()
    if archived is None:
        raise NoSuchRow(flights.name, flight_id)
    if archived:
        raise FlightArchived()
    rows.change(session, tours, tour_id, revision, {"flight_id": flight_id}, by=by, at=at)


def _clear(session: Session, flight_id: int, by: int, at: datetime) -> None:
    """Take the samples out, each into the history: never more than a flight has."""
    i = flight_items.c
    former = session.execute(select(i.id, i.revision).where(i.flight_id == flight_id)).all()
    for one in former:
        rows.withdraw(session, flight_items, one.id, one.revision, by=by, at=at)


def _faults(session: Session, site: Site, wanted: Wanted, flight_id: int | None) -> dict[str | int, Fault]:
    found = _sample_faults(session, site, wanted)
    if not wanted.name or len(wanted.name) > LONGEST_NAME:
        found["name"] = (N_("Give it a name of at most {most} characters."), {"most": LONGEST_NAME})
    elif _taken(session, wanted.name, flight_id):
        found["name"] = (N_("Another flight has this name. Choose one that tells them apart."), {})
    if not 1 <= len(wanted.samples) <= MOST_SAMPLES:
        found["samples"] = (N_("A flight has 1 to {most} samples."), {"most": MOST_SAMPLES})
    recipe = site.recipes.get(wanted.welcome or "")
    if wanted.welcome and (recipe is None or recipe.twin is None):
        found["welcome"] = (N_("No recipe here is called {recipe}."), {"recipe": wanted.welcome})
    return found


def _sample_faults(session: Session, site: Site, wanted: Wanted) -> dict[str | int, Fault]:
    measures = {measure.volume_ul for measure in site.measures}
    known = glasses(session, site)
    found: dict[str | int, Fault] = {}
    for place, (glass, volume_ul) in enumerate(wanted.samples, 1):
        if glass not in known:
            found[place] = (N_("No product here is called {product}."), {"product": glass})
        elif glass not in site.recipes and volume_ul not in measures:
            found[place] = (N_("Choose one of the measures of the house."), {})
    return found


def _taken(session: Session, name: str, flight_id: int | None) -> bool:
    others = select(flights.c.id).where(flights.c.name == name, flights.c.id != (flight_id or 0))
    return session.execute(others).first() is not None


def glasses(session: Session, site: Site) -> tuple[str, ...]:
    """Return what a flight may hold: products, what was approved without being one, and mixed glasses."""
    r = approvals.c
    approved = session.scalars(select(r.product).distinct().order_by(r.product))
    mixed = [recipe.id for recipe in site.recipes.values() if recipe.twin]
    return tuple(dict.fromkeys([*site.products, *approved, *mixed]))
