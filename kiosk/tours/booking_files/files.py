"""Bookings from a CSV file: read, compared with the bookings here, previewed, and recorded all or none.

A row is known again by its reference. A row whose status says so cancels its booking; one that is no longer
in the file cancels nothing. The file itself is kept nowhere: the page that previews it sends it back.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site, instants_of
from kiosk.store import rows
from kiosk.store.csv_rows import CsvFault, CsvReason, csv_rows
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tours.day import tours_between
from kiosk.tours.planning.bookings import BookingDraft, booking_values, field_faults, takes_places
from kiosk.tours.planning.effects import shown_mark
from kiosk.tours.planning.forms import plain, whole
from kiosk.words.catalogs import N_
from kiosk.words.formats import parse_day

NEEDED = ("reference", "day", "time", "name", "people", "language")
COLUMNS: Mapping[str, str] = {
    "reference": N_("its number where it was sold; it is never used twice"),
    "day": N_("the day of the tour, like 2026-07-04"),
    "time": N_("the start of the tour on the clock of this site, like 10:00"),
    "name": N_("the name of who booked"),
    "people": N_("how many people, a whole number"),
    "language": N_("the code of their language"),
    "contact": N_("phone or e-mail"),
    "notes": N_("notes"),
    "access_needs": N_("access needs"),
    "allergens": N_("codes of allergens, parted by blanks"),
    "allergy_notes": N_("other allergies, in their own words"),
    "voucher": N_("ticket or voucher number, and who sold it"),
    "ticket": N_("the kind of ticket, as the settings of this site name it; an empty cell changes nothing"),
    "status": N_("“booked” or empty; “canceled” cancels the booking of this reference"),
}
STATUSES = ("", "booked", "canceled")
MOST_ROWS = 2_000
_FIELD_OF = {"lead_name": "name", "size": "people"}

NOT_TEXT = N_("This is no text in UTF-8. Save the table as CSV UTF-8.")
OPEN_QUOTE = N_("A quotation mark is opened here and never closed.")
NO_COLUMN = N_("The column “{name}” is missing.")
UNKNOWN_COLUMN = N_("The column “{name}” is not known. Allowed: {allowed}.")
TOO_MANY_ROWS = N_("More than {most} rows. Send the file in parts.")
CELLS = N_("{n} cells stand here and {wanted} headings above.")
EMPTY = N_("This cell is empty. It is needed.")
TWICE = N_("“{typed}” stands in row {row} already.")
NO_DAY = N_("“{typed}” is not a day. Write it like 2026-07-04.")
NO_TIME = N_("“{typed}” is not a time. Write it like 10:00.")
NO_TOUR = N_("No tour starts on this day at {typed}. Plan it first, or correct the time.")
NO_PEOPLE = N_("“{typed}” is not possible. Allowed: a whole number from 1.")
NO_PLACES = N_("The tour has {free} free places. Move people, or give it more places first.")
NO_STATUS = N_("“{typed}” is no status. Allowed: booked, canceled, or an empty cell.")
CHECKED_IN = N_("Guests of this booking are checked in. Change it on its page.")


@dataclass(frozen=True, slots=True)
class CellFault:
    """What is wrong in a cell of a file, with its remedy."""

    row: int
    column: str
    message: str
    facts: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class FileRow:
    """A row that was read: its number, the booking that it describes or cancels, and when its tour starts."""

    number: int
    draft: BookingDraft
    starts_at: datetime
    typed_time: str
    cancels: bool = False


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """A row beside the bookings here: its tour, the booking it is known as, and what would change in it."""

    row: FileRow
    tour_id: int
    former: Row[Any] | None
    changes: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class FilePlan:
    """What a file would do: bookings that are new, that change, and that it cancels.

    `canceled` counts the rows whose booking was canceled here and stays so, `unknown` those that cancel a
    booking which was never here.
    """

    new: tuple[PlannedRow, ...] = ()
    changed: tuple[PlannedRow, ...] = ()
    same: int = 0
    canceled: int = 0
    faults: tuple[CellFault, ...] = ()
    cancels: tuple[PlannedRow, ...] = ()
    unknown: int = 0

    @property
    def freed(self) -> int:
        """How many places the bookings that it cancels had."""
        return sum(one.former.size for one in self.cancels if one.former is not None)

    @property
    def mark(self) -> str:
        """A digest of what it would do."""
        new = [(one.row, one.tour_id) for one in self.new]
        changed = [(one.row.number, one.former and one.former.revision, one.changes) for one in self.changed]
        ends = [(one.row.number, one.former and one.former.revision) for one in self.cancels]
        return shown_mark((new, changed, self.faults, ends))


class FileOutdated(Exception):
    """A file would do something else than its preview showed."""

    status = 409
    message = N_("The bookings have changed since you looked. Look again before you say yes.")
    facts: Mapping[str, object] = {}


def read_file(data: bytes, site: Site) -> tuple[list[FileRow], list[CellFault]]:
    """Return the rows of a file and what is wrong in them."""
    faults: list[CellFault] = []
    try:
        table = [(number, cells) for number, cells in csv_rows(data) if any(cells)]
    except CsvFault as fault:
        message = OPEN_QUOTE if fault.reason is CsvReason.OPEN_QUOTE else NOT_TEXT
        return [], [CellFault(fault.row, "", message, {})]
    at, header = table[0] if table else (1, [])
    faults += [CellFault(at, name, NO_COLUMN, {"name": name}) for name in NEEDED if name not in header]
    unknown = [name for name in header if name and name not in COLUMNS]
    faults += [CellFault(at, one, UNKNOWN_COLUMN, {"name": one, "allowed": list(COLUMNS)}) for one in unknown]
    if len(table) > MOST_ROWS + 1:
        faults.append(CellFault(at, "", TOO_MANY_ROWS, {"most": MOST_ROWS}))
    if faults:
        return [], faults
    return _rows(table[1:], header, site, faults), faults


def _rows(
    table: Sequence[tuple[int, list[str]]], header: Sequence[str], site: Site, faults: list[CellFault]
) -> list[FileRow]:
    read, seen = [], dict[str, int]()
    for number, cells in table:
        if any(cells[len(header) :]) or len(cells) < len(header):
            faults.append(CellFault(number, "", CELLS, {"n": len(cells), "wanted": len(header)}))
            continue
        texts = {**dict.fromkeys(COLUMNS, ""), **{n: plain(c) for n, c in zip(header, cells, strict=False)}}
        wrong = list(_cell_faults(texts, number, seen, site))
        faults += wrong
        seen.setdefault(texts["reference"], number)
        if not wrong:
            read.append(_row(number, texts, site))
    return read


def _cell_faults(
    texts: Mapping[str, str], number: int, seen: Mapping[str, int], site: Site
) -> Iterator[CellFault]:
    empty = [name for name in NEEDED if not texts[name]]
    yield from (CellFault(number, name, EMPTY, {}) for name in empty)
    if (row := seen.get(texts["reference"])) and texts["reference"]:
        yield CellFault(number, "reference", TWICE, {"typed": texts["reference"], "row": row})
    if len(texts["reference"]) > 64 or (parse_day(texts["day"]) is None and texts["day"]):
        yield CellFault(number, "day", NO_DAY, {"typed": texts["day"]})
    if texts["time"] and _clock(texts["time"]) is None:
        yield CellFault(number, "time", NO_TIME, {"typed": texts["time"]})
    if texts["status"] not in STATUSES:
        yield CellFault(number, "status", NO_STATUS, {"typed": texts["status"][:40]})
    if texts["people"] and not whole(texts["people"]):
        yield CellFault(number, "people", NO_PEOPLE, {"typed": texts["people"]})
    for field, (message, facts) in field_faults(site, _draft(texts)):
        if (column := _FIELD_OF.get(field, field)) not in empty:
            yield CellFault(number, column, message, facts)


def _row(number: int, texts: Mapping[str, str], site: Site) -> FileRow:
    day, hour = parse_day(texts["day"]), _clock(texts["time"])
    assert day is not None
    assert hour is not None
    wall = datetime.combine(day, hour)
    instants = instants_of(wall, site.zone) or [wall.replace(tzinfo=site.zone)]
    return FileRow(number, _draft(texts), instants[0], texts["time"], texts["status"] == "canceled")


def _draft(texts: Mapping[str, str]) -> BookingDraft:
    return BookingDraft(
        lead_name=texts["name"],
        size=whole(texts["people"]),
        language=texts["language"],
        contact=texts["contact"],
        notes=texts["notes"],
        access_needs=texts["access_needs"],
        allergens=tuple(texts["allergens"].split()),
        allergy_notes=texts["allergy_notes"],
        voucher=texts["voucher"],
        ticket=texts["ticket"] or None,
        source_key=texts["reference"],
    )


def _clock(text: str) -> time | None:
    try:
        return time.fromisoformat(text.zfill(5))
    except ValueError:
        return None


def plan_file(session: Session, read: Sequence[FileRow], faults: Sequence[CellFault]) -> FilePlan:
    """Return what rows would do beside the bookings here, in three queries however many they are."""
    if not read:
        return FilePlan(faults=tuple(faults))
    starts = [one.starts_at for one in read]
    offered: dict[datetime, list[Row[Any]]] = defaultdict(list)
    free: dict[int, int] = {}
    for tour in tours_between(session, min(starts), max(starts) + timedelta(seconds=1)):
        if tour.cancelled_at is None and tour.finished_at is None:
            offered[tour.starts_at].append(tour)
            free[tour.id] = tour.places - tour.booked
    keys = [one.draft.source_key for one in read]
    known = select(bookings, _guests_of().label("arrived")).where(bookings.c.source_key.in_(keys))
    former = {row.source_key: row for row in session.execute(known)}
    return _Planner(offered, free, former).plan(read, faults)


def _guests_of() -> Any:
    return (
        select(func.count()).where(guests.c.booking_id == bookings.c.id).correlate(bookings).scalar_subquery()
    )


@dataclass(frozen=True, slots=True)
class _Planner:
    """Decides about the rows of a file in turn; the places that each takes are gone for the next.

    Those that cancel come first: their places are free for every other row.
    """

    offered: Mapping[datetime, Sequence[Row[Any]]]
    free: dict[int, int]
    former: Mapping[str, Row[Any]]

    def plan(self, read: Sequence[FileRow], faults: Sequence[CellFault]) -> FilePlan:
        """Return what the rows would do, with the faults that were found before."""
        new: list[PlannedRow] = []
        changed: list[PlannedRow] = []
        cancels, known, wrong = self._cancels(read)
        wrong = [*faults, *wrong]
        same, canceled = 0, known
        for row in (one for one in read if not one.cancels):
            former = self.former.get(row.draft.source_key or "")
            if former is not None and not takes_places(former):
                canceled += 1
                continue
            tour = self._tour(row, former)
            if tour is None:
                wrong.append(CellFault(row.number, "time", NO_TOUR, {"typed": row.typed_time}))
                continue
            planned = PlannedRow(row, tour.id, former, self._changes(row, tour.id, former))
            fault = self._fault(planned) if planned.changes else None
            if fault is not None:
                wrong.append(fault)
            elif former is None:
                new.append(planned)
            elif planned.changes:
                changed.append(planned)
            else:
                same += 1
        unknown = sum(one.cancels and one.draft.source_key not in self.former for one in read)
        return FilePlan(tuple(new), tuple(changed), same, canceled, tuple(wrong), tuple(cancels), unknown)

    def _cancels(self, read: Sequence[FileRow]) -> tuple[list[PlannedRow], int, list[CellFault]]:
        """Free the places of the bookings that rows cancel.

        Return those rows, how many are canceled or a no-show here already, and what prevents the others.
        """
        cancels, done, wrong = [], 0, []
        for row in (one for one in read if one.cancels):
            former = self.former.get(row.draft.source_key or "")
            if former is None:
                continue
            if not takes_places(former):
                done += 1
            elif former.arrived:
                wrong.append(CellFault(row.number, "status", CHECKED_IN, {}))
            else:
                cancels.append(PlannedRow(row, former.tour_id, former, {}))
                if former.tour_id in self.free:
                    self.free[former.tour_id] += former.size
        return cancels, done, wrong

    def _tour(self, row: FileRow, former: Row[Any] | None) -> Row[Any] | None:
        """Return the tour of a row: the one that it has already, else one in its language with the places."""
        at = self.offered.get(row.starts_at, ())
        if former is not None and (own := [one for one in at if one.id == former.tour_id]):
            return own[0]
        fits = [
            one
            for one in at
            if self.free[one.id] >= (row.draft.size or 0) and not (one.private and one.booked)
        ]
        speaks = [one for one in fits or at if row.draft.language in one.languages]
        return next(iter(speaks or fits or at), None)

    def _changes(self, row: FileRow, tour_id: int, former: Row[Any] | None) -> dict[str, Any]:
        values = {**booking_values(row.draft), "tour_id": tour_id}
        values.pop("more_languages")  # a file has one language a row; what was ticked here stays
        if former is None:
            return values
        return {name: value for name, value in values.items() if value != getattr(former, name)}

    def _fault(self, planned: PlannedRow) -> CellFault | None:
        """Take the places of a row, and return what prevents it."""
        number, size, former = planned.row.number, planned.row.draft.size or 0, planned.former
        if former is not None and former.arrived and {"tour_id", "size"} & set(planned.changes):
            return CellFault(number, "reference", CHECKED_IN, {})
        if former is not None and former.tour_id in self.free:
            self.free[former.tour_id] += former.size
        if self.free[planned.tour_id] < size:
            return CellFault(number, "people", NO_PLACES, {"free": max(0, self.free[planned.tour_id])})
        self.free[planned.tour_id] -= size
        return None


def record_file(
    session: Session,
    site: Site,
    data: bytes,
    shown: str,
    *,
    by: int,
    at: datetime,
) -> FilePlan:
    """Record the bookings of a file whose preview had the mark `shown`, all of them or none.

    Raises FileOutdated.
    """
    read, faults = read_file(data, site)
    first = plan_file(session, read, faults)
    ids = sorted({one.tour_id for one in (*first.new, *first.changed, *first.cancels)})
    session.execute(select(tours.c.id).where(tours.c.id.in_(ids)).order_by(tours.c.id).with_for_update())
    plan = plan_file(session, read, faults)  # under the lock of its tours nothing of it changes any more
    if plan.faults or plan.mark != shown:
        raise FileOutdated()
    rows.insert_many(session, bookings, [{**one.changes, "source_key": _key(one)} for one in plan.new])
    for one in plan.changed:
        assert one.former is not None
        given = (one.former.id, one.former.revision, one.changes)
        rows.change(session, bookings, *given, by=by, at=at, why="imported")
    for one in plan.cancels:
        assert one.former is not None
        ended = {"cancelled_at": at}
        rows.change(
            session, bookings, one.former.id, one.former.revision, ended, by=by, at=at, why="canceled"
        )
    return plan


def _key(planned: PlannedRow) -> str | None:
    return planned.row.draft.source_key
