"""Named figures: what each name means, which code computes it, and how values are cached.

A `Figure` is a value with its time and its basis, or the reason why there is none. A `Spec`
defines a name once: its unit, its decimals, when it is stale. A `Provider` computes
several figures from the records; the `Registry` holds every provider and the cache; a
`FigureReader` returns figures by name for one request or one command.

Everything computed from many records is cached by one mechanism, `VersionedCache`: a value is
computed again when a subject it reads has changed or its time is up. While one thread
computes, the others get the value before; only the very first computation is waited for.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from typing import Any, Generic, TypeVar, cast

T = TypeVar("T")


class Basis(StrEnum):
    """How a value is known: counted, measured, estimated by a model, or stated by a person."""

    COUNTED = "counted"
    MEASURED = "measured"
    ESTIMATED = "estimated"
    STATED = "stated"


class State(StrEnum):
    """Whether a figure holds now (fresh), held earlier (stale), rests, or is not known."""

    FRESH = "fresh"
    STALE = "stale"
    RESTING = "resting"
    UNKNOWN = "unknown"


class Unit(StrEnum):
    """The unit in which a figure's value is stored; `kiosk.words.units` converts for the reader."""

    COUNT = "count"
    SHARE = "share"  # 0..1, written as per cent
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
    CELSIUS_DIFFERENCE = "celsius_difference"  # between two temperatures
    BRIX = "brix"
    GRAVITY = "gravity"  # specific gravity at 20 °C
    DAY = "day"  # an ordinal day, 1 is the first
    CUT = "cut"  # which part of a run, by its place in `cuts.CUTS`
    HOUR = "hour"
    YEAR = "year"
    STANDARD_DRINK = "standard_drink"


RESTING = "resting"
"""`Figure.missing` of equipment that stands idle: `as_of` is then the last time it ran."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value in its Spec's unit, or the reason why there is none.

    `missing` is set exactly when `value` is None: `RESTING`, or a code for why
    the value is not known. `low` and `high` bound an estimate (90 %).
    `rests_on` names the records that it was computed from, such as ``gauge:1842``.
    `corrected_at` is when a correction of the records lowered a value that otherwise only grows.
    """

    value: float | int | None
    as_of: datetime | None
    basis: Basis
    low: float | None = None
    high: float | None = None
    missing: str = ""
    rests_on: tuple[str, ...] = ()
    corrected_at: datetime | None = None

    def __post_init__(self) -> None:
        if (self.value is None) != bool(self.missing):
            raise ValueError("a figure has either a value or a reason why it is missing")
        if self.missing == RESTING and self.as_of is None:
            raise ValueError("a resting figure needs the time when it last ran")


