"""PINs: six digits, kept as argon2id of a keyed hash.

Six digits are few. They are protected because the form exists on enrolled devices
only, each wrong try doubles a wait, and a stolen database is useless without the
site's secret, which lives in another file.
"""

from __future__ import annotations

from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal, StaffError

LENGTH = 6
HASHER = PasswordHasher(time_cost=3, memory_cost=65_536, parallelism=1)
"""About 0.1 s and 64 MiB a hash on a small computer; tests pass a cheaper one."""


def check_shape(pin: str) -> None:
    """Raise StaffError (PIN_FORMAT, PIN_TRIVIAL) for a text that may not be a PIN."""
    if len(pin) != LENGTH or not (pin.isascii() and pin.isdigit()):
        raise StaffError(Refusal.PIN_FORMAT)
    if is_trivial(pin):
        raise StaffError(Refusal.PIN_TRIVIAL)


def is_trivial(pin: str) -> bool:
    """Return whether a PIN has few digits, runs in equal steps, or repeats a short piece."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    repeats = any(pin == pin[:size] * (LENGTH // size) for size in (1, 2, 3))
    return repeats or len(set(pin)) < 3 or len(steps) == 1


def hash_pin(pin: str, site: Site, hasher: PasswordHasher = HASHER) -> str:
    """Return the hash that is stored for a PIN. Raises StaffError as `check_shape` does."""
    check_shape(pin)
    return hasher.hash(site.keyed_hash("pin", pin))


def matches(pin: str, pin_hash: str, site: Site) -> bool:
    """Return whether a PIN is the one that was hashed; the hash holds its own cost."""
    try:
        return HASHER.verify(pin_hash, site.keyed_hash("pin", pin))
    except VerificationError:
        return False
