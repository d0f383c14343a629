"""What signing in, enrolling, and changing people, devices and permits refuses, and why."""

from enum import Enum

from kiosk.words.catalogs import N_


class Refusal(Enum):
    """A reason: its HTTP status, the form field that it is about, and its sentence."""

    # Which of the two is wrong is never said.
    WRONG_PIN = 403, "pin", N_("Name and PIN do not go together.")
    MUST_WAIT = 429, "pin", N_("Sign-in is locked after a wrong PIN. Try again in {seconds} s.")
    PIN_FORMAT = 422, "pin", N_("A PIN has exactly six digits.")
    PIN_TRIVIAL = 422, "pin", N_("That PIN is one of the first that anybody would try. Choose another.")
    PIN_UNCHANGED = 422, "pin", N_("This is your present PIN. Choose another.")
    TOO_MANY_CODES = 429, "code", N_("Too many codes were tried from here. Try again in {seconds} s.")
    PINS_DIFFER = 422, "pin_again", N_("The two PINs are not the same.")
    NAME_TAKEN = 422, "name", N_("The name {name} is taken. Choose another.")
    NAME_ALIKE = (
        422,
        "name",
        N_("{name} looks too much like {other}. Choose a name that differs in a letter."),
    )
    NAME_MISSING = 422, "name", N_("A name is needed.")
    UNKNOWN_CHOICE = 422, "", N_("{found} is none of: {allowed}.")
    NO_SUCH_PERSON = 404, "", N_("No person of that name works here.")
    LAST_MANAGER = 409, "", N_("This is the only manager. Give that role to another person first.")
    # A mistyped, a used and an old code look alike on purpose.
    CODE_REFUSED = (
        403,
        "code",
        N_("This code does not enroll a device: it is mistyped, was used, or is too old."),
    )
    KIND_MISSING = 422, "kind", N_("Name the kind of permit, as the rules call it.")
    NUMBER_MISSING = 422, "number", N_("A permit has a number: enter it as it stands there.")
    DAYS_REVERSED = (
        422,
        "valid_until",
        N_("Enter the first and the last day; the last is not before the first."),
    )
    PERSON_MISSING = 422, "person", N_("Choose a person who works here.")
    NO_AGE_LIMIT = 422, "person", N_("The rules of this house set no age for servers.")
    NO_SUCH_SIGN_OFF = 404, "", N_("This person has no such sign-off.")
    REASON_MISSING = 422, "why", N_("Say in a few words why.")

    def __init__(self, status: int, field: str, message: str) -> None:
        self.status, self.field, self.message = status, field, message


class StaffError(Exception):
    """A refusal with the facts of its sentence."""

    def __init__(self, reason: Refusal, **facts: object) -> None:
        super().__init__(reason.message.format(**facts))
        self.reason, self.facts, self.code = reason, facts, reason.name.lower()
        self.status, self.field, self.message = reason.status, reason.field, reason.message