@dataclass(frozen=True, slots=True)
class Spec:
    """The definition of a figure's name.

    `digits` is the number of decimals that the trade writes. `stale_after_s` is the age
    in seconds past which a value is shown with its age instead of 'now'.
    `of` is "" for a single value, "tank", "store", "wood" or "product" for cached values
    by key, "cask" or "lot" for values computed on demand and never cached. `daily`
    means that it starts at zero each service day. `public` figures may stand on guest pages.
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
    """Return whether a `figure`, defined by `spec`, is fresh, stale, resting or not known at `now`."""
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
    """The function that computes several figures, and the record subjects that it `reads`.

    `compute(session, site, now, of)` returns figures by (name, key); `of` is the
    requested key of an on-demand spec, "" for everything that is cached. The
    result stays cached until a subject in `reads` changes or `fresh_s` seconds pass.
    """

    specs: tuple[Spec, ...]
    reads: frozenset[str]
    fresh_s: int
    compute: Compute


@dataclass(frozen=True, slots=True)
class CachedQuery(Generic[T]):
    """A value, not a named figure, that is computed from the records and cached as figures are.

    `compute(session, site, now)` returns it. It stays cached until a subject in `reads`
    changes or `fresh_s` seconds pass. `Any` stands for the database session and
    the site, which this package may not import.
    """

    reads: frozenset[str]
    fresh_s: int
    compute: Callable[[Any, Any, datetime], T]


@dataclass(frozen=True, slots=True, eq=False)
class CachedDocument:
    """A kind of page or paper that is rendered from the records, cached by key (lot, language, sheet).

    A key's value stays cached until a subject in `reads` changes or `fresh_s` seconds pass, and
    only for the keys that were asked for last.
    """

    reads: frozenset[str]
    fresh_s: int


MOST_DOCUMENTS = 256
"""A PDF of a bottling takes 30 kB, a page of a stop as much."""


@dataclass(slots=True)
class _Slot:
    owner: object  # referenced, so that no other object can get its id
    version: tuple[object, ...] | None = None
    value: object = None
    lock: threading.Lock = field(default_factory=threading.Lock)


class VersionedCache:
    """The last computed value of each owner and slot (now, or an earlier moment), of at most `most`."""

    def __init__(self, most: int | None = None) -> None:
        self._slots: OrderedDict[tuple[int, str], _Slot] = OrderedDict()
        self._most, self._order = most, threading.Lock()

    def get(
        self, owner: object, slot: str, version: tuple[object, ...], compute: Callable[[], T]
    ) -> tuple[T, bool]:
        """Return the value of `owner`, and whether it is that of `version`; where not, `compute()` it.

        `slot` separates values of one owner that are cached side by side. Only one thread
        computes; the others get the older value meanwhile, and wait when there is none.
        """
        cached = self._slot(owner, slot)
        if cached.version == version:
            return cast(T, cached.value), True
        if not cached.lock.acquire(blocking=cached.version is None):
            return cast(T, cached.value), False
        try:
            if cached.version != version:
                cached.value = self._computed(owner, slot, compute)
                cached.version = version
            return cast(T, cached.value), True
        finally:
            cached.lock.release()

    def _slot(self, owner: object, slot: str) -> _Slot:
        place = id(owner), slot
        if self._most is None:
            return self._slots.setdefault(place, _Slot(owner))
        with self._order:
            cached = self._slots.setdefault(place, _Slot(owner))
            self._slots.move_to_end(place)
            if len(self._slots) > self._most:
                self._slots.popitem(last=False)
        return cached

    def _computed(self, owner: object, slot: str, compute: Callable[[], T]) -> T:
        try:
            return compute()
        except BaseException:
            if self._most is not None:  # what does not exist takes no place
                with self._order:
                    self._slots.pop((id(owner), slot), None)
            raise


class Registry:
    """Every provider, with the cache of what each last computed in this process."""

    def __init__(self, providers: Iterable[Provider]) -> None:
        self.specs: dict[str, Spec] = {}
        self.cache, self.documents = VersionedCache(), VersionedCache(MOST_DOCUMENTS)
        self.pages = VersionedCache(MOST_DOCUMENTS)
        self._owner: dict[str, Provider] = {}
        self.providers = tuple(providers)
        for provider in self.providers:
            for spec in provider.specs:
                if spec.name in self.specs:
                    raise ValueError(f"two providers compute the figure {spec.name!r}")
                self.specs[spec.name] = spec
                self._owner[spec.name] = provider

    def reader(
        self,
        open_session: Callable[[], AbstractContextManager[Any]],
        versions: Callable[[Any], Mapping[str, int]],
        site: Any,
        now: datetime,
    ) -> FigureReader:
        """Return a reader of figures at `now` for one request or command.

        `versions(session)` counts the changes of each subject; it is called before any data is read.
        """
        with open_session() as session:
            counts = dict(versions(session))
        return FigureReader(self, open_session, counts, site, now)

    def owner(self, name: str) -> Provider:
        """Return the provider of a figure. Raises KeyError for an unknown name."""
        return self._owner[name]


@dataclass(slots=True)
class FigureReader:
    """Returns figures by name, all at one moment, for one request or one command.

    `current` is False once a value was returned that is older than the versions of this reader.
    """

    _registry: Registry
    _open_session: Callable[[], AbstractContextManager[Any]]
    _versions: Mapping[str, int]
    _site: Any
    now: datetime
    _slot: str = ""
    current: bool = True

    def as_of(self, then: datetime) -> FigureReader:
        """Return a reader of the figures as they stood at `then`, computed from today's records.

        Only one earlier moment at a time is cached, such as the end of yesterday.
        """
        return replace(self, now=then, _slot="earlier", current=True)

    def cached(self, query: CachedQuery[T]) -> T:
        """Return the value of `query`, computed only when a subject that it reads has changed."""
        return self._get(query, lambda session: query.compute(session, self._site, self.now))

    def document(self, kind: CachedDocument, key: str, compute: Callable[[Any], T]) -> T:
        """Return the document of a kind and key; where its records changed, `compute(session)` it."""
        return self._get(kind, compute, self._registry.documents, key)

    @property
    def specs(self) -> Mapping[str, Spec]:
        """The definition of every figure, by name."""
        return self._registry.specs

    def get(self, name: str, of: str = "") -> Figure:
        """Return one figure, of the key `of` where it has several. Raises KeyError for an unknown name."""
        spec = self._registry.specs[name]
        provider = self._registry.owner(name)
        figures = self._compute(provider, of) if spec.of in ON_DEMAND else self._figures(provider)
        return figures.get((name, of)) or Figure(None, None, Basis.STATED, missing="no_record")

    def each(self, name: str) -> dict[str, Figure]:
        """Return every cached value of a figure by its key (tank, store, product)."""
        figures = self._figures(self._registry.owner(name))
        return {of: figure for (each, of), figure in figures.items() if each == name}

    def version(self) -> tuple[object, ...]:
        """Return what changes when any cached figure may have changed, for an ETag.

        Besides the counts of the subjects it holds the values of the figures whose records no subject
        counts, and the step of time in which the others stay cached; a figure's age is text of that step.
        """
        uncounted = [provider for provider in self._registry.providers if not provider.reads]
        values = [
            (key, one.value, one.missing) for each in uncounted for key, one in self._figures(each).items()
        ]
        step_s = min((one.fresh_s for one in self._registry.providers if one.reads), default=60)
        step = int(self.now.timestamp()) // step_s
        return (*sorted(self._versions.items()), *values, step)

    def _figures(self, provider: Provider) -> Figures:
        return self._get(provider, lambda session: provider.compute(session, self._site, self.now, ""))

    def _get(
        self,
        owner: CachedQuery[T] | Provider | CachedDocument,
        compute: Callable[[Any], T],
        cache: VersionedCache | None = None,
        key: str = "",
    ) -> T:
        step = int(self.now.timestamp()) // owner.fresh_s
        versions = tuple(self._versions.get(subject, 0) for subject in sorted(owner.reads))

        def computed() -> T:
            with self._open_session() as session:
                return compute(session)

        slot, kept = f"{self._slot}/{key}", cache or self._registry.cache
        value, current = kept.get(owner, slot, (versions, step), computed)
        self.current = self.current and current
        return value

    def _compute(self, provider: Provider, of: str) -> Figures:
        with self._open_session() as session:
            return provider.compute(session, self._site, self.now, of)
