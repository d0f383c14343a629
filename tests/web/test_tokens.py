"""Tokens and the keyed hashes kept of them."""

from __future__ import annotations

from pathlib import Path

from kiosk.web.tokens import hashed, new_token
from tests.actors import small_site


def test_tokens_are_long_and_never_the_same() -> None:
    made = {new_token() for _ in range(200)}
    assert len(made) == 200
    assert min(len(token) for token in made) >= 43  # 256 bits in base 64


def test_a_hash_depends_on_the_site_the_use_and_the_text(tmp_path: Path) -> None:
    site, other = small_site(tmp_path), small_site(tmp_path, secret=bytes(32))
    hashes = {hashed(site, "a", "x"), hashed(site, "b", "x"), hashed(site, "a", "y"), hashed(other, "a", "x")}
    assert len(hashes) == 4
    assert {len(one) for one in hashes} == {64}
