"""Tares of casks by the fill that lies in them: what the files say goes before what is known."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.importing.building import TareOf
from kiosk.production.importing.kinds import CASKS, FILLS
from kiosk.production.importing.sources import Lines
from kiosk.store.tables import production as t


def read_tares(session: Session, lines: Lines) -> TareOf:
    """Return a function from a fill's code to the tare of its cask in grams."""
    b, f, c = t.batches.c, t.fills.c, t.casks.c
    filled = (
        select(b.code, c.code).join_from(t.fills, t.batches, b.id == f.id).join(t.casks, c.id == f.cask_id)
    )
    cask_of = dict(session.execute(filled).all())
    tare_g = dict(session.execute(select(c.code, c.tare_g)).all())
    cask_of |= {str(line["code"]): str(line["cask"]) for line in lines.get(FILLS.file, ())}
    for line in lines.get(CASKS.file, ()):
        tare_kg = line["tare_kg"]
        tare_g[str(line["code"])] = round(tare_kg * 1000) if isinstance(tare_kg, float) else None
    return lambda fill: tare_g.get(cask_of.get(fill, ""))
