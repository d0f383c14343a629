"""What was held back: listed with its reasons, settled once, by a person."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.entering.entering import HELD, Source, enter
from kiosk.production.entering.forms import FORMS, Form
from kiosk.production.importing.holding import NEVER_AS_IT_IS
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import staff

CONFIRMED, CORRECTED, DROPPED = "confirmed", "corrected", "dropped"


@dataclass(frozen=True, slots=True)
class Waiting:
    """An entry that waits; `recordable` where a confirmation is enough to record it."""

    id: int
    revision: int
    at: datetime
    by: str
    form: Form
    cells: Mapping[str, str]
    reasons: tuple[Mapping[str, Any], ...]
    source: Source

    @property
    def recordable(self) -> bool:
        """Say whether it can be recorded as it stands."""
        return all(reason["message"] not in NEVER_AS_IT_IS for reason in self.reasons)


def waiting(session: Session, held_id: int | None = None) -> list[Waiting]:
    """Return the entries that nobody has settled, oldest first; or the one asked for."""
    h = held.c
    found = select(held).where(h.kind == HELD, h.settled_at.is_(None)).order_by(h.id)
    if held_id is not None:
        found = found.where(h.id == held_id)
    every = session.execute(found).all()
    asked = {row.payload["by"] for row in every}
    names = dict(session.execute(select(staff.c.id, staff.c.name).where(staff.c.id.in_(asked))).all())
    return [
        Waiting(
            row.id,
            row.revision,
            row.at,
            names.get(row.payload["by"], ""),
            FORMS[row.payload["form"]],
            row.payload["cells"],
            tuple(row.reasons),
            Source(row.payload["source"], row.payload["digest"]),
        )
        for row in every
    ]


def settle(
    session: Session, held_id: int, revision: int, outcome: str, *, by: int | None, at: datetime
) -> None:
    """Say what became of a held entry. Raises Stale when somebody else did first."""
    values = {"settled_at": at, "settled_by": by, "outcome": outcome}
    rows.change(session, held, held_id, revision, values, by=by, at=at, why=outcome)


def confirm(
    session: Session, site: Site, one: Waiting, revision: int, *, by: int | None, at: datetime
) -> None:
    """Record a held entry as it stands. Raises EntryFaults where that cannot be, Stale when it is settled."""
    settle(session, one.id, revision, CONFIRMED, by=by, at=at)
    enter(session, site, one.form, one.cells, by=by, at=at, confirmed=True, source=one.source)
