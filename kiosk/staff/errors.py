"""What signing in, enrolling and adding people refuses."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.words.catalogs import N_


class StaffError(Exception):
    """A refusal with a sentence; `field` names the form field that it is about."""

    status = 422
    message = ""
    field = ""

    def __init__(self, **facts: object) -> None:
        super().__init__(self.message.format(**facts))
        self.facts: Mapping[str, object] = facts


class WrongPin(StaffError):
    """Name and PIN do not go together (which of the two is never said)."""

    status = 403
    message = N_("Name and PIN do not go together.")
    field = "pin"


class TooSoon(StaffError):
    """After wrong PINs one waits: `seconds` more, whatever is typed meanwhile."""

    status = 429
    message = N_("After a wrong PIN there is a wait. Try again in {seconds} s.")
    field = "pin"


class PinShape(StaffError):
    """A PIN is six digits."""

    message = N_("A PIN has exactly six digits.")
    field = "pin"


class PinTrivial(StaffError):
    """A PIN that somebody would try first."""

    message = N_("That PIN is one of the first that anybody would try. Choose another.")
    field = "pin"


class PinsDiffer(StaffError):
    """The PIN was typed twice and differently."""

    message = N_("The two PINs are not the same.")
    field = "pin_again"


class NameTaken(StaffError):
    """Names tell people, and devices, apart."""

    message = N_("The name {name} is taken. Choose another.")
    field = "name"


class NameMissing(StaffError):
    """A name was left empty."""

    message = N_("A name is needed.")
    field = "name"


class UnknownChoice(StaffError):
    """A role, language, kind or room that this site does not have."""

    message = N_("{found} is none of: {allowed}.")


class NotHere(StaffError):
    """Only of those who work here something is changed."""

    status = 404
    message = N_("Nobody of that name works here.")


class LastManager(StaffError):
    """Somebody has to be able to give roles and sign approvals."""

    status = 409
    message = N_("This is the only manager. Give somebody else that role first.")


class CodeRefused(StaffError):
    """The one-time code is wrong, used, or too old; they look alike on purpose."""

    status = 403
    message = N_("This code does not enrol a device: it is mistyped, was used, or is too old.")
    field = "code"
