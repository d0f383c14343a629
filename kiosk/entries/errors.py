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


class SignInFirst(EntryError):
    """A mark that opens service needs a person who is signed in on this device."""

    status = 403
    message = N_("Sign in on this device first: this entry allows pouring.")


class RoleMayNotMark(EntryError):
    """A mark that opens service is for certain roles; stopped service is resumed by a manager alone."""

    status = 403
    message = N_("You may not make this entry. Ask a colleague who may.")


class NotRecorded(Exception):
    """A form's entry was not recorded as sent; the sentence is in the reader's language already."""

    message = "{sentence}"

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status if status >= 400 else 409
        self.facts = {"sentence": sentence}
