"""Bookings from files: previewed, all or none, never more than the places, and the same again is the same."""

from __future__ import annotations

import io
import threading
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from kiosk.site.settings import TicketKind
from kiosk.store.engine import run
from kiosk.store.tables.tours import bookings
from kiosk.tours.booking_files.files import (
    FileOutdated,
    FilePlan,
    plan_file,
    read_file,
    record_file,
)
from kiosk.tours.checkin.arrivals import give_numbers
from kiosk.tours.planning.bookings import cancel_booking
from kiosk.tours.planning.tours import TourDraft, add_tour
from tests.actors import Screen, text_of
from tests.tasting_room import Tasting

HEAD = "reference,day,time,name,people,language,contact,allergens,allergy_notes,voucher\n"
ROW = "{key},2026-06-18,{time},Rosa,{people},es,555 0100,milk nuts,wasps,K-17\n"


def _rows(*rows: tuple[str, str, int]) -> bytes:
    return (HEAD + "".join(ROW.format(key=k, time=t, people=n) for k, t, n in rows)).encode()


def _tour(tasting: Tasting, hour: int, **changes: Any) -> int:
    start = datetime(2026, 6, 18, hour, tzinfo=tasting.site.zone)
    given = {
        "languages": ("en",),
        "guide_id": None,
        "flight_id": None,
        "room": "main",
        "places": 8,
        "typed": {},
    }
    draft = TourDraft(**{"starts_at": start, **given, **changes})
    with tasting.store.write() as session:
        return add_tour(session, tasting.site, draft, by=tasting.ana, at=tasting.now)


def _plan(tasting: Tasting, data: bytes) -> FilePlan:
    read, faults = read_file(data, tasting.site)
    with tasting.store.read() as session:
        return plan_file(session, read, faults)


def _record(tasting: Tasting, data: bytes, shown: str | None = None) -> FilePlan:
    mark = shown or _plan(tasting, data).mark
    given = {"by": tasting.ana, "at": tasting.now}
    return run(tasting.store, lambda session: record_file(session, tasting.site, data, mark, **given))


def _known(tasting: Tasting) -> dict[str, Any]:
    with tasting.store.read() as session:
        rows = session.execute(select(bookings).where(bookings.c.source_key.is_not(None)))
        return {row.source_key: row for row in rows}


def test_a_file_is_recorded_and_the_same_again_changes_nothing(tasting: Tasting) -> None:
    english, spanish = _tour(tasting, 10), _tour(tasting, 10, languages=("es",))
    data = _rows(("A1", "10:00", 5), ("A2", "10:00", 4))
    assert (len(_plan(tasting, data).new), len(_plan(tasting, data).faults)) == (2, 0)
    _record(tasting, data)
    known = _known(tasting)
    assert (known["A1"].tour_id, known["A2"].tour_id) == (spanish, english)
    assert (known["A1"].allergens, known["A1"].allergy_notes) == (["milk", "nuts"], "wasps")
    assert (known["A1"].voucher, known["A1"].contact, known["A1"].size) == ("K-17", "555 0100", 5)
    again = _plan(tasting, data)
    assert (again.new, again.changed, again.same) == ((), (), 2)
    semicolons = data.replace(b",", b";")
    assert _plan(tasting, semicolons).same == 2


def test_a_changed_row_changes_its_booking_and_frees_what_it_leaves(tasting: Tasting) -> None:
    first, second = _tour(tasting, 10), _tour(tasting, 12)
    _record(tasting, _rows(("A1", "10:00", 5), ("A2", "10:00", 3)))
    moved = _rows(("A1", "12:00", 6), ("A2", "10:00", 8))
    plan = _plan(tasting, moved)
    assert [dict(one.changes) for one in plan.changed] == [{"size": 6, "tour_id": second}, {"size": 8}]
    _record(tasting, moved)
    known = _known(tasting)
    assert {key: (row.tour_id, row.size, row.revision) for key, row in known.items()} == {
        "A1": (second, 6, 2),
        "A2": (first, 8, 2),
    }


