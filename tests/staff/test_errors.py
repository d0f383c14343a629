"""Each refusal has its status, and the field of the form beside which it stands."""

from __future__ import annotations

import pytest

from kiosk.staff.errors import Refusal, StaffError

REFUSALS = {
    "WRONG_PIN": (403, "pin"),
    "MUST_WAIT": (429, "pin"),
    "PIN_FORMAT": (422, "pin"),
    "PIN_TRIVIAL": (422, "pin"),
    "PIN_UNCHANGED": (422, "pin"),
    "PINS_DIFFER": (422, "pin_again"),
    "TOO_MANY_CODES": (429, "code"),
    "NAME_TAKEN": (422, "name"),
    "NAME_ALIKE": (422, "name"),
    "NAME_MISSING": (422, "name"),
    "UNKNOWN_CHOICE": (422, ""),
    "NO_SUCH_PERSON": (404, ""),
    "LAST_MANAGER": (409, ""),
    "CODE_REFUSED": (403, "code"),
    "KIND_MISSING": (422, "kind"),
    "NUMBER_MISSING": (422, "number"),
    "DAYS_REVERSED": (422, "valid_until"),
    "PERSON_MISSING": (422, "person"),
    "NO_AGE_LIMIT": (422, "person"),
    "NO_SUCH_SIGN_OFF": (404, ""),
    "REASON_MISSING": (422, "why"),
}


def test_every_refusal_is_tried_here() -> None:
    assert {reason.name for reason in Refusal} == REFUSALS.keys()


@pytest.mark.parametrize("name", REFUSALS)
def test_a_refusal_has_its_status_and_field(name: str) -> None:
    facts = {"seconds": 1, "name": "Ana", "other": "ana", "found": "x", "allowed": "y"}
    error = StaffError(Refusal[name], **facts)
    assert ((error.status, error.field), error.code) == (REFUSALS[name], name.lower())
    assert (error.reason, error.facts) == (Refusal[name], facts)
    assert "{" not in str(error)


def test_a_log_reads_the_sentence_with_its_facts() -> None:
    assert str(StaffError(Refusal.NAME_TAKEN, name="Ana")) == "The name Ana is taken. Choose another."
