"""What the tasting refuses outside the service rules; a refused pour is an answer, not an error."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Generic, TypeVar

from kiosk.entries.errors import EntryError
from kiosk.words.catalogs import N_


class TastingError(EntryError):
    """What the tasting room cannot record as it was sent; nothing was changed."""


Field = TypeVar("Field")
Fault = tuple[str, Mapping[str, object]]
"""A sentence and its facts."""


class FormFaults(Exception, Generic[Field]):
    """What was typed cannot be recorded: what is wrong, by field."""

    status = 422
    message = ""
    facts: Mapping[str, object] = {}

    def __init__(self, faults: Mapping[Field, Fault]) -> None:
        super().__init__("; ".join(f"{field}: {message}" for field, (message, _) in faults.items()))
        self.faults = dict(faults)


class UnknownProduct(TastingError):
    """Neither the site's products nor its approvals know this product."""

    message = N_("No product here is called {product}.")
    held_as = "unknown_product"


class UnknownPour(TastingError):
    """A correction speaks of a pour that is not on record."""

    status = 404
    message = N_("There is no such pour to correct.")
    held_as = "unknown_pour"


class PresetGlassesTaken(TastingError):
    """Glasses that were set out are served or cleared once."""

    status = 409
    message = N_("These glasses are already served or removed. Open the page again to see what is left.")


class NotApproved(TastingError):
    """Only what a manager approved for this room and day is opened or kept here."""

    message = N_("This is not approved for this room today: a manager has to approve it first.")


class UnknownBottle(TastingError):
    """An entry speaks of a bottle that is not on record."""

    status = 404
    message = N_("There is no such bottle.")


class BottleEnded(TastingError):
    """A bottle that was closed or broken takes no more entries."""

    status = 409
    message = N_("Bottle {code} is closed already.")


class TooLate(TastingError):
    """A pour can only be voided right after it was entered."""

    status = 409
    message = N_(
        "An entry can be undone for {seconds} seconds. If it was poured and not served, record that instead."
    )
