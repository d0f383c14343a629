"""Random tokens for cookies, and the keyed hashes that are kept instead of them."""

from __future__ import annotations

import hmac
import secrets

from kiosk.site.settings import Site


def new_token() -> str:
    """Return 256 random bits as text for a cookie."""
    return secrets.token_urlsafe(32)


def hashed(site: Site, use: str, text: str) -> str:
    """Return the site's keyed hash of a token for one use, as 64 hex digits."""
    return hmac.digest(site.secret, f"{use}:{text}".encode(), "sha256").hex()
