"""The form of a flight: rows of place, glass and size, brought into their order; the blank ones left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.service.plan import MOST_SAMPLES, WELCOME
from kiosk.site.settings import Site
from kiosk.store.tables.tours import flight_items
from kiosk.tasting.flights.planning import LONGEST_NAME, FlightFaults, Wanted, glasses
from kiosk.tasting.room.text import product_name, size
from kiosk.words.catalogs import Words
from kiosk.words.errors import fact_text

BLANK_ROWS, LEAST_ROWS = 3, 6
AS_ITS_RECIPE = ""
"""The size of a mixed glass, which its recipe gives."""


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One row of the form as it was typed or is kept; the sentence of what is wrong with it."""

    place: str = ""
    glass: str = ""
    size: str = ""
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class TypedFlight:
    """The form as it was typed or is kept."""

    name: str = ""
    welcome: str = ""
    rows: tuple[TypedRow, ...] = ()
    wrong: Mapping[str, str] | None = None


def kept(session: Session, flight_id: int, name: str) -> TypedFlight:
    """Return a flight as its form shows it."""
    i = flight_items.c
    planned = select(i.pos, i.product, i.volume_ul).where(i.flight_id == flight_id).order_by(i.pos)
    found = session.execute(planned).all()
    welcome = next((one.product for one in found if one.pos == WELCOME), "")
    rows = [
        TypedRow(str(one.pos), one.product, str(one.volume_ul or AS_ITS_RECIPE))
        for one in found
        if one.pos != WELCOME
    ]
    return TypedFlight(name, welcome, _with_blanks(rows))


def blank() -> TypedFlight:
    """Return the form of a flight that is not planned yet."""
    return TypedFlight(rows=_with_blanks([]))


def typed(form: Mapping[str, str]) -> TypedFlight:
    """Return what was sent, its rows in the order of their places and without the blank ones."""
    rows = [
        TypedRow(*(form.get(f"{part}-{n}", "").strip()[:40] for part in ("place", "glass", "size")))
        for n in range(1, MOST_SAMPLES + BLANK_ROWS + 1)
    ]
    filled = sorted((row for row in rows if row.glass), key=_place)
    name = " ".join(form.get("name", "").split())[: LONGEST_NAME + 1]
    return TypedFlight(name, form.get("welcome", "").strip()[:40], tuple(filled))


def _place(row: TypedRow) -> int:
    """Return where a row belongs; one without a place comes last."""
    return int(row.place) if row.place.isascii() and row.place.isdigit() else 10**6


def wanted(sent: TypedFlight, site: Site) -> Wanted:
    """Return the flight that was typed."""
    samples = tuple((row.glass, _size(row, site)) for row in sent.rows)
    return Wanted(sent.name, sent.welcome or None, samples)


def _size(row: TypedRow, site: Site) -> int | None:
    if row.glass in site.recipes:
        return None
    return int(row.size) if row.size.isascii() and row.size.isdigit() else 0


def with_faults(sent: TypedFlight, faults: FlightFaults, words: Words) -> TypedFlight:
    """Return the form again with what is wrong beside each field."""
    sentences = {
        field: words.gettext(message, **{name: fact_text(value, words) for name, value in facts.items()})
        for field, (message, facts) in faults.faults.items()
    }
    rows = [TypedRow(str(n), row.glass, row.size, sentences.get(n, "")) for n, row in enumerate(sent.rows, 1)]
    wrong = {str(field): sentence for field, sentence in sentences.items()}
    return TypedFlight(sent.name, sent.welcome, _with_blanks(rows), wrong)


def _with_blanks(rows: Iterable[TypedRow]) -> tuple[TypedRow, ...]:
    filled = tuple(rows)
    more = max(BLANK_ROWS, LEAST_ROWS - len(filled))
    return filled + (TypedRow(),) * max(0, min(more, MOST_SAMPLES - len(filled)))


def choices(session: Session, site: Site, words: Words) -> dict[str, list[tuple[str, str]]]:
    """Return what may be chosen: glasses, sizes, recipes that welcome."""
    sizes = sorted(site.measures, key=lambda measure: measure.volume_ul)
    named = [(code, product_name(site, code, words)) for code in glasses(session, site)]
    welcomes = [(r.id, product_name(site, r.id, words)) for r in site.recipes.values() if r.twin]
    return {
        "glasses": [("", "–"), *named],
        "sizes": [
            (AS_ITS_RECIPE, words.gettext("as its recipe says")),
            *((str(one.volume_ul), size(one.volume_ul, site, words)) for one in sizes),
        ],
        "welcomes": [("", words.gettext("no welcome drink")), *welcomes],
    }
