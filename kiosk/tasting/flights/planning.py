"""Flights: their samples in order, the next one for a guest, and saving and archiving flights.

A change of a flight leaves what was poured from it as it is.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.service.plan import MOST_SAMPLES, WELCOME
from kiosk.site.settings import Recipe, Site, WelcomeDrink
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.names import LONGEST_NAME
from kiosk.store.tables.tasting import approvals
from kiosk.store.tables.tours import flight_items, flights, tours
from kiosk.tasting.errors import TastingError
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault, FormFaults


@dataclass(frozen=True, slots=True)
class Item:
    """A planned sample: the product that is poured from a bottle and its volume.

    For a mixed glass `recipe` is its recipe and `twin` the recipe of the same glass without alcohol.
    """

    pos: int
    product: str
    volume_ul: int
    recipe: str | None = None
    twin: str | None = None

    @property
    def glass(self) -> str:
        """The code of the glass: the recipe of a mixed one, else the product."""
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


def items_of_flights(session: Session, site: Site) -> Mapping[int, tuple[Item, ...]]:
    """Return the samples of every flight like `items`, by the flight's id, in one query."""
    f = flight_items.c
    by_flight: dict[int, tuple[Item, ...]] = defaultdict(tuple)
    every = select(f.flight_id, f.pos, f.product, f.volume_ul).order_by(f.flight_id, f.pos)
    for flight_id, *one in session.execute(every):
        by_flight[flight_id] += (item(site, *one),)
    return by_flight


def item(site: Site, pos: int, code: str, volume_ul: int | None) -> Item:
    """Return a planned sample as it is served: mixed glasses by their recipe, a welcome by the site's way."""
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
    """Return the first of `items_left`, or None."""
    return next(iter(items_left(flight, had, declined)), None)


def items_left(flight: Sequence[Item], had: Iterable[str], declined: Iterable[str] = ()) -> list[Item]:
    """Return the samples whose glass, or its twin, a guest has neither had nor declined.

    A glass that is planned twice has to be had twice.
    """
    states = sample_states(flight, had, declined)
    return [planned for planned, state in zip(flight, states, strict=True) if not state]


def sample_states(flight: Sequence[Item], had: Iterable[str], declined: Iterable[str] = ()) -> list[str]:
    """Return for each sample of a flight what became of it for a guest: had, free, skipped, or "" to come.

    Free is the twin without alcohol in its place.
    """
    poured, skipped, states = Counter(had), Counter(declined), list[str]()
    for planned in flight:
        codes = [code for code in (planned.glass, planned.twin) if code]
        glass = next((code for code in codes if poured[code]), "")
        passed = next((code for code in codes if skipped[code]), "")
        if glass:
            poured[glass] -= 1
        elif passed:
            skipped[passed] -= 1
        states.append(("had" if glass == planned.glass else "free") if glass else "skipped" if passed else "")
    return states


def flight_list(session: Session) -> Sequence[Row[Any]]:
    """Return the id and name of every flight by name, and whether it is `archived`: those come last.

    Each with the number of its `samples` and of its `welcome` drinks, one or none.
    """
    f, i = flights.c, flight_items.c
    samples = func.count(case((i.pos != WELCOME, i.id))).label("samples")
    welcome = func.count(case((i.pos == WELCOME, i.id))).label("welcome")
    query: Select[Any] = select(f.id, f.name, f.names, f.archived, samples, welcome)
    query = query.outerjoin_from(flights, flight_items, i.flight_id == f.id)
    query = query.group_by(f.id).order_by(f.archived, f.name)
    return session.execute(query).all()


@dataclass(frozen=True, slots=True)
class FlightDraft:
    """A flight to be saved. `names` are by language; `name` is that of the site's first language.

    `samples` are in order, each a glass and its volume (µL; None: as its recipe says); `welcome` is the
    recipe of the welcome drink, or None.
    """

    name: str
    welcome: str | None
    samples: tuple[tuple[str, int | None], ...]
    names: Mapping[str, str] = field(default_factory=dict)


class FlightFaults(FormFaults[str | int]):
    """Raised for a draft that is no valid flight, with a fault by "name", "welcome", "samples" or place."""

    message = N_("This flight is not saved yet. What is missing is marked below.")


class FlightArchived(TastingError):
    """Raised when a tour is to get an archived flight."""

    status = 409
    message = N_("This flight is archived: use it again before you assign it to a tour.")


