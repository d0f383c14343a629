"""Writes the records of a folder, turning the codes by which they name each other into ids."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from kiosk.production.importing.building import Ref
from kiosk.production.importing.comparing import Sorted, has_source
from kiosk.production.importing.kinds import KINDS, Kind
from kiosk.production.importing.records import Record
from kiosk.production.importing.watching import RECORDING, Watch, unwatched
from kiosk.store import rows
from kiosk.store.tables import production

AT_ONCE = 5_000
"""So many rows are made ready and written at once: a table of them all would fill the memory."""
WHY = "the imported file says otherwise now"


@dataclass(slots=True)
class Ids:
    """The id of every record that others name, by kind and code."""

    by_kind: dict[str, dict[str, int]] = field(default_factory=dict)

    def load(self, session: Session) -> Ids:
        """Read every id that is known now."""
        batches = production.batches
        for kind, code, row_id in session.execute(select(batches.c.kind, batches.c.code, batches.c.id)):
            self.by_kind.setdefault(kind, {})[code] = row_id
        for kind in KINDS:
            if kind.named:
                self.by_kind[kind.named] = _ids_by_code(session, kind)
        return self

    def of(self, value: Any) -> Any:
        """Return the id that a reference stands for, and any other value as it is."""
        return self.by_kind[value.kind][value.code] if isinstance(value, Ref) else value


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes under one import, in one transaction."""

    session: Session
    ids: Ids
    by: int | None
    at: datetime
    import_id: int
    watch: Watch = unwatched

    def write(self, kind: Kind, found: Sorted) -> None:
        """Write what is changed, then what is new, so that a closed fill frees its cask first."""
        for record, row_id, revision in found.changed:
            values = self._values(record)
            rows.change(self.session, kind.table, row_id, revision, values, by=self.by, at=self.at, why=WHY)
        if found.new and kind.batch:
            self._name_batches(kind, found.new)
        if found.new:
            self._insert(kind, found.new)
        if found.new and kind.named:
            self.ids.by_kind[kind.named] = _ids_by_code(self.session, kind)

    def _insert(self, kind: Kind, new: Sequence[Record]) -> None:
        values = (self._new_values(one) for one in self.watch(new, len(new), RECORDING))
        while some := list(islice(values, AT_ONCE)):
            rows.insert_many(self.session, kind.table, some)

    def _name_batches(self, kind: Kind, records: Sequence[Record]) -> None:
        batches = production.batches
        named = [{"kind": kind.batch, "code": record.code} for record in records]
        self.session.execute(insert(batches), named)
        rows_now = self.session.execute(
            select(batches.c.code, batches.c.id).where(batches.c.kind == kind.batch)
        )
        self.ids.by_kind[kind.batch] = dict(rows_now.all())

    def _new_values(self, record: Record) -> dict[str, Any]:
        values = self._values(record)
        if record.kind.batch:
            values["id"] = self.ids.by_kind[record.kind.batch][record.code]
        return values

    def _values(self, record: Record) -> dict[str, Any]:
        values = {name: self.ids.of(value) for name, value in record.values.items()}
        return {**values, **self._source(record)} if has_source(record.kind.table) else values

    def _source(self, record: Record) -> Mapping[str, object]:
        return {
            "recorded_at": self.at,
            "recorded_by": self.by,
            "source": record.kind.file,
            "source_key": record.key,
            "source_hash": record.digest,
            "import_id": self.import_id,
        }


def _ids_by_code(session: Session, kind: Kind) -> dict[str, int]:
    table = kind.table
    return dict(session.execute(select(table.c.code, table.c.id)).all())
