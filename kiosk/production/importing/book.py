"""The records of an import by what they are and what they name, to find the row that a finding belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from kiosk.production.importing.building import Ref
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.records import Record


class Book:
    """`records` are all that the import says; `fresh` those of them that it adds or changes."""

    def __init__(self, records: Iterable[Record], fresh: Iterable[Record] | None = None) -> None:
        self._all = {(one.kind.file, one.key): one for one in records}
        self.fresh = list(self._all.values() if fresh is None else fresh)

    def find(self, file: str, key: str | None) -> Record | None:
        """Return the record of a row, looked for among all."""
        return self._all.get((file, key or ""))

    def find_fresh(self, file: str, key: str | None) -> Record | None:
        """Return the record of a row that is added or changed."""
        return self._fresh_by_key.get((file, key or ""))

    def naming(self, kind: str, code: str) -> Record | None:
        """Return the last record added or changed that is, or names, what has this code."""
        return self._naming.get((kind, code))

    @cached_property
    def _fresh_by_key(self) -> Mapping[tuple[str, str], Record]:
        return {(one.kind.file, one.key): one for one in self.fresh}

    @cached_property
    def _naming(self) -> Mapping[tuple[str, str], Record]:
        found = {}
        for one in self.fresh:
            found[one.kind.batch or one.kind.named, one.code] = one
            for value in one.values.values():
                if isinstance(value, Ref):
                    found[value.kind, value.code] = one
        return found


def fault_at(record: Record, column: str, found: object, message: str, **more: object) -> RecordFault:
    """Return a finding in the row of a record; numbers are rounded as a person reads them."""
    said = {name: round(value, 2) if isinstance(value, float) else value for name, value in more.items()}
    return record.fault(column, round(found, 2) if isinstance(found, float) else found, message, **said)
