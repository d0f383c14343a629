"""Keys of ledger entries, and of the several entries that one tap makes."""

from __future__ import annotations

import secrets


def new_key() -> str:
    """Return a fresh key for a ledger entry: 128 random bits in hexadecimal."""
    return secrets.token_hex(16)


def key_within(act: str, n: int) -> str:
    """Return the key of the entry `n` of an act: the act sent again finds the same entries.

    The act's first 96 random bits tell it from every other; `n` is a number below 2**32.
    """
    return f"{act[:24]}{n:08x}"


def keys_within(act: str) -> tuple[str, str]:
    """Return the first and the last key that an entry of an act can have; its own lies between."""
    return key_within(act, 0), key_within(act, 2**32 - 1)
