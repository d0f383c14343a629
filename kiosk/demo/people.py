"""The demo's staff, and the lines that tell how to sign in as one of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from datetime import datetime
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy.orm import Session

from kiosk.production.importing.reading import Line
from kiosk.site.settings import Site
from kiosk.staff.people import add_person
from kiosk.staff.pins import hash_pin


def hash_pins(pool: Executor, site: Site, people: Sequence[Line], hasher: PasswordHasher) -> Iterator[str]:
    """Start to hash everybody's PIN in `pool` and return the hashes as they come, in order."""
    return pool.map(lambda person: hash_pin(str(person["pin"]), site, hasher), people)


def add_staff(
    session: Session, site: Site, people: Sequence[Line], hashes: Sequence[str], now: datetime
) -> Mapping[str, int]:
    """Record everybody and return their ids by name."""
    ids = {}
    for person, made in zip(people, hashes, strict=True):
        c: Mapping[str, Any] = person.cells
        ids[c["name"]] = add_person(session, site, c["name"], made, c["roles"], c["languages"], now)
    return ids


def sign_ins(people: Sequence[Line]) -> list[str]:
    """Return a line for each person: name, PIN, roles."""
    cells: list[Mapping[str, Any]] = [person.cells for person in people]
    longest = max(len(c["name"]) for c in cells)
    return [f"  {c['name']:<{longest}}  {c['pin']}  {', '.join(c['roles'])}" for c in cells]
