"""Faults of records by code: where each lies, what was written there, and the facts its sentence names."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from kiosk.words.catalogs import N_
from kiosk.words.record_faults import FaultCode as FaultCode

NEVER_CONFIRMABLE = frozenset(
    {FaultCode.ABOVE_PURE, FaultCode.IN_FUTURE, FaultCode.OVER, FaultCode.OVER_SUGAR}
)
"""No confirmation makes these a record: no strength comes of it, it has not happened yet, or more
went out of a batch than its own gauge tells: whichever of the two is wrong is put right first."""
CONFIRMABLE = frozenset(
    {
        FaultCode.OVER_ESTIMATE,
        FaultCode.MORE_BOTTLES,
        FaultCode.OVERFULL,
        FaultCode.GAIN,
        FaultCode.MORE_THAN_WASH,
        FaultCode.NOT_RISING,
        FaultCode.GRAVITY_RANGE,
        FaultCode.BRIX_RANGE,
        FaultCode.PH_RANGE,
        FaultCode.WASH_TEMPERATURE,
        FaultCode.JUICE_OF_CANE,
        FaultCode.CUT_GOES_BACK,
        FaultCode.FALLS_TOO_FAST,
        FaultCode.LOSES_TOO_MUCH,
        FaultCode.UNLISTED_PRODUCT,
    }
)
"""Implausible, yet a record once a person has confirmed it."""
HELD_IN_FILES = CONFIRMABLE | NEVER_CONFIRMABLE
"""A row of a file with one of these is held for review, and the rest of the file passes."""
HELD_IN_FORMS = HELD_IN_FILES - {FaultCode.OVER, FaultCode.OVER_SUGAR}
"""More than a gauged batch held is refused at once to the person who writes it."""


class ValueFault(ValueError):
    """A value is not what its field asks for. `facts` are what the sentence of its code names."""

    def __init__(self, code: FaultCode, column: str = "", **facts: object) -> None:
        super().__init__(str(code))
        self.code, self.column, self.facts = code, column, facts


@dataclass(frozen=True, slots=True)
class RecordFault:
    """One fault in one place: a field of a form, or a cell of a file.

    `found` is what was written there. `row` counts as a spreadsheet does: 1 is the header.
    """

    code: FaultCode
    column: str = ""
    found: str = ""
    more: Mapping[str, object] = field(default_factory=dict)
    file: str = ""
    row: int = 0

    @property
    def facts(self) -> dict[str, object]:
        """Every value that the sentence may name."""
        place = {"file": self.file, "row": self.row, "column": self.column, "found": self.found}
        return {**place, **self.more}

    def __str__(self) -> str:
        return f"{self.file}, row {self.row}, {self.column}: {self.code} {self.found!r}"


class RecordFaults(Exception):
    """Records that cannot be recorded, with every fault; nothing of them was."""

    status = 422
    message = N_("Some of what was typed cannot be recorded. It is marked below.")
    facts: Mapping[str, object] = {}

    def __init__(self, *faults: RecordFault) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


def refuse(code: FaultCode, column: str = "", found: str = "", **more: object) -> RecordFaults:
    """Return the refusal of one field of a form, to be raised."""
    return RecordFaults(RecordFault(code, column, found, more))


def rounded(value: object) -> object:
    """Return a number rounded as a person reads it, any other fact as it is."""
    return round(value, 2) if isinstance(value, float) else value


def large(amount: float) -> float:
    """Return an amount in mL or g as litres or kilograms, rounded as a person reads it."""
    return round(amount / 1000, 1)
