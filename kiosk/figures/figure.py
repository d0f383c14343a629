"""What is computed once per change of the records and kept in memory: one mechanism for all of it.

A `CachedQuery` says what a value reads and how it is computed; `VersionedCache` holds the last
value of each. While one thread computes after a change, the others are given the
value before it; only the first computation of all is waited for.

Named values: what a figure is, who computes it, and how it is kept.

A `Figure` is a value with its as-of time and basis. A `Spec` states once what
the name means (unit, digits, when it grows stale). A `Provider` computes one or
more figures from the records. The `Registry` knows every provider; a `FigureReader`
answers by name for one request or one command; how values are kept is `keeping`'s.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Generic, TypeVar, cast

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class CachedQuery(Generic[T]):
    """A value computed from the records of the subjects in `reads`.

    `compute(session, site, now)` makes it; it is kept until a subject in `reads`
    changes or `fresh_s` seconds pass. `Any` stands for the database session and
    the site, which figures may not import.
    """

    reads: frozenset[str]
    fresh_s: int
    compute: Callable[[Any, Any, datetime], T]


@dataclass(slots=True)
class _Slot:
    owner: object  # held, so that its id is nobody else's
    version: tuple[object, ...] | None = None
    value: object = None
    lock: threading.Lock = field(default_factory=threading.Lock)


class VersionedCache:
    """The last value of everything, by its owner and the name of a slot (now, or an earlier moment)."""

    def __init__(self) -> None:
        self._slots: dict[tuple[int, str], _Slot] = {}

    def get(self, owner: object, slot: str, version: tuple[object, ...], compute: Callable[[], T]) -> T:
        """Return the value of `owner` under `version`, computing it in one thread.

        `slot` tells values of one owner apart that are kept side by side; `compute` takes
        nothing and is called when the kept version is another.
        """
        kept = self._slots.setdefault((id(owner), slot), _Slot(owner))
        if kept.version == version:
            return cast(T, kept.value)
        if not kept.lock.acquire(blocking=kept.version is None):
            return cast(T, kept.value)
        try:
            if kept.version != version:
                kept.value = compute()
                kept.version = version
            return cast(T, kept.value)
        finally:
            kept.lock.release()


class Basis(StrEnum):
    """How a value came to be known."""

    COUNTED = "counted"
    MEASURED = "measured"
    ESTIMATED = "estimated"
    STATED = "stated"


class State(StrEnum):
    """What may be said of a figure at the moment it is looked at."""

    FRESH = "fresh"
    STALE = "stale"
    RESTING = "resting"
    UNKNOWN = "unknown"


class Unit(StrEnum):
    """The unit a figure's value is kept in; words convert for the reader."""

    COUNT = "count"
    SHARE = "share"  # 0..1, said as per cent
    ML = "ml"
    L = "l"
    LPA = "lpa"  # litres of pure alcohol at 20 °C
    G = "g"
    KG = "kg"
    TONNE = "tonne"
    HECTARE = "hectare"
    ABV_PERCENT = "abv_percent"  # % vol at 20 °C
    PROOF = "proof"  # US proof at 60 °F
    CELSIUS = "celsius"
    BRIX = "brix"
    DAY = "day"  # an ordinal day, 1 is the first
    CUT = "cut"  # which part of a run, by its place in `cuts.CUTS`
    HOUR = "hour"
    YEAR = "year"
    STANDARD_DRINK = "standard_drink"


RESTING = "resting"
"""`Figure.missing` when the thing itself rests: `as_of` is then the last time it ran."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value in its Spec's unit, or the reason why there is none.

    `missing` is set exactly when `value` is None: `RESTING`, or a code for why
    the value cannot be known. `low` and `high` bound an estimate (90 %).
    `rests_on` names the records behind it, such as ``gauge:1842``.
    """

    value: float | int | None
    as_of: datetime | None
    basis: Basis
    low: float | None = None
    high: float | None = None
    missing: str = ""
    rests_on: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.value is None) != bool(self.missing):
            raise ValueError("a figure has either a value or a reason why it is missing")
        if self.missing == RESTING and self.as_of is None:
            raise ValueError("a resting figure says when it last ran; without that it is not known")


@dataclass(frozen=True, slots=True)
class Spec:
    """What a figure's name means, stated once.

    `digits` are the decimals that the trade writes. `stale_after_s` is the age
    in seconds past which a value is shown with its age instead of 'now'.
    `of` is "" for one value, "tank", "store", "wood" or "product" for values kept per
    key, "cask" or "lot" for values computed when asked and never kept. `daily`
    says that it is counted from nothing again each service day.
    """

    name: str
    unit: Unit
    digits: int
    stale_after_s: int
    public: bool = True
    of: str = ""
    daily: bool = False


ON_DEMAND = frozenset({"cask", "lot"})


