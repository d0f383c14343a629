"""The wall in a browser: a record changes it within five seconds; without its server it keeps what it had."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sqlalchemy import select

from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.production import run_readings, runs
from tests.browser.conftest import TABLET, WALL, Open, Served, _await, sign_in

pytestmark = pytest.mark.browser


@pytest.fixture
def second(demo: Served, tmp_path: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Another server of the same demo, for a test to stop."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "kiosk", "serve", "--site", str(demo.folder), "--port", str(port)]
    with open(tmp_path / "server.log", "w") as log:
        server = subprocess.Popen(command, stdout=log, stderr=log)
    try:
        _await(f"http://127.0.0.1:{port}", tmp_path / "server.log")
        yield f"http://127.0.0.1:{port}", server
    finally:
        server.kill()
        server.wait()


def take_reading(demo: Served, abv_percent: float) -> None:
    """Write a reading of the run under way, as an instrument at the parrot would."""
    store, now = open_store(demo.database), demo.now
    try:
        with store.write() as session:
            under_way = select(runs.c.id).where(runs.c.ended_at.is_(None), runs.c.kind == "spirit")
            run_id = session.scalar(under_way.order_by(runs.c.started_at.desc()).limit(1))
            reading = {"run_id": run_id, "at": now, "cut": "hearts", "collected_ml": 999_000}
            strength = {
                "scale": "density_meter",
                "reading_e2": round(abv_percent * 100),
                "temperature_mc": 20_000,
            }
            rows.insert(session, run_readings, {**reading, **strength, "recorded_at": now, "source": "test"})
    finally:
        store.close()


def value(page: Page) -> str:
    return page.locator("#figure-run-abv-now [data-part=value]").text_content() or ""


def test_a_reading_written_in_one_window_is_on_the_wall_in_another(open_page: Open, demo: Served) -> None:
    """As a still keeper writes it, by the form of the records: seen within the wall's polling."""
    keeper = open_page("en", TABLET, java_script_enabled=False)
    sign_in(keeper, demo, "tablet at the parrot", "Bruno", "en", scripted=False)
    wall = open_page("en", WALL)
    wall.goto("/staff/enrol")
    wall.fill("input[name=code]", demo.code("hall three"))
    wall.locator("main form button").click()
    wall.goto("/staff/wall")
    wall.wait_for_timeout(1500)
    before = value(wall)
    keeper.goto("/staff/records/new/still-reading")
    fields = {
        "collected_l": "47.6",  # US gallons: 180 L
        "collected_temperature_c": "68",
        "reading": "63.7",
        "temperature_c": "68",
    }
    for name, told in fields.items():
        keeper.fill(f"#f-{name}", told)
    keeper.fill("#f-run", keeper.locator("#l-run option").first.get_attribute("value") or "")
    keeper.locator("label:has(> input[name=cut][value=hearts])").click()
    keeper.select_option("#f-instrument", "density_meter")
    keeper.locator("main form button:not([type=button])").last.click()
    expect(keeper).to_have_url(re.compile("/staff/records/.*done"))
    expect(wall.locator("#figure-run-abv-now [data-part=value]")).to_have_text("63.7", timeout=5000)
    assert before != "63.7"


def test_a_reading_changes_the_wall_and_it_stays_when_the_server_is_away(
    open_page: Open, demo: Served, second: tuple[str, subprocess.Popen[bytes]]
) -> None:
    base, server = second
    page = open_page("en", WALL)
    page.goto(f"{base}/staff/enrol")
    page.fill("input[name=code]", demo.code("hall"))
    page.locator("main form button").click()
    page.goto(f"{base}/staff/wall")
    expect(page.locator(".screen.shown")).to_have_count(1)
    page.wait_for_timeout(1500)
    before = value(page)
    take_reading(demo, 64.2)
    written = time.monotonic()
    expect(page.locator("#figure-run-abv-now [data-part=value]")).to_have_text("64.2", timeout=5000)
    assert time.monotonic() - written < 5
    assert before != "64.2"
    assert page.locator(".wall-away").is_hidden()
    server.kill()
    server.wait()
    expect(page.locator(".wall-away")).to_be_visible(timeout=10_000)
    said = page.locator(".wall-away p").all_text_contents()
    assert said == [
        "No connection: these values are up to 1 min old.",
        "Sin conexión: estos datos tienen hasta 1 min.",
    ]
    assert value(page) == "64.2"


def test_the_drawing_follows_the_screens_and_the_page_is_light(open_page: Open, demo: Served) -> None:
    """The scene and the cask are drawn once: each screen must have its own stop lit and its own state."""
    page = open_page("en", WALL)
    page.goto("/staff/enrol")
    page.fill("input[name=code]", demo.code("hall four"))
    page.locator("main form button").click()
    page.clock.install()
    answer = page.goto("/staff/wall")
    assert answer
    assert len(answer.body()) < 130_000
    seen = set()
    for _ in range(page.locator(".screen").count()):
        shown = page.evaluate("() => document.querySelector('.shown').dataset")
        at, state = int(shown["at"]), shown["state"]
        drawn = page.evaluate(
            "() => [...document.querySelectorAll('.wall-scene g:is(.lit, .dimmed, .away)')].reverse()"
            ".map(stop => stop.getAttribute('class'))"
        )
        assert [place for place, one in enumerate(drawn) if one == "lit"] == ([at] if at >= 0 else [])
        assert page.locator("main").get_attribute("data-state") == state
        assert page.locator(".wall-cask").is_visible() == bool(state)
        if at >= 0:
            box = page.locator(".wall-scene .lit").bounding_box()
            assert box
            assert 700 < box["x"] < box["x"] + box["width"] <= WALL[0] + 20
        seen.add(at)
        page.clock.run_for(12_000)
    assert len(seen) > 9
    expect(page.locator(".screen").first).to_have_class(re.compile("shown"))


def test_no_screen_of_the_wall_runs_over_its_edges(open_page: Open, demo: Served) -> None:
    page = open_page("es", WALL, reduced_motion="reduce")
    page.goto("/staff/enrol")
    page.fill("input[name=code]", demo.code("hall two"))
    page.locator("main form button").click()
    page.goto("/staff/wall")
    for width, height in ((1920, 1080), (1280, 720), (1080, 1920)):
        page.set_viewport_size({"width": width, "height": height})
        over = page.evaluate(
            """() => [...document.querySelectorAll('.screen, .wall-lines')].filter(s =>
                s.scrollHeight > s.clientHeight + 1 || s.scrollWidth > s.clientWidth + 1)
                .map(s => s.closest('.screen').id)"""
        )
        assert over == [], (width, height)
        wide = page.evaluate(
            """() => [...document.querySelectorAll('.wall-value, .wall-unit')].filter(v =>
                v.offsetWidth > 0.84 * v.parentElement.clientWidth).map(v => v.textContent)"""
        )
        assert wide == [], (width, height)
    page.set_viewport_size({"width": 1920, "height": 1080})
    sizes = page.evaluate(
        "() => [...document.querySelectorAll('.wall-note')]"
        ".map(note => parseFloat(getComputedStyle(note).fontSize))"
    )
    assert min(sizes) > 36  # 3.4 % of the height: 23 mm on a screen of 55 inches
