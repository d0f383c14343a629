"""The form of a flight: rows of place, glass and size, read, sorted by place and shown again with faults."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.service.plan import MOST_SAMPLES, WELCOME
from kiosk.site.products import product_name
from kiosk.site.settings import Site
from kiosk.store.names import LONGEST_NAME, typed_names
from kiosk.store.tables.tours import flight_items
from kiosk.tasting.flights.planning import FlightDraft, FlightFaults, glasses
from kiosk.tasting.room.text import size_in_both
from kiosk.words.catalogs import Words

BLANK_ROWS, LEAST_ROWS = 3, 6
AS_ITS_RECIPE = ""
"""The value of the size field of a mixed glass, whose size its recipe gives."""


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One row of the form, as typed or as saved; `wrong` is the message about it."""

    place: str = ""
    glass: str = ""
    size: str = ""
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class TypedFlight:
    """The form, as typed or as saved; `wrong` are the messages by field."""

    name: str = ""
    welcome: str = ""
    rows: tuple[TypedRow, ...] = ()
    wrong: Mapping[str, str] | None = None
    names: Mapping[str, str] = field(default_factory=dict)


def form_of_flight(
    session: Session, flight_id: int, name: str, names: Mapping[str, str] | None = None
) -> TypedFlight:
    """Return the form filled in with a saved flight."""
    i = flight_items.c
    planned = select(i.pos, i.product, i.volume_ul).where(i.flight_id == flight_id).order_by(i.pos)
    items = session.execute(planned).all()
    welcome = next((item.product for item in items if item.pos == WELCOME), "")
    rows = [
        TypedRow(str(item.pos), item.product, str(item.volume_ul or AS_ITS_RECIPE))
        for item in items
        if item.pos != WELCOME
    ]
    return TypedFlight(name, welcome, _with_blanks(rows), names=names or {})


def blank_form() -> TypedFlight:
    """Return an empty form."""
    return TypedFlight(rows=_with_blanks([]))


def read_form(form: Mapping[str, str], languages: Sequence[str] = ()) -> TypedFlight:
    """Return the form that was sent, with its rows sorted by place and the blank ones left out."""
    rows = [
        TypedRow(*(form.get(f"{part}-{n}", "").strip()[:40] for part in ("place", "glass", "size")))
        for n in range(1, MOST_SAMPLES + BLANK_ROWS + 1)
    ]
    filled = sorted((row for row in rows if row.glass), key=_place)
    name = " ".join(form.get("name", "").split())[: LONGEST_NAME + 1]
    names = typed_names(form, languages)
    return TypedFlight(name, form.get("welcome", "").strip()[:40], tuple(filled), names=names)


def _place(row: TypedRow) -> int:
    """Return the place of a row as a number to sort by; a row without one comes last."""
    return int(row.place) if row.place.isascii() and row.place.isdigit() else 10**6


def draft_of(sent: TypedFlight, site: Site) -> FlightDraft:
    """Return the flight that a form describes."""
    samples = tuple((row.glass, _size(row, site)) for row in sent.rows)
    return FlightDraft(sent.name, sent.welcome or None, samples, sent.names)


def _size(row: TypedRow, site: Site) -> int | None:
    if row.glass in site.recipes:
        return None
    return int(row.size) if row.size.isascii() and row.size.isdigit() else 0


def with_faults(sent: TypedFlight, faults: FlightFaults, words: Words) -> TypedFlight:
    """Return the form with a message beside each field that is wrong."""
    sentences = faults.sentences(words)
    rows = [TypedRow(str(n), row.glass, row.size, sentences.get(n, "")) for n, row in enumerate(sent.rows, 1)]
    wrong = {str(field): sentence for field, sentence in sentences.items()}
    return TypedFlight(sent.name, sent.welcome, _with_blanks(rows), wrong, sent.names)


def _with_blanks(rows: Iterable[TypedRow]) -> tuple[TypedRow, ...]:
    filled = tuple(rows)
    more = max(BLANK_ROWS, LEAST_ROWS - len(filled))
    return filled + (TypedRow(),) * max(0, min(more, MOST_SAMPLES - len(filled)))


def choices(session: Session, site: Site, words: Words) -> dict[str, list[tuple[str, str]]]:
    """Return the choices of the form's fields: glasses, sizes and welcome drinks."""
    sizes = sorted(site.measures, key=lambda measure: measure.volume_ul)
    named = [(code, product_name(site, code, words)) for code in glasses(session, site)]
    welcomes = [(r.id, product_name(site, r.id, words)) for r in site.recipes.values() if r.twin]
    return {
        "glasses": [("", "–"), *named],
        "sizes": [
            (AS_ITS_RECIPE, words.gettext("as its recipe says")),
            *((str(one.volume_ul), size_in_both(one.volume_ul, site, words)) for one in sizes),
        ],
        "welcomes": [("", words.gettext("no welcome drink")), *welcomes],
    }
