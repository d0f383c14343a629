"""What may be wrong with a file of records: the place, what was found, the remedy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from kiosk.words.catalogs import N_


class Unreadable(ValueError):
    """A cell does not say what its column asks for; `message` names the remedy."""

    def __init__(self, message: str, column: str = "", **facts: object) -> None:
        super().__init__(message)
        self.message = message
        self.column = column
        self.facts = facts


@dataclass(frozen=True, slots=True)
class RecordFault:
    """One thing wrong in one place. `row` counts as a spreadsheet does: 1 is the header."""

    file: str
    row: int
    column: str
    found: str
    message: str
    more: Mapping[str, object] = field(default_factory=dict)

    @property
    def facts(self) -> dict[str, object]:
        """Every value that `message` may name."""
        place = {"file": self.file, "row": self.row, "column": self.column, "found": self.found}
        return {**place, **self.more}

    def __str__(self) -> str:
        return self.message.format(**self.facts)


class FileRefused(Exception):
    """A file cannot be read as a table at all."""

    def __init__(self, *faults: RecordFault) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


class RecordFaults(Exception):
    """Records that cannot be taken in; nothing of the folder was imported."""

    status = 422
    message = N_("The records hold {n} faults, so nothing was imported. First: {first}")

    def __init__(self, faults: Sequence[RecordFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(map(str, self.faults)))

    @property
    def facts(self) -> dict[str, object]:
        """The number of faults and the first of them."""
        return {"n": len(self.faults), "first": str(self.faults[0]) if self.faults else ""}
