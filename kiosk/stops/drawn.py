"""Which pictures of the records stand at which stop."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.paper.pictures import Picture
from kiosk.production.fills import read_fills
from kiosk.production.pictures import cask, run, store, wash
from kiosk.site.settings import Site
from kiosk.words.catalogs import Words


def pictures(session: Session, site: Site, slug: str, now: datetime, words: Words) -> list[Picture]:
    """Return what the records show at a stop; nothing where they tell too little."""
    if slug == "still-house":
        found = run.latest_run(session, now)
        return [run.run_so_far(found, now, site.zone, words)] if found else []
    if slug == "fermentation":
        drawn = wash.fermentation(wash.curves(session, now), words)
        return [drawn] if drawn else []
    return _cask(session, site, now, words) if slug == "cask-store" else []


def _cask(session: Session, site: Site, now: datetime, words: Words) -> list[Picture]:
    fills = [fill for fill in read_fills(session).values() if fill.filled_at <= now]
    chosen = cask.life_of(fills, now)
    if chosen is None:
        return []
    try:
        known = cask.fits(fills, now)
        stores = store.stores_life(fills, known, now, site.zone, words)
        return [*([stores] if stores else []), *cask.cask_life(chosen, known, now, site.zone, words)]
    except FigureError:  # too few gauges in the whole house to fit a loss
        return []
