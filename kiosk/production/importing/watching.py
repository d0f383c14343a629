"""Long work on many rows, for somebody who watches how far it is."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar

from kiosk.words.catalogs import N_

T = TypeVar("T")

READING = N_("Reading the files")
WORKING_OUT = N_("Working out strengths and volumes")
RECORDING = N_("Recording")


class Watch(Protocol):
    """Passes items on while somebody watches how far it is: `many` there are, `doing` says with what."""

    def __call__(self, items: Iterable[T], many: int, doing: str) -> Iterable[T]: ...


def unwatched(items: Iterable[T], many: int, doing: str) -> Iterable[T]:
    """Pass items on; nobody watches."""
    return items
