"""What the pages of one running site share: its settings, store, figures, content and words.

`create_app` builds one `SiteContext` and keeps it on the app; nothing is kept at module level.
"""

import math
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, cast

from flask import current_app, g, request
from sqlalchemy.orm import Session

from kiosk.figures.figure import CachedQuery, FigureReader, Registry
from kiosk.figures.service.bottles import OpenBottles
from kiosk.figures.tours.closures import Closure
from kiosk.paper.pictures import Picture
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.names import Names, read_names
from kiosk.store.rows import versions
from kiosk.words.catalogs import N_, Words

StopPictures = Callable[[Session, str, PageReader], list[Picture]]
"""Draws the pictures of the records for the stop with a slug, in the reader's language."""
GroupsOnWalk = Callable[[FigureReader], Sequence[tuple[str, float]]]
"""Returns the letter of each group that walks now, and its place: 2.5 is after the third stop."""
ClosedStops = Callable[[FigureReader], Mapping[str, Closure]]
"""Returns the closure that holds now at each closed stop, by the stop's slug."""
CasksFilledOn = Callable[[FigureReader, int, int], Sequence[int]]
"""Returns the year of every cask that was filled on a day and month of the year."""
ReadOpenBottles = Callable[[Session, Site], Mapping[tuple[str, str], OpenBottles]]
"""Returns what is left in the open bottles of each product, by room and product."""
RecordCaskSample = Callable[..., tuple[str, Mapping[str, object]] | None]
"""Records a sample of a cask, and returns None, or the sentence and the facts of what prevents it."""


MOST_SENDERS = 10_000
"""Beyond this number the sender that asked longest ago is forgotten."""


class TooOften(Exception):
    """A sender asked more often than the limit allows."""

    status = 429
    message = N_("Too much was sent from here in a short time. Try again in {seconds} s.")

    def __init__(self, seconds: int) -> None:
        super().__init__(seconds)
        self.facts = {"seconds": seconds}


class RateLimit:
    """A limit kept in memory: `burst` requests of a sender at once, then one every `every_s` seconds."""

    def __init__(self, burst: int, every_s: float) -> None:
        self._burst, self._every_s = burst, every_s
        self._senders: OrderedDict[object, tuple[float, datetime]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, sender: object, now: datetime) -> int:
        """Return the seconds after which a sender may ask again, 0 for at once."""
        with self._lock:
            used = self._used(sender, now)
        return max(0, math.ceil((used - self._burst + 1) * self._every_s))

    def count(self, sender: object, now: datetime) -> None:
        """Count one request of a sender."""
        with self._lock:
            self._senders[sender] = self._used(sender, now) + 1, now
            self._senders.move_to_end(sender)
            if len(self._senders) > MOST_SENDERS:
                self._senders.popitem(last=False)

    def require(self, sender: object, now: datetime) -> None:
        """Count a request of a sender. Raises TooOften where it must wait."""
        if seconds := self.wait_s(sender, now):
            raise TooOften(seconds)
        self.count(sender, now)

    def _used(self, sender: object, now: datetime) -> float:
        used, at = self._senders.get(sender, (0.0, now))
        return max(0.0, used - (now - at).total_seconds() / self._every_s)


def _no_bottles(_session: Session, _site: Site) -> Mapping[tuple[str, str], OpenBottles]:
    return {}


@dataclass(frozen=True, slots=True)
class SiteContext:
    """Everything that one running site holds: settings, database, figures, content, words, clock."""

    site: Site
    store: Store
    registry: Registry
    content: Content
    words: Mapping[str, Words]  # by language code
    clock: Callable[[], datetime]
    stop_pictures: StopPictures
    casks_filled_on: CasksFilledOn
    groups_on_walk: GroupsOnWalk
    closed_stops: ClosedStops
    record_cask_sample: RecordCaskSample
    open_bottles: ReadOpenBottles = _no_bottles
    entry_kinds: Sequence[Any] = ()  # what `kiosk.entries` takes in
    held_sources: Sequence[Any] = ()  # what its page of held entries lists
    wrong_codes: RateLimit = field(default_factory=lambda: RateLimit(burst=20, every_s=6))
    """Wrong one-time codes, and wrong tokens of instruments, by address."""
    instruments: RateLimit = field(default_factory=lambda: RateLimit(burst=600, every_s=0.2))
    """Requests of each instrument."""
    known_senders: set[str] = field(default_factory=set)
    """Keyed hashes of the cookies of devices, revoked ones too, that have sent entries."""
    started: str = field(default_factory=lambda: secrets.token_hex(8))
    """Differs at each start: content is read then, and a page of an earlier start may say something else."""
    importing: threading.Lock = field(default_factory=threading.Lock)
    """Held by the one request that reads files of records."""


def site_context() -> SiteContext:
    """Return the context of the site that the current app serves."""
    return cast(SiteContext, current_app.extensions["kiosk"])


def now() -> datetime:
    """Return the moment of this request in the site's time zone; the same for the whole request."""
    if "now" not in g:
        g.now = site_context().site.local(site_context().clock())
    return cast(datetime, g.now)


def cookie_name(name: str) -> str:
    """Return the name under which a browser keeps a cookie of this site: two sites may be on one host."""
    return f"{name}_{site_context().site.key}"


def cookie(name: str) -> str:
    """Return a cookie of this site, "" without; one of version 0.1.0, without the key, is read too."""
    return request.cookies.get(cookie_name(name)) or request.cookies.get(name, "")


def figure_reader() -> FigureReader:
    """Return the reader of figures for this request, opened at its first use."""
    if "figures" not in g:
        here = site_context()
        g.figures = here.registry.reader(here.store.read, versions, here.site, now())
    return cast(FigureReader, g.figures)


_NAMES: CachedQuery[Names] = CachedQuery(
    frozenset({"display_names"}), 3600, lambda session, site, now: read_names(session)
)


def display_names() -> Names:
    """Return the names that staff gave to experiments and varieties, read when they have changed."""
    return figure_reader().cached(_NAMES)


def words() -> Words:
    """Return the words of the language chosen for this request (`web.language`)."""
    return cast(Words, g.words)


def page_reader(in_words: Words | None = None) -> PageReader:
    """Return the reader of this request's pages, in the language of `in_words` or of the request."""
    here = site_context()
    return PageReader(
        in_words or words(),
        here.site.units.value,
        figure_reader(),
        here.content.facts,
        here.site.local(now()),
    )
