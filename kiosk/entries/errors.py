"""What keeps an entry from being recorded as it was sent; nothing was changed."""

from kiosk.words.catalogs import N_


class EntryError(Exception):
    """An entry that cannot be recorded as it was sent.

    `held_as` is the reason under which it is held for a person to settle; "" for one that is rejected.
    """

    status = 422
    message = ""
    held_as = ""

    def __init__(self, **facts: object) -> None:
        super().__init__(", ".join(f"{name}={value!r}" for name, value in facts.items()))
        self.facts = facts


class Malformed(EntryError):
    """An entry lacks a part or holds something that cannot be."""

    message = N_("This entry cannot be read: {part}.")
    held_as = "malformed"


class DeviceRevoked(EntryError):
    """The device that sends was revoked: what it holds is kept for a person to settle."""

    held_as = "revoked_device"


class UnknownSender(Exception):
    """The device that sends was never enrolled, or is a screen that only guests use."""


class AnotherPersonChecks(EntryError):
    """Under age is only changed by an ID that another person has checked."""

    status = 409
    message = N_("This guest was recorded as under age: a second person has to check the ID.")


class ManagerChecks(EntryError):
    """Who recorded a guest as under age is only claimed: it may be the person who checks the ID now."""

    status = 409
    message = N_(
        "This guest was recorded as under age, and nobody was signed in who could be named: a manager has "
        "to check the ID."
    )


class NotTakenBack(EntryError):
    """Only some marks of the same guest can be taken back: neither under age nor a stop of service."""

    status = 409
    message = N_(
        "This mark cannot be taken back. Under age ends when a second person checks the ID, and a stop of "
        "service when a manager resumes it."
    )


class SignInFirst(EntryError):
    """What is asked for now needs a person who is signed in on this device."""

    status = 403
    message = N_("Sign in on this device first: nothing was recorded.")


class ChangePinFirst(EntryError):
    """The person signed in has a PIN that another person knows: what they ask for could be that person's."""

    status = 403
    message = N_("Choose a PIN of your own first, under Change PIN: nothing was recorded.")


class RoleMayNotRecord(EntryError):
    """The person signed in has no role that may ask for this."""

    status = 403
    message = N_("You may not make this entry. Ask a colleague who may.")


class GuestOfAnotherTour(EntryError):
    """A form of one tour names a guest or a glass of another, or a glass would move to another tour."""

    status = 409
    message = N_("This guest or glass belongs to another tour. Open that tour first.")


class TooOld(EntryError):
    """A fact from before the longest outage: a lost clock, or a tablet that lay in a drawer."""

    held_as = "too_old"


class NotRecorded(Exception):
    """A form's entry was not recorded as sent; the sentence is in the reader's language already."""

    message = "{sentence}"

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status if status >= 400 else 409
        self.facts = {"sentence": sentence}
