"""PINs: six digits, kept as argon2id of a keyed hash.

Six digits are few. What keeps them is that the form exists on enrolled devices
only, that each wrong try doubles a wait, and that a stolen database is useless
without the site's secret, which lives in another file.
"""

from __future__ import annotations

from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from kiosk.site.settings import Site
from kiosk.staff.errors import PinShape, PinTrivial

LENGTH = 6
HASHER = PasswordHasher(time_cost=3, memory_cost=65_536, parallelism=1)
"""About 0.1 s and 64 MiB a hash on a small computer; tests pass a cheaper one."""


def check_shape(pin: str) -> None:
    """Raise `PinShape` or `PinTrivial` for what may not be somebody's PIN."""
    if len(pin) != LENGTH or not (pin.isascii() and pin.isdigit()):
        raise PinShape()
    if is_trivial(pin):
        raise PinTrivial()


def is_trivial(pin: str) -> bool:
    """Say whether a PIN is few digits, a run of steps, or a short piece repeated."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    repeats = any(pin == pin[:size] * (LENGTH // size) for size in (1, 2, 3))
    return repeats or len(set(pin)) < 3 or len(steps) == 1


def hash_pin(pin: str, site: Site, hasher: PasswordHasher = HASHER) -> str:
    """Return what is kept of a PIN. Raises what `check_shape` raises."""
    check_shape(pin)
    return hasher.hash(site.keyed_hash("pin", pin))


def matches(pin: str, kept: str, site: Site) -> bool:
    """Say whether a PIN is the one that was kept; its cost is in the kept text."""
    try:
        return HASHER.verify(kept, site.keyed_hash("pin", pin))
    except VerificationError:
        return False
