"""The wall turns through what is known, in every language, and answers 304 while nothing changes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import timedelta
from threading import Event, Thread

from werkzeug.test import TestResponse

from kiosk.drawings.frieze import wall_view
from kiosk.drawings.stops import shapes_of
from kiosk.figures.figure import Basis, Figure
from kiosk.stops import wall
from kiosk.store import rows
from tests.actors import Screen, hire
from tests.costs import cost
from tests.walking import ROUTE, SPECS, Walk, everything_fresh, everything_rests

MOST_BYTES = 80_000
"""Of a page whose walk has three stops; the drawings of ten are 50 kB more."""


def readers(walk: Walk) -> list[object]:
    return [walk.reader(code) for code in ("en", "es")]


def wall_screen(walk: Walk) -> Screen:
    hire(walk.store, walk.site, walk.clock.at, roles=("manager",))
    screen = walk.screen()
    screen.enrol(walk.store, walk.site, walk.clock.at, kind="wall")
    return screen


def test_figures_that_nobody_knows_have_no_screen_and_every_stop_has_one(walk: Walk) -> None:
    walk.told("casks_filled", 157)
    walk.told("run_abv_now", 71.3)
    found = wall.screens(walk.content, readers(walk))
    assert [one.value for one in found if not one.slug] == ["71.3", "157"]
    assert [one.slug for one in found if one.slug] == [stop.slug for stop in ROUTE]
    assert all([line.language for line in one.lines] == ["en", "es"] for one in found)


def test_stops_are_shown_where_no_figure_is_known(walk: Walk) -> None:
    assert [one.slug for one in wall.screens(walk.content, readers(walk))] == [stop.slug for stop in ROUTE]


def test_figures_follow_the_stop_that_they_belong_to(walk: Walk) -> None:
    everything_fresh(walk)
    found = [one.slug or one.key for one in wall.screens(walk.content, readers(walk))]
    still, store, tasting = (found.index(stop.slug) for stop in ROUTE)
    assert still < found.index("figure-run-cut-now") < store
    assert store < found.index("figure-angels-share-since-first") < tasting
    assert tasting < found.index("figure-samples-today")
    # No stop of this walk has the mill's cane: it comes last, and is not lost.
    assert found.index("figure-cane-milled-today") > found.index("figure-samples-today")


def test_the_unit_stands_on_the_head_where_all_languages_write_it_alike(walk: Walk) -> None:
    walk.told("run_abv_now", 71.3)
    walk.told("casks_filled", 157)
    strength, casks = (one for one in wall.screens(walk.content, readers(walk)) if not one.slug)
    for screen in (strength, casks):
        first, second = (reader.stated(FIGURES[screen.key], "").text for reader in readers(walk))
        alike = first.unit == second.unit
        assert screen.unit == (first.unit if alike else "")
        assert screen.lines[0].text == (first.noun if alike else f"{first.unit} {first.noun}".strip())
        assert "71.3" not in screen.lines[1].text


FIGURES = {"figure-run-abv-now": "run_abv_now", "figure-casks-filled": "casks_filled"}


def test_a_figure_stands_beside_its_stop_and_names_it(walk: Walk) -> None:
    everything_fresh(walk)
    told = {one.key: one for one in wall.screens(walk.content, readers(walk))}
    cut, cane = told["figure-run-cut-now"], told["figure-cane-milled-today"]
    assert (cut.place, cane.place) == (ROUTE[0].slug, "")
    assert cut.lines[0].note.startswith(walk.content.stops["still-house"].names["en"] + " · ")
    assert [told[f"stop-{stop.slug}"].value for stop in ROUTE] == ["1", "2", "3"]


def test_every_public_figure_is_shown_once_and_staffs_own_never(walk: Walk) -> None:
    everything_fresh(walk)
    shown = [one.key for one in wall.screens(walk.content, readers(walk)) if not one.slug]
    assert len(shown) == len(set(shown)) == sum(spec.public for spec in SPECS)
    assert not any("due-for-gauging" in key for key in shown)


def test_tanks_at_work_have_a_screen_each_and_resting_ones_none(walk: Walk) -> None:
    walk.told("wash_day", 3, of="T2")
    walk.rests("wash_day", walk.clock.at - timedelta(days=1), of="T1")
    (screen,) = (one for one in wall.screens(walk.content, readers(walk)) if not one.slug)
    assert screen.key == "figure-wash-day-T2"
    assert [line.text.startswith("T2: ") for line in screen.lines] == [True, True]


def test_on_a_day_when_all_rests_the_wall_tells_the_last_time_and_no_zero(walk: Walk) -> None:
    everything_rests(walk)
    told = [one for one in wall.screens(walk.content, readers(walk)) if not one.slug]
    assert told
    assert {one.state for one in told} == {"resting"}
    assert all(one.value == "" and "June 14" in one.lines[0].text for one in told)


def test_a_value_from_earlier_says_its_age_in_both_languages(walk: Walk) -> None:
    walk.told("run_abv_now", 71.3, ago=timedelta(hours=3))
    screen = next(one for one in wall.screens(walk.content, readers(walk)) if not one.slug)
    assert screen.state == "stale"
    assert "3 hours ago" in screen.lines[0].note
    assert "3 horas" in screen.lines[1].note


def test_the_wall_is_open_to_a_wall_screen_with_nobody_signed_in(walk: Walk) -> None:
    walk.told("casks_filled", 157)
    screen = wall_screen(walk)
    page = screen.get("/staff/wall").text
    assert page.count('class="screen shown') == 1
    assert 'http-equiv="refresh" content="12; url=/staff/wall?screen=1"' in page
    assert walk.screen().get("/staff/wall").status_code == 404


def test_each_drawing_is_on_the_page_once(walk: Walk) -> None:
    everything_fresh(walk)
    page = wall_screen(walk).get("/staff/wall").text
    assert page.count('class="screen') > 30
    assert [page.count(shapes_of(stop.slug)) for stop in ROUTE] == [1, 1, 1]
    assert page.count('class="drawing cask-head"') == 1
    assert len(page.encode()) < MOST_BYTES


def test_the_page_stands_at_the_screen_that_it_shows(walk: Walk) -> None:
    """A browser without a script gets each screen as the server lays it out."""
    walk.told("casks_filled", 157)
    walk.rests("run_abv_now", walk.clock.at - timedelta(days=1))
    screen = wall_screen(walk)
    found = wall.screens(walk.content, readers(walk))
    for place, one in enumerate(found):
        page = screen.get(f"/staff/wall?screen={place}").text
        at = [stop.slug for stop in ROUTE].index(one.place)
        assert f'<main data-state="{one.state}">' in page
        assert f'viewBox="{wall_view(at)}"' in page
        assert re.findall(r'<g class="(lit|dimmed|away)"', page)[::-1][at] == "lit"


def poll(screen: Screen, etag: str) -> TestResponse:
    return screen.get("/staff/wall.json", headers={"If-None-Match": etag})


def test_what_has_not_changed_is_neither_rendered_nor_sent_again(walk: Walk) -> None:
    walk.told("casks_filled", 157)
    screen = wall_screen(walk)
    etag = screen.get("/staff/wall.json").headers["ETag"]
    with cost(walk.store) as spent:
        again = poll(screen, etag)
    assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", etag)
    assert spent.calls(wall.screens) == 0
    walk.clock.pass_s(2)
    walk.told("casks_filled", 158)
    changed = poll(screen, etag)
    assert changed.status_code == 200
    assert "158" in [one["value"] for one in changed.json["screens"]]


def test_a_record_and_the_age_of_a_figure_change_the_wall(walk: Walk) -> None:
    walk.told("casks_filled", 157)
    screen = wall_screen(walk)
    etag = screen.get("/staff/wall.json").headers["ETag"]
    with walk.store.write() as session:
        rows.touch(session, "casks")
    counted = poll(screen, etag)
    assert counted.status_code == 200
    walk.clock.pass_s(60)
    assert poll(screen, counted.headers["ETag"]).status_code == 200


def test_a_value_that_another_request_is_computing_anew_has_no_etag(walk: Walk) -> None:
    """Else the screen would hold the value before under the name of the new one."""
    walk.told("casks_filled", 157)
    screen, entered, go_on = wall_screen(walk), Event(), Event()
    screen.get("/staff/wall.json")
    walk.clock.pass_s(1)

    def slow(*_: object) -> Mapping[tuple[str, str], Figure]:
        entered.set()
        assert go_on.wait(10)
        return {("casks_filled", ""): Figure(158, walk.clock.at, Basis.COUNTED)}

    object.__setattr__(walk.registry.owner("casks_filled"), "compute", slow)
    other = Thread(target=lambda: walk.reader().figures.get("casks_filled"))
    other.start()
    assert entered.wait(10)
    early = screen.get("/staff/wall.json")
    go_on.set()
    other.join(10)
    assert "157" in [one["value"] for one in early.json["screens"]]
    assert "ETag" not in early.headers
    late = screen.get("/staff/wall.json")
    assert "158" in [one["value"] for one in late.json["screens"]]
    assert "ETag" in late.headers
