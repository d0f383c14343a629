"""What the pictures of the cask store need of all fills: worked out once per change of the records."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from sqlalchemy.orm import Session

from kiosk.figures.casks import Fill
from kiosk.figures.errors import FigureError
from kiosk.figures.keeping import Source
from kiosk.paper.pictures import Picture
from kiosk.production.fills import read_fills
from kiosk.production.pictures import cask, store
from kiosk.site.settings import Site
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class CellarLife:
    """The stores over the years, and the one cask whose life is drawn beside them."""

    now: datetime
    chosen: Fill
    known: cask.Fits
    stores: store.StoresLife | None


def _life(session: Session, site: Site, now: datetime) -> CellarLife | None:
    """Return what the records tell; None where they tell too little."""
    fills = [fill for fill in read_fills(session).values() if fill.filled_at <= now]
    chosen = cask.life_of(fills, now)
    if chosen is None:
        return None
    try:
        known = cask.fits(fills, now)
        return CellarLife(now, chosen, known, store.stores_life(fills, known, now))
    except FigureError:  # too few gauges in the whole house to fit a loss
        return None


CELLAR_LIFE = Source(frozenset({"casks", "draws"}), 6 * 3600, _life)


def drawn(life: CellarLife, zone: tzinfo, words: Words) -> list[Picture]:
    """Draw the stores' life and a cask's."""
    stores = [store.stores_drawn(life.stores, zone, words)] if life.stores else []
    return [*stores, *cask.cask_life(life.chosen, life.known, life.now, zone, words)]
