"""Tokens and the keyed hashes kept of them."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from kiosk.site.faults import Fault
from kiosk.site.secret import make_secret, new_token, read_secret
from tests.actors import small_site


def test_a_secret_is_thirty_two_random_bytes_for_its_owner_alone(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    path, faults = make_secret(tmp_path), list[Fault]()
    secret = read_secret(tmp_path, faults)
    assert len(secret) == 32
    assert secret.hex() == path.read_text().strip()
    assert not faults
    assert make_secret(other).read_text() != path.read_text()
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_secret_is_never_written_over(tmp_path: Path) -> None:
    path = make_secret(tmp_path)
    before = path.read_text()
    with pytest.raises(FileExistsError):
        make_secret(tmp_path)
    assert path.read_text() == before


@pytest.mark.parametrize("text", ["", "secret", "0" * 63, "G" * 64, "é" * 64])
def test_a_malformed_secret_is_refused_without_being_repeated(tmp_path: Path, text: str) -> None:
    (tmp_path / "secret").write_text(text, encoding="utf-8")
    faults: list[Fault] = []
    assert read_secret(tmp_path, faults) == b""
    assert len(faults) == 1
    assert not text or text not in faults[0].sentence().replace("secret", "", 2)


@pytest.mark.skipif(os.name != "posix", reason="only POSIX files have modes")
def test_a_secret_that_others_may_read_is_a_fault(tmp_path: Path) -> None:
    make_secret(tmp_path).chmod(0o644)
    faults: list[Fault] = []
    read_secret(tmp_path, faults)
    assert "found 644" in faults[0].sentence()
    assert "chmod 600 secret" in faults[0].sentence()


def test_a_missing_secret_is_never_defaulted(tmp_path: Path) -> None:
    faults: list[Fault] = []
    assert read_secret(tmp_path, faults) == b""
    assert "kiosk init" in faults[0].sentence()


def test_tokens_are_long_and_never_the_same() -> None:
    made = {new_token() for _ in range(200)}
    assert len(made) == 200
    assert min(len(token) for token in made) >= 43  # 256 bits in base 64


def test_a_hash_depends_on_the_site_the_use_and_the_text(tmp_path: Path) -> None:
    site, other = small_site(tmp_path), small_site(tmp_path, secret=bytes(32))
    hashes = {
        site.keyed_hash("a", "x"),
        site.keyed_hash("b", "x"),
        site.keyed_hash("a", "y"),
        other.keyed_hash("a", "x"),
    }
    assert len(hashes) == 4
    assert {len(one) for one in hashes} == {64}
