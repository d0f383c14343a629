"""The files of an import: from a folder or sent by a browser, known by their names, read into lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.kinds import KINDS
from kiosk.production.importing.reading import Line, lines_of
from kiosk.production.importing.sheets import CSV, WORKBOOK
from kiosk.production.importing.watching import Watch, unwatched
from kiosk.words.catalogs import N_

Files = Mapping[str, bytes]
"""What is in each file, by its name."""
Lines = Mapping[str, Sequence[Line]]
"""The lines of each kind that there is a file of, by the name of the kind's CSV file."""


@dataclass(frozen=True, slots=True)
class Read:
    """Files as lines, and everything that could not be read in them."""

    lines: Lines
    faults: tuple[RecordFault, ...] = ()


NO_FILES = N_("{found} holds no file of records. Their names are: {allowed}; or the same with .xlsx.")
STRANGE_FILE = N_(
    "{file} is not a file of records. Take it out, or save it under one of these names: {allowed}; "
    "or the same with .xlsx."
)
TWO_FILES = N_("{file} and {found} hold the same kind of record. Take one of them out.")

_TABLES = (CSV, WORKBOOK, ".xls", ".xlsm", ".xlsb", ".ods", ".tsv")
_OPEN_ELSEWHERE = "~$"  # a spreadsheet's own mark beside a file that it has open


def files_in(folder: Path) -> dict[str, bytes]:
    """Read the tables in a folder; what is no table of any sort stays out."""
    return {
        path.name: path.read_bytes()
        for path in sorted(folder.iterdir())
        if path.suffix.lower() in _TABLES and not path.name.startswith((_OPEN_ELSEWHERE, "."))
    }


def read_files(files: Files, place: str, zone: ZoneInfo, watch: Watch = unwatched) -> Read:
    """Read files into lines by kind; `place` is where they came from, for a reader."""
    faults: list[RecordFault] = []
    named = _by_kind(files, place, faults)
    lines = {
        kind.file: lines_of(named[kind.file], files[named[kind.file]], kind.columns, zone, faults, watch)
        for kind in KINDS
        if kind.file in named
    }
    return Read(lines, tuple(faults))


def _by_kind(files: Files, place: str, faults: list[RecordFault]) -> dict[str, str]:
    if not files:
        faults.append(RecordFault("", 0, "", place, NO_FILES, {"allowed": _allowed()}))
    named: dict[str, str] = {}
    for file in files:
        kind = kind_file(file)
        if kind is None:
            faults.append(RecordFault(file, 0, "", file, STRANGE_FILE, {"allowed": _allowed()}))
        elif kind in named:
            faults.append(RecordFault(named[kind], 0, "", file, TWO_FILES))
        else:
            named[kind] = file
    return named


def kind_file(file: str) -> str | None:
    """Return the name by which the kind of a file is known, whatever its ending; None for no kind."""
    stem, dot, ending = file.lower().rpartition(".")
    known = {kind.file for kind in KINDS}
    return stem + CSV if dot + ending in (CSV, WORKBOOK) and stem + CSV in known else None


def _allowed() -> str:
    return ", ".join(kind.file for kind in KINDS)
