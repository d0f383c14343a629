"""What is under way on the page of the records, which form is next, and who wrote last at each step."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from flask import Flask

from kiosk.production.forms.corrections import latest_records
from kiosk.production.forms.definitions import FORMS, STEPS
from kiosk.production.forms.under_way import (
    Work,
    last_entry,
    loads_of_day,
    read_work,
    recent_readings,
)
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import Screen, hire, signed_in
from tests.production.conftest import Take

RUNS_ON = ("runs.csv", "2026-06-06 07:00,2026-06-06 14:00", "2026-06-06 07:00,")
STANDS = ("washes.csv", "2026-06-01 10:00,2026-06-05 07:00", "2026-06-01 10:00,")
AT_WORK = datetime(2026, 6, 6, 15, 20, tzinfo=UTC)
"""11:20 on the site's clock: the tails of SR-1 were read at 11:00."""
DAY_AFTER = AT_WORK + timedelta(days=1)


def _work(store: Store, site: Site, at: datetime = AT_WORK) -> Work:
    with store.read() as session:
        return read_work(session, site, at)


def test_a_run_is_under_way_with_its_cut_and_its_strength(take: Take, store: Store, site: Site) -> None:
    take(RUNS_ON)
    (run,) = _work(store, site).runs
    assert (run.code, run.still, run.kind, run.cuts) == ("SR-1", "SS", "spirit", ("heads", "hearts", "tails"))
    assert run.reading is not None
    assert (run.reading.cut, run.reading.collected_l) == ("tails", 156.0)
    assert run.reading.abv_percent == pytest.approx(62.0, abs=3)  # corrected to 20 °C
    assert _work(store, site).next_form == "still-reading"
    assert _work(store, site, AT_WORK - timedelta(hours=5)).runs == []  # before it started


def test_a_tank_has_its_wash_its_day_and_its_last_gravity(take: Take, store: Store, site: Site) -> None:
    take(STANDS)
    (tank,) = _work(store, site, datetime(2026, 6, 3, 12, 0, tzinfo=UTC)).tanks
    assert (tank.code, tank.wash, tank.day, tank.gravity, tank.brix) == ("T1", "W-1", 3, 1.063, None)
    assert tank.full == pytest.approx(1700 / 2400)
    work = _work(store, site, DAY_AFTER)
    assert work.tanks[0].gravity == 0.996
    assert (work.next_form, work.casks_filled) == ("wash-reading", 1)


def test_where_all_rests_no_form_is_next(take: Take, store: Store, site: Site) -> None:
    take()
    work = _work(store, site, DAY_AFTER)
    assert (work.runs, [tank.wash for tank in work.tanks], work.next_form) == ([], [""], "")


def test_before_any_record_nothing_is_under_way(store: Store, site: Site) -> None:
    assert _work(store, site) == Work([], [], 0)


def test_each_step_names_what_was_written_last_and_the_loads_of_the_day(
    take: Take, store: Store, site: Site, now: datetime
) -> None:
    take()
    with store.read() as session:
        latest = latest_records(session)
    last = {step.title: last_entry(step, latest) for step in STEPS}
    assert all(last.values())
    mill = last["Mill"]
    assert mill is not None
    assert (mill[0], mill[1].values["code"], mill[1].at, mill[1].by) == ("loads", "L-1", now, "")
    milled = datetime(2026, 6, 1, 20, 0, tzinfo=UTC)
    assert [load["code"] for load in loads_of_day(latest["loads"], site, milled)] == ["L-1"]
    assert loads_of_day(latest["loads"], site, now) == []


def test_every_form_stands_at_one_step() -> None:
    assert sorted(FORMS) == sorted(form.name for step in STEPS for form in step.forms)
    assert len(FORMS) == sum(len(step.forms) for step in STEPS)


def test_a_still_reading_shows_the_last_ones_and_what_should_come(
    take: Take, store: Store, site: Site
) -> None:
    take(RUNS_ON)
    with store.read() as session:
        recent = recent_readings(session, FORMS["still-reading"], AT_WORK)
        assert recent_readings(session, FORMS["wash-reading"], AT_WORK) is None
    assert recent is not None
    assert (recent.run, [one.cut for one in recent.readings]) == ("SR-1", ["heads", "hearts", "tails"])
    assert recent.expected is None  # one reading of the tails


@pytest.fixture
def screen(app: Flask, sqlite_store: Store, site: Site, now: datetime) -> Screen:
    """Ana's tablet."""
    hire(sqlite_store, site, now, "First", ("manager",))
    return signed_in(app, sqlite_store, site, now, "production", "Ana")


def test_the_page_has_a_picture_and_the_forms_of_each_step(screen: Screen) -> None:
    page = screen.get("/staff/records/").text
    assert page.count('class="drawing stop-drawing"') == len(STEPS) + 1
    assert all(f'href="/staff/records/new/{name}"' in page for name in FORMS)
    assert "Loads of cane: L-1" in page
    assert "button next" not in page  # nothing is under way
    assert "No run is under way." in page


def test_a_form_for_wet_hands_works_without_a_script(screen: Screen) -> None:
    page = screen.get("/staff/records/new/still-reading").text
    assert re.search(r"<div class=\"keys pad-keys\" data-keys hidden>", page)
    assert page.count('type="radio" name="cut"') == 4
    assert {"reading", "temperature_c", "collected_l"} <= set(
        re.findall(r'name="(\w+)" type="text"[^>]*inputmode="decimal"', page)
    )
    assert "data-number-pad" not in screen.get("/staff/records/new/regauge-weight").text
