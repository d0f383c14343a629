"""Marks messages for the catalogs where they are written before a language is known."""


def N_(message: str) -> str:
    """Return the message unchanged; extraction finds it by this name."""
    return message


def NN_(singular: str, plural: str) -> tuple[str, str]:
    """Return both forms of a counted message; extraction finds them by this name."""
    return singular, plural
