"""What was served in an inspected span, counted by day, product, hour and guest number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TypeVar

from kiosk.site.settings import Site
from kiosk.tasting.inspecting import Inspection
from kiosk.tasting.judging import Verdict

K = TypeVar("K", bound=Hashable)


@dataclass(slots=True)
class Tally:
    """Servings added up; `ethanol` in 1e-4 µL."""

    samples: int = 0
    volume_ul: int = 0
    ethanol: int = 0
    against: int = 0  # servings with a reason against them
    first: datetime | None = None
    last: datetime | None = None
    guests: set[int] = field(default_factory=set)

    def add(self, one: Verdict) -> None:
        """Count one serving; verdicts come in order of time."""
        self.samples += 1
        self.volume_ul += one.served.volume_ul
        self.ethanol += one.served.ethanol
        self.against += bool(one.reasons)
        self.first = self.first or one.served.at
        self.last = one.served.at
        self.guests.add(one.served.guest_id)


def tallied(found: Iterable[Verdict], key: Callable[[Verdict], K]) -> Mapping[K, Tally]:
    """Add servings up by a key, in the order in which the keys first come."""
    tallies: dict[K, Tally] = defaultdict(Tally)
    for one in found:
        tallies[key(one)].add(one)
    return tallies


def by_day(told: Inspection, site: Site) -> Mapping[date, Tally]:
    """Return what was served by service day."""
    return tallied(told.verdicts, lambda one: site.service_day(one.served.at))


def by_product(told: Inspection) -> Mapping[str, Tally]:
    """Return what was served by glass: a product or a recipe."""
    return dict(sorted(tallied(told.verdicts, lambda one: one.served.glass).items()))


def by_hour(told: Inspection, site: Site) -> Mapping[int, Tally]:
    """Return what was served by hour of the site's clock, all days together, from the day's first hour on."""
    found = tallied(told.verdicts, lambda one: site.local(one.served.at).hour)
    return dict(sorted(found.items(), key=lambda item: (item[0] - site.day_starts.hour) % 24))


def by_guest(told: Inspection, site: Site) -> Mapping[tuple[date, int], Tally]:
    """Return what was served by service day and guest; a guest's number is unique within a day."""
    found = tallied(told.verdicts, lambda one: (site.service_day(one.served.at), one.served.guest_id))
    return dict(sorted(found.items(), key=lambda item: (item[0][0], number(told, item[0][1]))))


def number(told: Inspection, guest_id: int) -> int:
    """Return a guest's number, 0 for one whose number is of days before the span."""
    return told.numbers[guest_id][1] if guest_id in told.numbers else 0
