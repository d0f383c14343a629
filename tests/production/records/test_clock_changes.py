"""An hour that the clock shows twice keeps its instant, whichever way it comes in."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from kiosk.production.readings_api.receiving import bind_instrument
from kiosk.production.records.faults import ValueFault
from kiosk.production.records.fields import moment, shown_twice, write
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.actors import Clock, hire, running, signed_in, small_site
from tests.production.conftest import Take, taker

MADRID = ZoneInfo("Europe/Madrid")
NOW = datetime(2026, 11, 2, 9, tzinfo=UTC)
FIRST, SECOND = datetime(2026, 10, 25, 0, 45, tzinfo=UTC), datetime(2026, 10, 25, 1, 45, tzinfo=UTC)
"""02:45 in summer time, and 02:45 again once the clock went back."""
WASH = ("washes.csv", "", "W-9,T1,2026-10-24 10:00,,1000\n")
READINGS = ("wash_readings.csv", "", "W-9,2026-10-25 02:45,ph,4.4,\nW-9,2026-10-25 02:45+01:00,ph,4.3,\n")


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """A site whose clock changes twice a year."""
    return small_site(tmp_path, zone=MADRID)


@pytest.fixture
def take(sqlite_store: Store, site: Site, tmp_path: Path) -> Take:
    """Import the small folder, after the autumn."""
    return taker(sqlite_store, site, tmp_path / "records", NOW)


def read_at(store: Store) -> list[datetime]:
    """Return when the autumn's acidities were read, in the order of their ids."""
    r = t.wash_readings.c
    with store.read() as session:
        found = session.scalars(
            select(r.at).where(r.kind == "ph", r.at > FIRST.replace(day=1)).order_by(r.id)
        )
        return list(found)


@pytest.mark.parametrize(
    ("text", "instant", "written"),
    [
        ("2026-10-25 02:45", FIRST, "2026-10-25 02:45"),
        ("2026-10-25 02:45+02:00", FIRST, "2026-10-25 02:45"),
        ("2026-10-25 02:45+01:00", SECOND, "2026-10-25 02:45+01:00"),
        ("2026-10-25 02:45:30+01:00", SECOND.replace(second=30), "2026-10-25 02:45:30+01:00"),
        ("2026-06-16 07:30", datetime(2026, 6, 16, 5, 30, tzinfo=UTC), "2026-06-16 07:30"),
    ],
)
def test_a_time_is_an_instant_and_is_written_so_that_it_stays_one(
    text: str, instant: datetime, written: str
) -> None:
    assert moment("at", "").read(text, MADRID) == instant
    assert write(instant, MADRID) == written
    assert moment("at", "").read(written, MADRID) == instant


SKIPPED = {"before": "2026-03-29 01:30", "after": "2026-03-29 03:30"}


@pytest.mark.parametrize(
    ("text", "code", "facts"),
    [
        ("2026-03-29 02:30", "clock_skips", {"before": "2026-03-29 01:30", "after": "2026-03-29 03:30"}),
        (
            "2026-03-29 02:30+01:00",
            "clock_skips",
            {"before": "2026-03-29 01:30", "after": "2026-03-29 03:30"},
        ),
        (
            "2026-10-25 02:45+03:00",
            "not_on_the_clock",
            {"allowed": "2026-10-25 02:45+02:00, 2026-10-25 02:45+01:00"},
        ),
        ("2026-06-16 07:30+01:00", "not_on_the_clock", {"allowed": "2026-06-16 07:30+02:00"}),
    ],
)
def test_a_time_that_the_clock_never_shows_is_refused_with_what_it_may_be(
    text: str, code: str, facts: dict[str, str]
) -> None:
    with pytest.raises(ValueFault) as refused:
        moment("at", "").read(text, MADRID)
    assert (str(refused.value.code), refused.value.facts) == (code, facts)


