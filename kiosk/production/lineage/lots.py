"""Bottlings as they are recorded, with the pictures and the amount of cane that their pages show."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import ON_DEMAND, CachedDocument
from kiosk.paper.pictures import Picture
from kiosk.production.lineage.chain import read_upstream
from kiosk.production.lineage.origin import chain_flow, paragraph, where_from
from kiosk.production.lineage.provenance import Provenance, proportions, trace_provenance
from kiosk.site.content.rendering import PageReader, StatedFigure
from kiosk.site.settings import Product, Site
from kiosk.store.tables.production import batches, lots
from kiosk.words.catalogs import Words

CANE = "cane_in_a_bottle"
NOT_KNOWN = "not_known"

_LOTS = select(lots, batches.c.code).join_from(lots, batches, lots.c.id == batches.c.id)


LOT_RECORDS = frozenset({"loads", "washes", "vessels", "runs", "casks", "lots", "draws", "display_names"})
"""The subjects of the records behind a bottling, and of the names that its pages show."""
BOTTLE_PAGE, BOTTLE_PAPER = CachedDocument(LOT_RECORDS, 600), CachedDocument(LOT_RECORDS, 24 * 3600)


@dataclass(frozen=True, slots=True)
class Lot:
    """A bottling. `product` is None when the site no longer lists it; strengths are % vol at 20 °C."""

    id: int
    code: str
    product_id: str
    product: Product | None
    bottled_on: date
    bottles: int
    bottle_ml: int
    abv_percent: float
    at_most: bool  # the strength is not known more closely than that of the spirit before fruit and water


@dataclass(frozen=True, slots=True)
class Bottle:
    """What the page of a bottling shows of the records, in one language."""

    lot: Lot
    story: str
    pictures: list[Picture]
    cane: StatedFigure | None


def read_bottle(session: Session, site: Site, lot: Lot, reader: PageReader) -> Bottle:
    """Return what the page of a bottling shows, in the reader's language."""
    provenance = read_provenance(session, site, lot)
    story = paragraph(provenance, lot.bottled_on, reader.words)
    return Bottle(lot, story, lot_pictures(provenance, lot, reader.words), cane_in_bottle(reader, lot))


def find_lot(session: Session, site: Site, code: str) -> Lot | None:
    """Return the bottling with a lot's code, or None when there is none."""
    row = session.execute(_LOTS.where(batches.c.code == code)).first()
    return _lot(row, site) if row else None


def lots_of(session: Session, site: Site, product_id: str) -> list[Lot]:
    """Return the bottlings of a product that are on record, the newest first."""
    newest_first = (lots.c.bottled_on.desc(), batches.c.code.desc())
    rows = session.execute(_LOTS.where(lots.c.product == product_id).order_by(*newest_first))
    return [_lot(row, site) for row in rows]


def _lot(row: Row[*tuple[Any, ...]], site: Site) -> Lot:
    same = {name: getattr(row, name) for name in ("id", "code", "bottled_on", "bottles", "bottle_ml")}
    listed, at_most = site.products.get(row.product), row.strength_basis == NOT_KNOWN
    return Lot(**same, product_id=row.product, product=listed, abv_percent=row.abv_e2 / 100, at_most=at_most)


def read_provenance(session: Session, site: Site, lot: Lot) -> Provenance:
    """Return the provenance of a bottling, in a number of queries that does not grow with its depth."""
    return trace_provenance(read_upstream(session, lot.id), site.zone)


def lot_pictures(provenance: Provenance, lot: Lot, words: Words) -> list[Picture]:
    """Return the pictures of a bottling: where it comes from, and what became of the sugar."""
    pictures = [where_from(provenance, lot.code, words)]
    if steps := proportions(provenance.upstream):
        pictures.append(chain_flow(steps, lot.bottles, bool(provenance.of("fill")), words))
    return [picture for picture in pictures if picture]


def cane_in_bottle(reader: PageReader, lot: Lot) -> StatedFigure | None:
    """Return how much cane is behind a bottle of this lot, or None where it is not known.

    A figure with one value for the whole house is about the newest lot: it is
    returned only where it rests on this one.
    """
    spec = reader.figures.specs.get(CANE)
    if spec is None:
        return None
    cane = reader.stated(CANE, lot.code if spec.of in ON_DEMAND else "")
    of_this_lot = spec.of in ON_DEMAND or f"lot:{lot.id}" in cane.figure.rests_on
    return cane if cane.text.value and of_this_lot else None
