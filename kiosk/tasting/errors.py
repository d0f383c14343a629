"""The errors that the rooms of the tasting share; what only one of them raises stands beside its code."""

from collections.abc import Mapping
from typing import Generic, TypeVar

from kiosk.entries.errors import EntryError
from kiosk.words.catalogs import N_


class TastingError(EntryError):
    """What the tasting room cannot record as it was sent; nothing was changed."""


class WhyMissing(TastingError):
    """The reason is missing that a manager has to give, for a restriction or the end of an approval."""

    message = N_("Say in a few words why.")


Field = TypeVar("Field")
Fault = tuple[str, Mapping[str, object]]
"""A message and the facts that fill it."""


class FormFaults(Exception, Generic[Field]):
    """What was typed cannot be recorded: what is wrong, by field."""

    status = 422
    message = ""
    facts: Mapping[str, object] = {}

    def __init__(self, faults: Mapping[Field, Fault]) -> None:
        super().__init__("; ".join(f"{field}: {message}" for field, (message, _) in faults.items()))
        self.faults = dict(faults)
