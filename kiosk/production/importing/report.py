"""What an import did, or would do: so much of each file, what waits, what is wrong."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.holding import HeldLine
from kiosk.words.catalogs import N_


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows of a file are new, changed, the same, put right since, withdrawn, held back, wrong."""

    new: int
    changed: int
    same: int
    corrected: int
    withdrawn: int
    held: int
    wrong: int = 0


class Otherwise(Exception):
    """An import would do something else than what was looked at."""

    status = 409
    message = N_("The records have changed since you looked. Look again before you say yes.")
    facts: Mapping[str, object] = {}


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did, or would do.

    `import_id` is None when the files said nothing new. With `faults` nothing is
    recorded. `held` are the rows that wait from now on; `Counts.held` counts those
    too that waited before.
    """

    import_id: int | None
    files: Mapping[str, Counts]
    faults: tuple[RecordFault, ...] = ()
    held: tuple[HeldLine, ...] = ()

    @property
    def written(self) -> int:
        """How many records were added or changed."""
        return sum(counts.new + counts.changed for counts in self.files.values())

    @property
    def mark(self) -> str:
        """A mark of what is done, by which a later look can be compared with an earlier one."""
        held = [(one.line.file, one.line.row) for one in self.held]
        return hashlib.sha256(repr((sorted(self.files.items()), held)).encode()).hexdigest()

    @property
    def does_something(self) -> bool:
        """Say whether anything is recorded by it."""
        return not self.faults and bool(self.written or self.held)