def test_what_was_canceled_here_stays_so_and_checked_in_guests_stay_where_they_are(tasting: Tasting) -> None:
    tour, _other = _tour(tasting, 10), _tour(tasting, 12)
    _record(tasting, _rows(("A1", "10:00", 2), ("A2", "10:00", 3)))
    known = _known(tasting)
    with tasting.store.write() as session:
        cancel_booking(session, tour, known["A1"].id, 1, by=tasting.ana, at=tasting.now)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tour, known["A2"].id, tasting.now + timedelta(days=2))
    plan = _plan(tasting, _rows(("A1", "10:00", 4), ("A2", "12:00", 3)))
    assert (plan.canceled, plan.changed) == (1, ())
    assert [(one.row, one.column) for one in plan.faults] == [(3, "reference")]


def test_a_file_never_books_more_than_the_places_and_is_taken_whole_or_not(tasting: Tasting) -> None:
    _tour(tasting, 10)
    data = _rows(("A1", "10:00", 5), ("A2", "10:00", 4))
    plan = _plan(tasting, data)
    assert [(one.row, one.column, one.facts) for one in plan.faults] == [(3, "people", {"free": 3})]
    with pytest.raises(FileOutdated):
        _record(tasting, data)
    assert _known(tasting) == {}


def test_two_files_at_once_never_book_more_than_the_places(tasting: Tasting) -> None:
    _tour(tasting, 10)
    files = [_rows((f"{n}", "10:00", 5)) for n in range(4)]
    marks = [_plan(tasting, data).mark for data in files]
    refused: list[Exception] = []

    def send(n: int) -> None:
        try:
            _record(tasting, files[n], marks[n])
        except FileOutdated as outdated:
            refused.append(outdated)

    senders = [threading.Thread(target=send, args=(n,)) for n in range(4)]
    for one in senders:
        one.start()
    for one in senders:
        one.join(timeout=30)
    assert (len(_known(tasting)), len(refused)) == (1, 3)


@pytest.mark.parametrize(
    ("table", "row", "column", "said"),
    [
        (b"reference,day\n", 1, "time", "is missing"),
        (HEAD.replace("voucher", "coupon").encode(), 1, "coupon", "is not known"),
        (_rows(("A1", "ten", 2)), 2, "time", "is not a time"),
        (_rows(("A1", "10:00", 0)), 2, "people", "is not possible"),
        (_rows(("A1", "11:00", 2)), 2, "time", "No tour starts"),
        (_rows(("", "10:00", 2)), 2, "reference", "is empty"),
        (_rows(("A1", "10:00", 2), ("A1", "10:00", 2)), 3, "reference", "already"),
        (_rows(("A1", "10:00", 2)).replace(b"milk", b"perfume"), 2, "allergens", "not on the list"),
        (_rows(("A1", "10:00", 2)).replace(b",es,", b",fr,"), 2, "language", "Choose one of"),
        (_rows(("A1", "10:00", 2)).replace(b"2026-06-18", b"18.6.2026"), 2, "day", "is not a day"),
        (_rows(("A1", "10:00", 2)).replace(b"Rosa", b'"Rosa'), 2, "", "never closed"),
        (_rows(("A1", "10:00", 2)).replace(b"Rosa", b"Ros\xe1"), 2, "", "UTF-8"),
        (_rows(("A1", "10:00", 2)).replace(b"Rosa,", b""), 2, "", "cells stand here"),
        (HEAD.encode() + b"\n" * 9 + b"A,2026-06-18,10:00,R,1,es,,,,,more\n", 11, "", "cells stand here"),
    ],
)
def test_what_is_wrong_is_named_by_row_and_column(
    tasting: Tasting, table: bytes, row: int, column: str, said: str
) -> None:
    _tour(tasting, 10)
    plan = _plan(tasting, table)
    named = [(one.row, one.column) for one in plan.faults if said in one.message]
    assert (row, column) in named, plan.faults
    with pytest.raises(FileOutdated):
        _record(tasting, table)


