"""Which pictures of the records stand at which stop."""

from __future__ import annotations

from datetime import tzinfo

from sqlalchemy.orm import Session

from kiosk.paper.pictures import Picture
from kiosk.production.pictures import cellar, run, wash
from kiosk.stops.pages import Reader


def pictures(session: Session, slug: str, reader: Reader, zone: tzinfo) -> list[Picture]:
    """Return what the records show at a stop; nothing where they tell too little."""
    now, words = reader.now, reader.words
    if slug == "still-house":
        found = run.latest_run(session, now)
        return [run.run_so_far(found, now, zone, words)] if found else []
    if slug == "fermentation":
        drawn = wash.fermentation(wash.curves(session, now), words)
        return [drawn] if drawn else []
    life = reader.book.kept(cellar.CELLAR_LIFE) if slug == "cask-store" else None
    return cellar.drawn(life, zone, words) if life else []
