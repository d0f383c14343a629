"""What was held back: listed with its reasons, settled once, by a person."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.production.entering.asking import Form
from kiosk.production.entering.entering import HELD, Source, enter, sender
from kiosk.production.entering.file_rows import FORMS_OF_ROWS, FileRow, take_row
from kiosk.production.entering.forms import FORMS
from kiosk.production.entering.reading import EntryFaults
from kiosk.production.importing.holding import LINE, NEVER_AS_IT_IS, WITH_ANOTHER
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices, staff

CONFIRMED, CORRECTED, DROPPED, FOLLOWED = "confirmed", "corrected", "dropped", "followed"


@dataclass(frozen=True, slots=True)
class Waiting:
    """An entry that waits; `recordable` where a confirmation is enough to record it.

    It came by a form or an instrument (`source`), or is a row of a file (`origin`).
    """

    id: int
    revision: int
    at: datetime
    by: str
    form: Form
    cells: Mapping[str, str]
    reasons: tuple[Mapping[str, Any], ...]
    source: Source
    origin: FileRow | None = None

    @property
    def recordable(self) -> bool:
        """Say whether it can be recorded as it stands."""
        return all(reason["message"] not in NEVER_AS_IT_IS | {WITH_ANOTHER} for reason in self.reasons)

    def follows(self, code: str) -> bool:
        """Say whether it waits for what has this code, and for nothing but others that wait."""
        names = [reason["facts"]["found"] for reason in self.reasons if reason["message"] == WITH_ANOTHER]
        return len(names) == len(self.reasons) and code in names


def waiting(session: Session, held_id: int | None = None) -> list[Waiting]:
    """Return the entries that nobody has settled, oldest first; or the one asked for."""
    h = held.c
    found = select(held).where(h.kind.in_((HELD, LINE)), h.settled_at.is_(None)).order_by(h.id)
    if held_id is not None:
        found = found.where(h.id == held_id)
    every = session.execute(found).all()
    asked = {row.payload["by"] for row in every}
    names = dict(session.execute(select(staff.c.id, staff.c.name).where(staff.c.id.in_(asked))).all())
    senders = {device for row in every if (device := sender(row.payload.get("source", ""))) is not None}
    sent = dict(session.execute(select(devices.c.id, devices.c.name).where(devices.c.id.in_(senders))).all())
    return [_waiting(row, names.get(row.payload["by"]) or _sent_by(row, sent)) for row in every]


def _sent_by(row: Row[Any], sent: Mapping[int, str]) -> str:
    device = sender(row.payload.get("source", ""))
    return "" if device is None else sent.get(device, "")


def _waiting(row: Row[Any], by: str) -> Waiting:
    says = row.payload
    common = (row.id, row.revision, row.at, by)
    if row.kind == LINE:
        origin = FileRow(says["line"], says["file"], says["row"], says["digest"])
        source = Source(says["line"], says["digest"])
        return Waiting(
            *common, FORMS_OF_ROWS[says["line"]], says["cells"], tuple(row.reasons), source, origin
        )
    source = Source(says["source"], says["digest"])
    return Waiting(*common, FORMS[says["form"]], says["cells"], tuple(row.reasons), source)


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
    if one.origin is None:
        enter(session, site, one.form, one.cells, by=by, at=at, confirmed=True, source=one.source)
    else:
        take_row(session, site, one.origin, one.cells, by=by, at=at, confirmed=True)
        _follow(session, site, one.cells.get("code", ""), by=by, at=at)


def correct(
    session: Session,
    site: Site,
    one: Waiting,
    revision: int,
    cells: Mapping[str, str],
    *,
    by: int | None,
    at: datetime,
) -> bool:
    """Record a held entry put right, or hold it again; say whether it was recorded. Raises as `confirm`."""
    settle(session, one.id, revision, CORRECTED, by=by, at=at)
    if one.origin is None:
        return enter(session, site, one.form, cells, by=by, at=at).held_id is None
    recorded = take_row(session, site, one.origin, cells, by=by, at=at, confirmed=False)
    if recorded:
        _follow(session, site, cells.get("code", ""), by=by, at=at)
    return recorded


def _follow(session: Session, site: Site, code: str, *, by: int | None, at: datetime) -> None:
    """Record the rows that waited for one that is recorded now; what is amiss with them goes on waiting."""
    codes = [code]
    while codes:
        code = codes.pop()
        for one in [other for other in waiting(session) if other.origin and code and other.follows(code)]:
            with suppress(EntryFaults, Stale), session.begin_nested():
                settle(session, one.id, one.revision, FOLLOWED, by=by, at=at)
                if one.origin and take_row(
                    session, site, one.origin, one.cells, by=by, at=at, confirmed=False
                ):
                    codes.append(one.cells.get("code", ""))
