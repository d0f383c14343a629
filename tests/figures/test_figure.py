"""The registry of named figures: one owner a name, values and queries cached by version, states by age."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.figure import (
    RESTING,
    Basis,
    CachedQuery,
    Figure,
    FigureReader,
    Provider,
    Registry,
    Spec,
    State,
    Unit,
    state,
)

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
CASKS = Spec("casks_filled", Unit.COUNT, 0, stale_after_s=3600)


class Records:
    """A store in miniature: rows, a version, and a count of computations."""

    def __init__(self) -> None:
        self.casks = 180
        self.version = 1
        self.computed = 0
        self.asked: list[str] = []

    @contextmanager
    def read(self) -> Iterator[Records]:
        yield self

    def versions(self, _session: Records) -> dict[str, int]:
        return {"casks": self.version}

    def compute(self, session: Records, _site: None, now: datetime, of: str) -> dict[tuple[str, str], Figure]:
        self.computed += 1
        self.asked.append(of)
        figure = Figure(session.casks, now, Basis.COUNTED)
        return {("casks_filled", ""): figure, ("cask_life", of): figure}


@pytest.fixture
def records() -> Records:
    return Records()


@pytest.fixture
def registry(records: Records) -> Registry:
    life = Spec("cask_life", Unit.L, 1, 3600, public=False, of="cask")
    return Registry([Provider((CASKS, life), frozenset({"casks"}), 60, records.compute)])


def reader(registry: Registry, records: Records, now: datetime = NOW):
    return registry.reader(records.read, records.versions, None, now)


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        (Figure(1, NOW, Basis.COUNTED), State.FRESH),
        (Figure(0, NOW - timedelta(hours=1), Basis.MEASURED), State.FRESH),
        (Figure(1, NOW - timedelta(hours=1, seconds=1), Basis.COUNTED), State.STALE),
        (Figure(None, NOW - timedelta(days=90), Basis.MEASURED, missing=RESTING), State.RESTING),
        (Figure(None, None, Basis.MEASURED, missing="no_record"), State.UNKNOWN),
    ],
)
def test_the_state_is_told_from_the_age_and_the_reason(figure: Figure, expected: State) -> None:
    assert state(figure, CASKS, NOW) is expected


@pytest.mark.parametrize(("value", "missing"), [(None, ""), (1, "no_record")])
def test_a_figure_has_a_value_or_a_reason_and_never_both(value: int | None, missing: str) -> None:
    with pytest.raises(ValueError, match="either a value or a reason"):
        Figure(value, NOW, Basis.COUNTED, missing=missing)


def test_a_resting_figure_must_say_when_it_last_ran() -> None:
    with pytest.raises(ValueError, match="when it last ran"):
        Figure(None, None, Basis.COUNTED, missing=RESTING)


def test_a_name_given_twice_fails_at_start(records: Records) -> None:
    provider = Provider((CASKS,), frozenset({"casks"}), 60, records.compute)
    again = Provider((CASKS,), frozenset(), 5, records.compute)
    with pytest.raises(ValueError, match="casks_filled"):
        Registry([provider, again])


def test_an_unknown_name_is_an_error(registry: Registry, records: Records) -> None:
    with pytest.raises(KeyError):
        reader(registry, records).get("casks_full")


def test_a_figure_is_computed_once_per_change(registry: Registry, records: Records) -> None:
    for _ in range(3):
        assert reader(registry, records).get("casks_filled").value == 180
    assert records.computed == 1
    records.casks, records.version = 181, 2
    assert reader(registry, records).get("casks_filled").value == 181
    assert records.computed == 2


def test_a_figure_is_computed_again_when_its_time_has_passed(registry: Registry, records: Records) -> None:
    reader(registry, records).get("casks_filled")
    reader(registry, records, NOW + timedelta(seconds=59)).get("casks_filled")
    assert records.computed == 1
    reader(registry, records, NOW + timedelta(seconds=60)).get("casks_filled")
    assert records.computed == 2


def test_what_is_asked_on_demand_is_never_kept(registry: Registry, records: Records) -> None:
    asked = reader(registry, records)
    asked.get("cask_life", "B-7")
    asked.get("cask_life", "B-7")
    assert records.asked == ["B-7", "B-7"]


def test_after_a_change_one_thread_computes_and_the_others_get_the_value_before(
    registry: Registry, records: Records
) -> None:
    reader(registry, records).get("casks_filled")
    entered, go_on = threading.Event(), threading.Event()
    plain = records.compute

    def slow(*args: object) -> dict[tuple[str, str], Figure]:
        entered.set()
        assert go_on.wait(5)
        return plain(*args)  # type: ignore[arg-type]

    provider = registry.owner("casks_filled")
    object.__setattr__(provider, "compute", slow)
    records.casks, records.version = 200, 2
    late: list[float | int | None] = []
    first = threading.Thread(target=lambda: late.append(reader(registry, records).get("casks_filled").value))
    first.start()
    assert entered.wait(5)
    early = reader(registry, records)
    assert early.current
    assert early.get("casks_filled").value == 180
    assert not early.current
    go_on.set()
    first.join(5)
    assert late == [200]
    assert records.computed == 2


def test_the_version_changes_with_the_records_and_when_a_figure_is_no_longer_cached(
    registry: Registry, records: Records
) -> None:
    first = reader(registry, records).version()
    assert reader(registry, records, NOW + timedelta(seconds=59)).version() == first
    assert reader(registry, records, NOW + timedelta(seconds=60)).version() != first
    records.version = 2
    assert reader(registry, records).version() != first
    assert records.computed == 0


def test_the_version_changes_with_a_figure_whose_records_are_not_counted(records: Records) -> None:
    samples = Spec("samples_today", Unit.COUNT, 0, stale_after_s=300)
    poured = [3]

    def compute(*_: object) -> dict[tuple[str, str], Figure]:
        return {("samples_today", ""): Figure(poured[0], NOW, Basis.COUNTED)}

    casks = Provider((CASKS,), frozenset({"casks"}), 600, records.compute)
    registry = Registry([casks, Provider((samples,), frozenset(), 5, compute)])
    first = reader(registry, records).version()
    later = NOW + timedelta(seconds=5)
    assert reader(registry, records, later).version() == first
    poured[0] = 4
    assert reader(registry, records, later + timedelta(seconds=5)).version() != first


YESTERDAY = NOW - timedelta(hours=10)


class CachedRecords:
    """A store in miniature: a version for each subject, and what was computed when."""

    def __init__(self) -> None:
        self.versions = {"casks": 1, "runs": 1}
        self.made: list[datetime] = []
        self.computed: list[datetime] = []
        self.source = CachedQuery(frozenset({"casks"}), 3600, self.make)
        spec = Spec("casks_filled", Unit.COUNT, 0, stale_after_s=3600)
        self.registry = Registry([Provider((spec,), frozenset({"casks"}), 3600, self.compute)])

    @contextmanager
    def read(self) -> Iterator[CachedRecords]:
        yield self

    def make(self, _session: CachedRecords, _site: None, now: datetime) -> list[int]:
        self.made.append(now)
        return [len(self.made)]

    def compute(
        self, _session: CachedRecords, _site: None, now: datetime, of: str
    ) -> dict[tuple[str, str], Figure]:
        self.computed.append(now)
        return {("casks_filled", ""): Figure(len(self.computed), now, Basis.COUNTED)}

    def reader(self, now: datetime = NOW) -> FigureReader:
        return self.registry.reader(self.read, lambda session: session.versions, None, now)


@pytest.fixture
def cached_records() -> CachedRecords:
    return CachedRecords()


def test_a_value_is_made_once_and_returned_to_every_reader(cached_records: CachedRecords) -> None:
    first = cached_records.reader().cached(cached_records.source)
    assert cached_records.reader(NOW + timedelta(seconds=30)).cached(cached_records.source) is first
    assert cached_records.made == [NOW]


def test_a_change_of_what_it_reads_makes_it_anew_and_other_changes_do_not(
    cached_records: CachedRecords,
) -> None:
    cached_records.reader().cached(cached_records.source)
    cached_records.versions["runs"] += 1
    assert cached_records.reader().cached(cached_records.source) == [1]
    cached_records.versions["casks"] += 1
    assert cached_records.reader().cached(cached_records.source) == [2]


def test_it_is_made_anew_when_its_time_has_passed(cached_records: CachedRecords) -> None:
    cached_records.reader().cached(cached_records.source)
    cached_records.reader(NOW + timedelta(hours=1)).cached(cached_records.source)
    assert len(cached_records.made) == 2


def test_nothing_is_a_value_too(cached_records: CachedRecords) -> None:
    asked: list[int] = []
    source: CachedQuery[None] = CachedQuery(frozenset(), 3600, lambda *_: asked.append(1))
    assert cached_records.reader().cached(source) is None
    assert cached_records.reader().cached(source) is None
    assert asked == [1]


def test_an_earlier_moment_is_kept_beside_now(cached_records: CachedRecords) -> None:
    """Looking back every few seconds puts no pressure on the figures of now."""
    for _ in range(3):
        reader = cached_records.reader()
        assert reader.get("casks_filled").as_of == NOW
        assert reader.as_of(YESTERDAY).get("casks_filled").as_of == YESTERDAY
    assert cached_records.computed == [NOW, YESTERDAY]
    cached_records.versions["casks"] += 1
    assert cached_records.reader().as_of(YESTERDAY).get("casks_filled").value == 3
