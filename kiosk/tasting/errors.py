"""What the tasting refuses outside the service rules; a refused pour is an answer, not an error."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Generic, TypeVar

from werkzeug.exceptions import NotFound

from kiosk.words.catalogs import N_


class TastingError(Exception):
    """Something that cannot be recorded as it was sent; nothing was changed."""

    status = 422
    message = ""

    def __init__(self, **facts: object) -> None:
        super().__init__(", ".join(f"{name}={value!r}" for name, value in facts.items()))
        self.facts = facts


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


class Malformed(TastingError):
    """An entry lacks a part or holds something that cannot be."""

    message = N_("This entry cannot be read: {part}.")


class Stranger(NotFound):
    """What sends entries was never enrolled, or is a guests' screen."""


class ShutOut(Exception):
    """The device that sends was revoked: what it holds is kept for a person to settle."""


class UnknownProduct(TastingError):
    """Neither the site's products nor its approvals know this product."""

    message = N_("No product here is called {product}.")


class UnknownPour(TastingError):
    """A correction speaks of a pour that is not on record."""

    status = 404
    message = N_("There is no such pour to correct.")


class PresetGlassesTaken(TastingError):
    """Glasses that were set out are served or cleared once."""

    status = 409
    message = N_("These glasses were served or cleared already. Open the page again and look.")


class NotApproved(TastingError):
    """Only what a manager approved for this room and day is opened or kept here."""

    message = N_("This is not released for this room today: a manager releases it first.")


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
        "A tap can be undone for {seconds} seconds. "
        "If the glass was poured and not served, record that instead."
    )


class AnotherPersonChecks(TastingError):
    """Under age is only changed by a document that another person has seen."""

    status = 409
    message = N_("This guest was marked under age: another person has to look at the document.")


class CheckInPerson(TastingError):
    """Marks that open service need somebody who is signed in on this device."""

    status = 403
    message = N_("Sign in on this device first: this mark allows pouring.")


class NotTheirMark(TastingError):
    """A mark that allows pouring is for certain roles; service that was ended goes on by a manager's word."""

    status = 403
    message = N_("Whoever is signed in here may not make this mark. Ask a colleague who may.")


class NotRecorded(Exception):
    """A form's entry was not recorded as sent; the sentence is in the reader's language already."""

    message = "{sentence}"

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status if status >= 400 else 409
        self.facts = {"sentence": sentence}