def _send(desk: Screen, data: bytes) -> Any:
    token = desk.token("/staff/bookings/file")
    sent = {"form_token": token, "files": (io.BytesIO(data), "week.csv")}
    return desk.client.post("/staff/bookings/file", data=sent, content_type="multipart/form-data")


def test_a_file_is_shown_then_recorded_by_page(desk: Screen, routed: Tasting) -> None:
    _tour(routed, 10)
    looked = _send(desk, _rows(("A1", "10:00", 5)))
    assert "1 new, 0 changed, 0 the same." in text_of(looked)
    page = looked.get_data(as_text=True)
    shown = page.split('name="shown" value="')[1].split('"')[0]
    table = page.split('<textarea name="table" hidden>\n')[1].split("</textarea>")[0]
    assert _known(routed) == {}
    record = "/staff/bookings/file/record"
    done = desk.post(record, "/staff/bookings/file", shown=shown, table=table.replace("\n", "\r\n"))
    assert done.status_code == 303
    assert _known(routed)["A1"].size == 5
    again = desk.post(record, "/staff/bookings/file", shown=shown, table=table)
    assert again.status_code == 409
    assert "The bookings have changed since you looked." in text_of(again)
    wrong = _send(desk, _rows(("A2", "10:00", 4)))
    assert wrong.status_code == 422
    assert "Row 2, people: The tour has 3 free places." in text_of(wrong)


def _with_status(rows: bytes, *statuses: str) -> bytes:
    head, *lines = rows.decode().splitlines()
    ended = [f"{line},{status}" for line, status in zip(lines, statuses, strict=True)]
    return "\n".join([f"{head},status", *ended]).encode()


def test_a_row_cancels_its_booking_once_and_its_places_are_free_for_other_rows(tasting: Tasting) -> None:
    tour = _tour(tasting, 10)
    _record(tasting, _rows(("A1", "10:00", 5), ("A2", "10:00", 3)))
    # The new row stands before the one that frees its places.
    data = _with_status(
        _rows(("A3", "10:00", 4), ("A1", "10:00", 5), ("A2", "10:00", 3), ("B9", "10:00", 1)),
        *("", "canceled", "booked", "canceled"),
    )
    plan = _plan(tasting, data)
    assert (len(plan.new), plan.same, len(plan.cancels), plan.freed, plan.unknown) == (1, 1, 1, 5, 1)
    _record(tasting, data)
    known = _known(tasting)
    assert (known["A1"].cancelled_at, known["A1"].revision) == (tasting.now, 2)
    assert (known["A3"].tour_id, known["A2"].cancelled_at) == (tour, None)
    assert "B9" not in known
    again = _plan(tasting, data)
    assert (again.new, again.changed, again.cancels, again.canceled, again.same) == ((), (), (), 1, 2)


def test_a_row_cancels_no_booking_whose_guests_are_here_and_no_status_is_guessed(tasting: Tasting) -> None:
    tour = _tour(tasting, 10)
    rows_of_file = _rows(("A1", "10:00", 2))
    _record(tasting, rows_of_file)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tour, _known(tasting)["A1"].id, tasting.now)
    (fault,) = _plan(tasting, _with_status(rows_of_file, "canceled")).faults
    assert (fault.column, "checked in" in fault.message) == ("status", True)
    (fault,) = _plan(tasting, _with_status(rows_of_file, "cancelled?")).faults
    assert (fault.column, fault.facts) == ("status", {"typed": "cancelled?"})


def test_a_kind_of_ticket_is_one_of_the_house(tasting: Tasting) -> None:
    _tour(tasting, 10)
    data = (
        _rows(("A1", "10:00", 2)).replace(b"voucher\n", b"voucher,ticket\n").replace(b"K-17", b"K-17,short")
    )
    (fault,) = _plan(tasting, data).faults
    assert (fault.column, "no kinds of tickets" in fault.message) == ("ticket", True)
    tasting.site = replace(tasting.site, tickets=(TicketKind("short", {"en": "Short tour"}),))
    _record(tasting, data)
    assert _known(tasting)["A1"].ticket == "short"
    empty = data.replace(b",short", b",")
    assert _plan(tasting, empty).same == 1