@pytest.mark.parametrize(
    ("zone", "edge"),
    [
        ("America/Puerto_Rico", "2026-10-25 02:45"),
        ("UTC", "2026-03-29 02:30"),
        ("Etc/GMT+4", "2026-03-08 02:30"),
    ],
)
def test_a_clock_that_never_changes_asks_nothing(zone: str, edge: str) -> None:
    assert shown_twice(edge, ZoneInfo(zone)) == []
    assert write(moment("at", "").read(edge, ZoneInfo(zone)), ZoneInfo(zone)) == edge


READING = {"wash": "W-9", "kind": "ph", "value": "4.2", "temperature_c": ""}


def test_a_form_asks_which_of_two_times_was_meant_and_records_either(
    take: Take, sqlite_store: Store, site: Site
) -> None:
    take(WASH)
    hire(sqlite_store, site, NOW, "First", ("manager",))
    app = running(site, sqlite_store, Clock(NOW), features=("web", "staff", "entries", "production"))
    screen = signed_in(app, sqlite_store, site, NOW, "production", "Ana")
    page = "/staff/records/new/wash-reading"
    asked = screen.post(page, **READING, at="2026-10-25T02:30")
    assert asked.status_code == 422
    offered = re.findall(r'<option value="(2026[^"]*)"', asked.text)
    assert offered == ["2026-10-25T02:30", "2026-10-25 02:30+02:00", "2026-10-25 02:30+01:00"]
    assert screen.post(page, **READING, at=offered[0]).status_code == 422
    for at in offered[1:]:
        assert screen.post(page, **READING, at=at).status_code == 302
    assert read_at(sqlite_store) == [one.replace(minute=30) for one in (FIRST, SECOND)]
    skipped = screen.post(page, **READING, at="2026-03-29T02:30")
    assert (skipped.status_code, "01:30" in skipped.text, "03:30" in skipped.text) == (422, True, True)


def test_a_file_holds_both_readings_and_read_again_says_nothing_new(take: Take, sqlite_store: Store) -> None:
    take(WASH, READINGS)
    assert read_at(sqlite_store) == [FIRST, SECOND]
    again = take(WASH, READINGS)
    assert (again.written, again.files["wash_readings.csv"].same) == (0, 5)


def test_an_instrument_sends_an_instant(take: Take, sqlite_store: Store, site: Site) -> None:
    take(WASH)
    with sqlite_store.write() as session:
        token = bind_instrument(session, site, "meter", ["T1"], NOW)
    app = running(site, sqlite_store, Clock(NOW), features=("web", "staff", "entries", "production"))
    for n, offset in enumerate(("+02:00", "+01:00")):
        body = {"id": f"w-{n}", "kind": "wash", "vessel": "T1", "measure": "ph", "value": 4.25}
        body["at"] = f"2026-10-25T02:45:00{offset}"
        sent = app.test_client().post(
            "/staff/readings", json=body, headers={"Authorization": f"Bearer {token}"}
        )
        assert sent.status_code == 201, sent.json
    assert read_at(sqlite_store) == [FIRST, SECOND]


def test_a_correction_of_something_else_leaves_the_instant(
    take: Take, sqlite_store: Store, site: Site
) -> None:
    take(WASH, READINGS)
    hire(sqlite_store, site, NOW, "First", ("manager",))
    app = running(site, sqlite_store, Clock(NOW), features=("web", "staff", "entries", "production"))
    screen = signed_in(app, sqlite_store, site, NOW, "production", "Ana")
    with sqlite_store.read() as session:
        r = t.wash_readings.c
        row_id = session.scalar(select(r.id).where(r.at == SECOND))
    page = f"/staff/records/wash_readings/{row_id}"
    text = screen.get(page).text
    shown = dict(re.findall(r'name="(wash|value)"[^>]*value="([^"]*)"', text))
    (shown["at"],) = re.findall(r'<option value="(2026[^"]*)" selected', text)
    shown["value"] = "84"  # °F, where it was a gravity
    sent = screen.post(page, **shown, kind="temperature", temperature_c="", revision="1", why="misread")
    assert sent.status_code == 302, sent.text
    with sqlite_store.read() as session:
        assert session.execute(select(r.kind, r.at).where(r.id == row_id)).one() == ("temperature", SECOND)
