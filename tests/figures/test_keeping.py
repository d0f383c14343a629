"""Whatever is made of many records is made once per change, and kept beside the figures."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.figure import Basis, Book, Figure, Provider, Registry, Spec, Unit
from kiosk.figures.keeping import Source

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
YESTERDAY = NOW - timedelta(hours=10)


class Records:
    """A store in miniature: a version for each subject, and what was computed when."""

    def __init__(self) -> None:
        self.versions = {"casks": 1, "runs": 1}
        self.made: list[datetime] = []
        self.computed: list[datetime] = []
        self.source = Source(frozenset({"casks"}), 3600, self.make)
        spec = Spec("casks_filled", Unit.COUNT, 0, stale_after_s=3600)
        self.registry = Registry([Provider((spec,), frozenset({"casks"}), 3600, self.compute)])

    @contextmanager
    def read(self) -> Iterator[Records]:
        yield self

    def make(self, _session: Records, _site: None, now: datetime) -> list[int]:
        self.made.append(now)
        return [len(self.made)]

    def compute(
        self, _session: Records, _site: None, now: datetime, of: str
    ) -> dict[tuple[str, str], Figure]:
        self.computed.append(now)
        return {("casks_filled", ""): Figure(len(self.computed), now, Basis.COUNTED)}

    def book(self, now: datetime = NOW) -> Book:
        return self.registry.book(self.read, lambda session: session.versions, None, now)


@pytest.fixture
def records() -> Records:
    return Records()


def test_a_value_is_made_once_and_handed_to_every_book(records: Records) -> None:
    first = records.book().kept(records.source)
    assert records.book(NOW + timedelta(seconds=30)).kept(records.source) is first
    assert records.made == [NOW]


def test_a_change_of_what_it_reads_makes_it_anew_and_other_changes_do_not(records: Records) -> None:
    records.book().kept(records.source)
    records.versions["runs"] += 1
    assert records.book().kept(records.source) == [1]
    records.versions["casks"] += 1
    assert records.book().kept(records.source) == [2]


def test_it_is_made_anew_when_its_time_has_passed(records: Records) -> None:
    records.book().kept(records.source)
    records.book(NOW + timedelta(hours=1)).kept(records.source)
    assert len(records.made) == 2


def test_nothing_is_a_value_too(records: Records) -> None:
    asked: list[int] = []
    source: Source[None] = Source(frozenset(), 3600, lambda *_: asked.append(1))
    assert records.book().kept(source) is None
    assert records.book().kept(source) is None
    assert asked == [1]


def test_an_earlier_moment_is_kept_beside_now(records: Records) -> None:
    """Looking back every few seconds puts no pressure on the figures of now."""
    for _ in range(3):
        book = records.book()
        assert book.get("casks_filled").as_of == NOW
        assert book.as_of(YESTERDAY).get("casks_filled").as_of == YESTERDAY
    assert records.computed == [NOW, YESTERDAY]
    records.versions["casks"] += 1
    assert records.book().as_of(YESTERDAY).get("casks_filled").value == 3
