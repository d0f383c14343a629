"""The inspection page: one press, a file; who took it is written down; days that cannot be are told."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from kiosk.store.tables.shared import history
from tests.actors import Clock, Screen, running, signed_in
from tests.tasting.inspected import two_days

PLACE = "/staff/inspection"


@pytest.fixture
def office(sqlite_store, tmp_path, now) -> Screen:
    """Mara, a manager, after two days."""
    tasting = two_days(sqlite_store, tmp_path, now)
    app = running(tasting.site, sqlite_store, Clock(tasting.now))
    screen = signed_in(app, sqlite_store, tasting.site, tasting.now, "manager", "Mara")
    screen.tasting = tasting
    return screen


def taken(office: Screen) -> list[tuple[str, object]]:
    with office.tasting.store.read() as session:
        kept = session.execute(select(history).where(history.c.act == "inspection"))
        return [(row.before["as"], row.before) for row in kept]


def test_one_press_on_the_page_as_it_opens_gives_todays_report(office: Screen) -> None:
    page = office.get(PLACE).get_data(as_text=True)
    days = dict(re.findall(r'name="(first|last)" type="date" value="([\d-]+)"', page))
    assert set(days.values()) == {"2026-06-17"}
    answer = office.post(PLACE, **days, paper="a4", **{"as": "pdf"})
    assert answer.status_code == 200
    assert answer.data.startswith(b"%PDF")
    assert "inspection-2026-06-17-2026-06-17.pdf" in answer.headers["Content-Disposition"]
    assert answer.headers["Cache-Control"] == "no-store"
    assert taken(office) == [("pdf", {"first": "2026-06-17", "last": "2026-06-17", "as": "pdf"})]


def test_the_pours_are_a_table_that_spreadsheets_read(office: Screen) -> None:
    answer = office.post(PLACE, first="2026-06-16", last="2026-06-17", **{"as": "csv"})
    assert answer.mimetype == "text/csv"
    assert answer.data.startswith(b"\xef\xbb\xbf")
    assert len(answer.data.decode("utf-8-sig").splitlines()) == 4


@pytest.mark.parametrize("days", [("2026-06-17", "2026-06-16"), ("2026-06-18", "2026-06-18"), ("", "x")])
def test_days_that_make_no_report_are_told_and_nothing_is_taken_out(
    office: Screen, days: tuple[str, str]
) -> None:
    answer = office.post(PLACE, first=days[0], last=days[1], **{"as": "pdf"})
    assert answer.status_code == 400
    assert "at most 93 days in all" in answer.get_data(as_text=True)
    assert taken(office) == []
