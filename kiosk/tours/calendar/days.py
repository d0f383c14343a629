"""Service days: when the house is open, why a day is closed, its first aider and who holds its keys."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.people import is_staff
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import service_days
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault, FormFaults

WHY_CLOSED: Mapping[str, str] = {
    "holiday": N_("public holiday"),
    "weather": N_("weather"),
    "works": N_("works in the house"),
    "harvest": N_("harvest"),
    "private": N_("private event"),
    "other": N_("another reason"),
}
"""Why a day is closed; codes, because the history keeps them for good."""

OUT_OF_HOURS = N_("no opening hours on this weekday")

NO_REASON = N_("Choose why the house is closed, or “open”.")
NO_PERSON = N_("Choose a person who works here, or “not decided”.")


class DayFaults(FormFaults[str]):
    """A service day that cannot be saved: a message with its facts by field."""

    message = N_("Not saved yet. What is wrong is marked below.")


@dataclass(frozen=True, slots=True)
class ServiceDay:
    """A service day: its hours, why it is closed ("" while it is open), and the people of the day by name."""

    day: date
    hours: tuple[tuple[datetime, datetime], ...]
    closed_why: str = ""
    first_aider: str | None = None
    key_holder: str | None = None
    first_aider_id: int | None = None
    key_holder_id: int | None = None
    revision: int = 0

    @property
    def closes(self) -> datetime | None:
        """When the last guests are gone; None on a day without opening hours."""
        return self.hours[-1][1] if self.hours else None

    @property
    def closed(self) -> str:
        """Why the house receives no guests: a message of the catalogs, "" on an open day."""
        if self.closed_why:
            return WHY_CLOSED.get(self.closed_why, WHY_CLOSED["other"])
        return "" if self.hours else OUT_OF_HOURS

    def receives(self, start: datetime, end: datetime) -> bool:
        """Return whether the house is open from `start` to `end`."""
        return not self.closed_why and any(opens <= start and end <= closes for opens, closes in self.hours)


def service_day(session: Session, site: Site, day: date) -> ServiceDay:
    """Return what is known of one service day."""
    return service_days_of(session, site, [day])[day]


def service_days_of(session: Session, site: Site, days: Collection[date]) -> dict[date, ServiceDay]:
    """Return what is known of some service days, by day, in one query."""
    d, aider, holder = service_days.c, staff.alias("aider"), staff.alias("holder")
    query = (
        select(service_days, aider.c.name.label("first_aider"), holder.c.name.label("key_holder"))
        .outerjoin_from(service_days, aider, aider.c.id == d.first_aider_id)
        .outerjoin(holder, holder.c.id == d.key_holder_id)
        .where(d.day >= min(days), d.day <= max(days))
    )
    saved = {row.day: row for row in session.execute(query)}
    return {day: _known(site, day, saved.get(day)) for day in days}


def _known(site: Site, day: date, row: Row[Any] | None) -> ServiceDay:
    hours = site.opening_of(day)
    if row is None:
        return ServiceDay(day, hours)
    people = (row.first_aider, row.key_holder, row.first_aider_id, row.key_holder_id)
    return ServiceDay(day, hours, row.closed_why or "", *people, row.revision)


def week_of(day: date) -> tuple[date, ...]:
    """Return the seven days of the week of a day, from Monday."""
    monday = day - timedelta(days=day.weekday())
    return tuple(monday + timedelta(days=n) for n in range(7))


def save_day(
    session: Session,
    site: Site,
    day: date,
    revision: int,
    *,
    closed_why: str,
    first_aider_id: int | None,
    key_holder_id: int | None,
    by: int,
    at: datetime,
) -> None:
    """Close or open a service day and name its first aider and key holder; `revision` 0 is of a new row.

    The tours of a day that is closed stay: each is canceled by itself, since its guests have to hear of it.
    Raises DayFaults and Stale.
    """
    faults: dict[str, Fault] = {}
    if closed_why and closed_why not in WHY_CLOSED:
        faults["closed_why"] = (NO_REASON, {})
    for name, person in (("first_aider", first_aider_id), ("key_holder", key_holder_id)):
        if person is not None and not is_staff(session, person):
            faults[name] = (NO_PERSON, {})
    if faults:
        raise DayFaults(faults)
    values = {
        "closed_why": closed_why or None,
        "first_aider_id": first_aider_id,
        "key_holder_id": key_holder_id,
    }
    saved = session.execute(select(service_days).where(service_days.c.day == day)).one_or_none()
    if saved is not None and not revision:
        raise Stale(service_days.name, saved.id, None, at)
    if saved is None:
        rows.insert(session, service_days, {**values, "day": day})
    else:
        rows.change(session, service_days, saved.id, revision, values, by=by, at=at, why="planned")
