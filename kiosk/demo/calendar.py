"""Moves the demo's dates so that the last day in its files is today.

Whole days first: the service day of the newest record becomes the service day
of now, and every date in the files moves by the same number of days. Tours, days
of bottling and everything before the last day keep their hour.

The records of the last day (a load milled, a wash set, a run under way) must lie
in the past, the newest of them just before now, whatever the hour. Later in the
day than the files were written, all of them move later by the difference, so that
the run's readings keep their pace. Earlier, they are compressed between the start
of the day and now; in a day's first minutes, between `ROOM` before now and now.
"""

import csv
import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from kiosk.site.settings import Site

JUST_NOW = timedelta(minutes=1)
"""How long before now the newest record lies."""
ROOM = timedelta(minutes=10)
"""The shortest time into which a day's records are compressed, so that none coincide."""

_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2}")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True, slots=True)
class Calendar:
    """How the files' dates become today's. All times are the estate's own clock, without a zone."""

    written_day: datetime  # the beginning of the files' last service day
    written_now: datetime  # when the files were written
    day: datetime  # the beginning of today's service day
    now: datetime

    def day_of(self, written: date) -> date:
        """Return a date of the files as it is today."""
        return written + (self.day.date() - self.written_day.date())

    def moment_of(self, written: datetime) -> datetime:
        """Return a time of the files as it is today, to the second."""
        if written < self.written_day:
            return datetime.combine(self.day_of(written.date()), written.time())
        ago, passed = self.written_now - written, self.written_now - self.written_day
        room = max(self.now - self.day, ROOM)
        return (self.now - ago * min(1.0, room / passed)).replace(microsecond=0)


def calendar_for(site: Site, records: Path, now: datetime) -> Calendar:
    """Return the calendar that makes the newest time in a folder of records just past at `now`."""
    newest = max(_moments(records))
    # Without its offset a time is what the estate's clock shows; the demo's zone never changes it.
    written_now = newest + JUST_NOW
    written_day = site.service_day(newest.replace(tzinfo=site.zone))
    return Calendar(
        _start(site, written_day),
        written_now,
        _start(site, site.service_day(now)),
        site.local(now).replace(tzinfo=None),
    )


def move_files(folder: Path, calendar: Calendar) -> None:
    """Rewrite each CSV file under a folder in place, with its dates and times moved as `calendar` says."""
    for path in sorted(folder.rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows = [[_moved(cell, calendar) for cell in row] for row in csv.reader(file)]
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)


def _moved(cell: str, calendar: Calendar) -> str:
    if _MOMENT.fullmatch(cell):
        return calendar.moment_of(datetime.fromisoformat(cell)).isoformat(" ", "seconds")
    return calendar.day_of(date.fromisoformat(cell)).isoformat() if _DAY.fullmatch(cell) else cell


def _moments(folder: Path) -> list[datetime]:
    cells: list[str] = []
    for path in folder.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            cells += [cell for row in csv.reader(file) for cell in row if _MOMENT.fullmatch(cell)]
    return [datetime.fromisoformat(cell) for cell in cells]


def _start(site: Site, day: date) -> datetime:
    return datetime.combine(day, site.day_starts or time())