def save_flight(
    session: Session,
    site: Site,
    draft: FlightDraft,
    *,
    by: int,
    at: datetime,
    flight_id: int | None = None,
    revision: int = 0,
) -> int:
    """Save a new flight, or change the flight of `flight_id` at `revision`, and return its id.

    The former flight goes to the history. Raises FlightFaults with all faults; Stale and NoSuchRow like
    every change of a row.
    """
    faults = _faults(session, site, draft, flight_id)
    if faults:
        raise FlightFaults(faults)
    named = {"name": draft.name, "names": dict(draft.names) or None}
    if flight_id is None:
        flight_id = rows.insert(session, flights, {**named, "archived": False})
    else:
        rows.change(session, flights, flight_id, revision, named, by=by, at=at)
        i = flight_items.c
        for row in session.execute(select(i.id, i.revision).where(i.flight_id == flight_id)).all():
            rows.void(session, flight_items, row.id, row.revision, by=by, at=at)
    welcome = [(WELCOME, draft.welcome, None)] if draft.welcome else []
    samples = [
        {"flight_id": flight_id, "pos": pos, "product": glass, "volume_ul": volume_ul}
        for pos, glass, volume_ul in (*welcome, *((n, *one) for n, one in enumerate(draft.samples, 1)))
    ]
    rows.insert_many(session, flight_items, samples)
    return flight_id


def set_archived(
    session: Session, flight_id: int, revision: int, archived: bool, *, by: int, at: datetime
) -> None:
    """Archive a flight or bring it back into use. Tours that have it keep it."""
    rows.change(session, flights, flight_id, revision, {"archived": archived}, by=by, at=at)


def assign_to_tour(
    session: Session, flight_id: int, tour_id: int, revision: int, *, by: int, at: datetime
) -> None:
    """Assign a flight to a tour at its `revision`. Raises FlightArchived and NoSuchRow."""
    f = flights.c
    archived = session.execute(select(f.archived).where(f.id == flight_id)).scalar_one_or_none()
    if archived is None:
        raise NoSuchRow(flights.name, flight_id)
    if archived:
        raise FlightArchived()
    rows.change(session, tours, tour_id, revision, {"flight_id": flight_id}, by=by, at=at)


def _faults(
    session: Session, site: Site, draft: FlightDraft, flight_id: int | None
) -> dict[str | int, Fault]:
    faults = _sample_faults(session, site, draft)
    if not draft.name or any(len(name) > LONGEST_NAME for name in (draft.name, *draft.names.values())):
        faults["name"] = (N_("Give it a name of at most {most} characters."), {"most": LONGEST_NAME})
    elif _taken(session, draft.name, flight_id):
        faults["name"] = (N_("Another flight has this name. Choose one that tells them apart."), {})
    if not 1 <= len(draft.samples) <= MOST_SAMPLES:
        faults["samples"] = (N_("A flight has 1 to {most} samples."), {"most": MOST_SAMPLES})
    recipe = site.recipes.get(draft.welcome or "")
    if draft.welcome and (recipe is None or recipe.twin is None):
        faults["welcome"] = (N_("No recipe here is called {recipe}."), {"recipe": draft.welcome})
    return faults


def _sample_faults(session: Session, site: Site, draft: FlightDraft) -> dict[str | int, Fault]:
    measures = {measure.volume_ul for measure in site.measures}
    known = glasses(session, site)
    faults: dict[str | int, Fault] = {}
    for place, (glass, volume_ul) in enumerate(draft.samples, 1):
        if glass not in known:
            faults[place] = (N_("No product here is called {product}."), {"product": glass})
        elif glass not in site.recipes and volume_ul not in measures:
            faults[place] = (N_("Choose one of the measures of the house."), {})
    return faults


def _taken(session: Session, name: str, flight_id: int | None) -> bool:
    others = select(flights.c.id).where(flights.c.name == name, flights.c.id != (flight_id or 0))
    return session.execute(others).first() is not None


def glasses(session: Session, site: Site) -> tuple[str, ...]:
    """Return the codes that a flight may hold: products, other approved ones, and mixed glasses."""
    r = approvals.c
    approved = session.scalars(select(r.product).distinct().order_by(r.product))
    mixed = [recipe.id for recipe in site.recipes.values() if recipe.twin]
    return tuple(dict.fromkeys([*site.products, *approved, *mixed]))
