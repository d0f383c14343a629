"""Keys of ledger entries."""

from __future__ import annotations

import secrets


def new_key() -> str:
    """Return a fresh key for a ledger entry: 128 random bits in hexadecimal."""
    return secrets.token_hex(16)