def state(figure: Figure, spec: Spec, now: datetime) -> State:
    """Say whether a figure is fresh, stale, resting or not known at `now`."""
    if figure.missing == RESTING:
        return State.RESTING
    if figure.value is None or figure.as_of is None:
        return State.UNKNOWN
    age_s = (now - figure.as_of).total_seconds()
    return State.STALE if age_s > spec.stale_after_s else State.FRESH


Figures = Mapping[tuple[str, str], Figure]
# `Any` stands for the database session and the site, which figures may not import.
Compute = Callable[[Any, Any, datetime, str], Figures]


@dataclass(frozen=True, slots=True)
class Provider:
    """Computes several figures from the records of the subjects in `reads`.

    `compute(session, site, now, of)` returns figures by (name, key); `of` is the
    one key asked for an on-demand spec, "" for everything that is kept. The
    result is kept until a subject in `reads` changes or `fresh_s` seconds pass.
    """

    specs: tuple[Spec, ...]
    reads: frozenset[str]
    fresh_s: int
    compute: Compute


class Registry:
    """Every provider of the house and what each last computed in this process."""

    def __init__(self, providers: Iterable[Provider]) -> None:
        self.specs: dict[str, Spec] = {}
        self.kept = VersionedCache()
        self._owner: dict[str, Provider] = {}
        for provider in providers:
            for spec in provider.specs:
                if spec.name in self.specs:
                    raise ValueError(f"two providers compute the figure {spec.name!r}")
                self.specs[spec.name] = spec
                self._owner[spec.name] = provider

    def book(
        self,
        open_session: Callable[[], AbstractContextManager[Any]],
        versions: Callable[[Any], Mapping[str, int]],
        site: Any,
        now: datetime,
    ) -> FigureReader:
        """Open a book for one request: the versions are read before any data."""
        with open_session() as session:
            seen = dict(versions(session))
        return FigureReader(self, open_session, seen, site, now)

    def owner(self, name: str) -> Provider:
        """Return the provider of a figure; KeyError when nobody computes it."""
        return self._owner[name]


class FigureReader:
    """Answers figures by name for one request or one command."""

    def __init__(
        self,
        registry: Registry,
        open_session: Callable[[], AbstractContextManager[Any]],
        versions: Mapping[str, int],
        site: Any,
        now: datetime,
        slot: str = "",
    ) -> None:
        self._registry = registry
        self._open_session = open_session
        self._versions = versions
        self._site = site
        self._slot = slot
        self.now = now

    def as_of(self, then: datetime) -> FigureReader:
        """Return the book of an earlier moment, as the records tell of it today.

        One earlier moment at a time is kept, such as the end of yesterday.
        """
        return FigureReader(self._registry, self._open_session, self._versions, self._site, then, "earlier")

    def kept(self, source: CachedQuery[T]) -> T:
        """Return a value that is kept as figures are: computed once per change of what it reads."""
        return self._get(source, lambda session: source.compute(session, self._site, self.now))

    @property
    def specs(self) -> Mapping[str, Spec]:
        """Every spec by name."""
        return self._registry.specs

    def get(self, name: str, of: str = "") -> Figure:
        """Return one figure; KeyError for a name nobody computes."""
        spec = self._registry.specs[name]
        provider = self._registry.owner(name)
        found = self._asked(provider, of) if spec.of in ON_DEMAND else self._found(provider)
        return found.get((name, of)) or Figure(None, None, Basis.STATED, missing="no_record")

    def each(self, name: str) -> dict[str, Figure]:
        """Return every kept value of a figure by its key (tank, store, product)."""
        found = self._found(self._registry.owner(name))
        return {of: figure for (found_name, of), figure in found.items() if found_name == name}

    def public(self) -> dict[str, Figure]:
        """Return every public figure that has a single value."""
        return {s.name: self.get(s.name) for s in self._registry.specs.values() if s.public and not s.of}

    def version(self) -> str:
        """Name the state of everything this book can say, for an ETag."""
        parts = [f"{subject}:{n}" for subject, n in sorted(self._versions.items())]
        return "-".join([*parts, str(int(self.now.timestamp()) // 5)])

    def _found(self, provider: Provider) -> Figures:
        return self._get(provider, lambda session: provider.compute(session, self._site, self.now, ""))

    def _get(self, owner: CachedQuery[T] | Provider, compute: Callable[[Any], T]) -> T:
        step = int(self.now.timestamp()) // owner.fresh_s
        versions = tuple(self._versions.get(subject, 0) for subject in sorted(owner.reads))

        def computed() -> T:
            with self._open_session() as session:
                return compute(session)

        return self._registry.kept.get(owner, self._slot, (versions, step), computed)

    def _asked(self, provider: Provider, of: str) -> Figures:
        with self._open_session() as session:
            return provider.compute(session, self._site, self.now, of)
