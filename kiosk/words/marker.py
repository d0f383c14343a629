"""Marks a message for the catalogs where it is written before a language is known."""


def N_(message: str) -> str:
    """Return the message unchanged; extraction finds it by this name."""
    return message
