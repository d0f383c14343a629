"""What was held for review: listed with its reasons, settled once, by a person."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row as ResultRow
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.production.forms.definitions import FORMS, FORMS_OF_ROWS
from kiosk.production.records.building import Row
from kiosk.production.records.faults import NEVER_CONFIRMABLE, FaultCode, RecordFaults
from kiosk.production.records.fields import Values, from_json
from kiosk.production.records.forms import Form
from kiosk.production.records.holding import ROW
from kiosk.production.records.recording import ReadRows, plan_import, write_import
from kiosk.production.records.submission import HELD, Source, sender, submit_form
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices, staff

CONFIRMED, CORRECTED, DROPPED, FOLLOWED = "confirmed", "corrected", "dropped", "followed"
_WAITING = held.c.kind.in_((HELD, ROW)), held.c.settled_at.is_(None)


@dataclass(frozen=True, slots=True)
class Reason:
    """What speaks against a held entry."""

    code: FaultCode
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """An entry that waits: of a form or an instrument, or a row of a file.

    `origin` is the row, and the name of `source` then the file of its kind.
    """

    id: int
    revision: int
    at: datetime
    by: str
    form: Form
    values: Values
    reasons: tuple[Reason, ...]
    source: Source
    origin: Row | None = None

    @property
    def recordable(self) -> bool:
        """Say whether a confirmation is enough to record it as it stands."""
        never = NEVER_CONFIRMABLE | {FaultCode.HELD_WITH_ANOTHER}
        return all(reason.code not in never for reason in self.reasons)

    def follows(self, code: str) -> bool:
        """Say whether it waits for what has this code, and for nothing but others that wait."""
        codes = {reason.code for reason in self.reasons}
        return codes == {FaultCode.HELD_WITH_ANOTHER} and code in {
            reason.facts["found"] for reason in self.reasons
        }


def count_held(session: Session) -> int:
    """Return how many entries wait."""
    return session.scalar(select(func.count()).select_from(held).where(*_WAITING)) or 0


def held_entries(
    session: Session, site: Site, held_id: int | None = None, most: int | None = None
) -> list[HeldEntry]:
    """Return the entries that wait, oldest first, at most `most`; or the one asked for."""
    query = select(held).where(*_WAITING).order_by(held.c.id).limit(most)
    every = session.execute(query if held_id is None else query.where(held.c.id == held_id)).all()
    people = _names(session, staff, {row.payload["by"] for row in every})
    instruments = _names(session, devices, {_sender(row) for row in every})
    return [
        _entry(row, site, people.get(row.payload["by"]) or instruments.get(_sender(row), "")) for row in every
    ]


def _names(session: Session, table: Any, ids: set[int | None]) -> dict[int | None, str]:
    return dict(session.execute(select(table.c.id, table.c.name).where(table.c.id.in_(ids - {None}))).all())


def _sender(row: ResultRow[Any]) -> int | None:
    return sender(row.payload.get("source", ""))


def _entry(row: ResultRow[Any], site: Site, by: str) -> HeldEntry:
    payload = row.payload
    reasons = tuple(Reason(FaultCode[one["code"].upper()], one["facts"]) for one in row.reasons)
    of_file = row.kind == ROW
    form = FORMS_OF_ROWS[payload["line"]] if of_file else FORMS[payload["form"]]
    source = Source(payload["line" if of_file else "source"], payload["digest"])
    values = from_json(form.fields, payload["cells"], site.zone)
    origin = Row(payload["row"], values, source.digest, file=payload["file"]) if of_file else None
    return HeldEntry(row.id, row.revision, row.at, by, form, values, reasons, source, origin)


def settle(
    session: Session,
    held_id: int,
    revision: int,
    outcome: str,
    *,
    by: int | None,
    at: datetime,
    why: str = "",
) -> None:
    """Record what became of a held entry, and why. Raises Stale when another person settled it first."""
    values = {"settled_at": at, "settled_by": by, "outcome": outcome}
    rows.change(session, held, held_id, revision, values, by=by, at=at, why=why or outcome)


def confirm(
    session: Session, site: Site, one: HeldEntry, revision: int, *, by: int | None, at: datetime
) -> None:
    """Record a held entry as it stands. Raises RecordFaults where that cannot be, Stale once settled."""
    settle(session, one.id, revision, CONFIRMED, by=by, at=at)
    if one.origin is None:
        submit_form(session, site, one.form, one.values, by=by, at=at, confirmed=True, source=one.source)
    else:
        _record_row(session, site, one.source.name, one.origin, by=by, at=at, confirmed=True)
        _follow(session, site, one.values.get("code"), by=by, at=at)


def correct_held(
    session: Session,
    site: Site,
    one: HeldEntry,
    revision: int,
    values: Values,
    *,
    by: int | None,
    at: datetime,
) -> bool:
    """Record a corrected entry, or hold it again; return whether it was recorded. Raises as `confirm`."""
    settle(session, one.id, revision, CORRECTED, by=by, at=at)
    if one.origin is None:
        return submit_form(session, site, one.form, values, by=by, at=at).held_id is None
    row = replace(one.origin, values=values)
    recorded = _record_row(session, site, one.source.name, row, by=by, at=at)
    if recorded:
        _follow(session, site, values.get("code"), by=by, at=at)
    return recorded


def _record_row(
    session: Session,
    site: Site,
    file: str,
    row: Row,
    *,
    by: int | None,
    at: datetime,
    confirmed: bool = False,
) -> bool:
    """Record a row of the kind of `file`, or hold it again, and say whether it was recorded.

    Raises RecordFaults. The record keeps the digest of its row in the file: the file read again
    says nothing new.
    """
    plan = plan_import(session, site, ReadRows({file: [row]}), {}, at=at, confirmed=confirmed)
    return not write_import(session, site, plan, by=by, at=at).held


def _follow(session: Session, site: Site, code: str | None, *, by: int | None, at: datetime) -> None:
    """Record the rows that waited for one that is recorded now; what is amiss with them goes on waiting."""
    codes: list[str] = [code] if code else []
    while codes:
        code = codes.pop()
        for one in _following(session, site, code):
            with suppress(RecordFaults, Stale), session.begin_nested():
                settle(session, one.id, one.revision, FOLLOWED, by=by, at=at)
                if one.origin and _record_row(session, site, one.source.name, one.origin, by=by, at=at):
                    codes += filter(None, [one.values.get("code")])


def _following(session: Session, site: Site, code: str) -> Sequence[HeldEntry]:
    return [one for one in held_entries(session, site) if one.origin and one.follows(code)]
