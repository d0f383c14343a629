"""The walk on a guide's phone: a stop a press, heads counted, closed and held stops avoided, lost time."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from markdown_it import MarkdownIt
from markupsafe import Markup
from sqlalchemy import select

from kiosk.site.settings import RouteStop
from kiosk.store import rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import bookings, steps, tours
from kiosk.tours.walk.closures import close_stop
from kiosk.tours.walk.page import PlanStep, plan_steps, step_now
from tests.actors import Clock, Screen, hire, running, signed_in, text_of
from tests.costs import cost
from tests.tasting_room import Tasting
from tests.tours.walk.conftest import add_tour, take


@pytest.fixture(autouse=True)
def _on_time(paged: Tasting) -> None:
    """The tour starts now, not an hour ago."""
    with paged.store.write() as session:
        rows.change(session, tours, paged.tour, 1, {"starts_at": paged.now}, by=None, at=paged.now)


def _walk(paged: Tasting) -> str:
    return f"/staff/tours/{paged.tour}/walk"


def _words(screen: Screen, paged: Tasting) -> str:
    return unescape(text_of(screen.get(_walk(paged))))


def _act(screen: Screen, paged: Tasting) -> dict[str, str]:
    """Return the fields of the form at the foot of the walk, the lowest press pressed."""
    page = screen.get(_walk(paged)).get_data(as_text=True)
    form = re.search(r'<form method="post" action="[^"]*/steps" data-walk>.*?</form>', page, re.S)
    assert form is not None
    named = re.findall(r'<(?:input|button)[^>]*? name="(\w+)"[^>]*? value="([^"]*)"', form[0])
    boxes = re.findall(r'type="checkbox" name="(\w+)"', form[0])
    return {name: value for name, value in named if name not in boxes}


def _press(screen: Screen, paged: Tasting, clock: Clock, minutes: float = 1, **typed: object) -> int:
    """Let minutes pass, then press the lowest button, and return the answer's status."""
    clock.pass_s(60 * minutes)
    fields = _act(screen, paged) | {name: str(value) for name, value in typed.items()}
    fields.pop("form_token", None)
    return screen.post(f"/staff/tours/{paged.tour}/steps", page=_walk(paged), **fields).status_code


def _taken(paged: Tasting) -> list[tuple[str, str | None, int | None]]:
    with paged.store.read() as session:
        taken = session.execute(select(steps.c.kind, steps.c.stop, steps.c.count).order_by(steps.c.at))
        return [tuple(row) for row in taken]


def _close(paged: Tasting, clock: Clock, stop: str, reason: str = "other") -> None:
    with paged.store.write() as session:
        close_stop(session, paged.site, stop, reason, None, paged.origin(), clock.at)


def test_a_tour_of_three_stops_takes_four_presses(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    """Start, two on the way, finish: one a stop and one more, heads counted with them."""
    for _ in range(4):
        assert _press(tablet, paged, clock, 5) == 303
    assert _taken(paged) == [
        ("start", None, None),
        ("next", "cask-store", 2),
        ("next", "tasting-room", 2),
        ("finish", None, None),
    ]
    assert "Finished:" in _words(tablet, paged)


@pytest.mark.parametrize("page", ["/staff/", "/staff/tours/1", "/staff/house"])
def test_the_walk_is_one_press_away(paged: Tasting, tablet: Screen, page: str) -> None:
    if page == "/staff/house":
        take(paged, "start")
        with paged.store.write() as session:
            close_stop(session, paged.site, "still-house", "other", None, paged.origin(), paged.now)
    assert f'href="{_walk(paged)}"' in tablet.get(page).get_data(as_text=True)


def test_a_stop_shows_its_guide_page_figures_and_minutes(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    page = _words(tablet, paged)
    assert "Plan of the stop" in page
    assert "On foot until" in page
    assert "Read this, then put phones away. Press below at the door, on the way out." in page
    clock.pass_s(60 * 9)
    page = tablet.get(_walk(paged)).get_data(as_text=True)
    left = re.search(r'class="walk-left.*?<text[^>]*>(\d+)</text>', page, re.S)
    assert left is not None
    assert left[1] == "10"  # fifteen, less the five after four on foot


def test_the_notes_are_in_the_group_s_language_or_in_both_side_by_side(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    with paged.store.write() as session:
        rows.change(session, tours, paged.tour, 2, {"languages": ["es", "en"]}, by=None, at=paged.now)
    page = tablet.get(_walk(paged)).get_data(as_text=True)
    assert re.findall(r'<article lang="(\w+)"', page) == ["es"]
    assert re.findall(r'<article lang="(\w+)"', tablet.get(f"{_walk(paged)}?language=en").text) == ["en"]
    assert re.findall(r'<article lang="(\w+)"', tablet.get(f"{_walk(paged)}?language=both").text) == [
        "es",
        "en",
    ]


def test_a_double_tap_moves_a_group_once(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    _press(tablet, paged, clock)
    clock.pass_s(60)
    fields = _act(tablet, paged)
    fields.pop("form_token", None)
    path = f"/staff/tours/{paged.tour}/steps"
    assert tablet.post(path, page=_walk(paged), **fields).status_code == 303
    assert tablet.post(path, page=_walk(paged), **fields).status_code == 303
    late = tablet.post(path, page=_walk(paged), **{**fields, "key": new_key(), "stop": "tasting-room"})
    assert late.status_code == 409  # the page of a second phone, of the stop before
    assert "went on from that stop already" in text_of(late)
    assert len(_taken(paged)) == 2


def test_fewer_heads_are_asked_about_before_the_group_goes_on(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    fields = _act(tablet, paged) | {"count": "1"}
    fields.pop("form_token", None)
    path = f"/staff/tours/{paged.tour}/steps"
    asked = tablet.post(path, page=_walk(paged), **fields)
    assert asked.status_code == 409
    assert "1 person is missing: counted again, we go on" in text_of(asked)
    assert len(_taken(paged)) == 1
    assert tablet.post(path, page=_walk(paged), **fields, missing="yes").status_code == 303
    assert _taken(paged)[-1] == ("next", "cask-store", 1)
    assert "1 head counted" in _words(tablet, paged)


def test_back_takes_a_wrong_press_back(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    _press(tablet, paged, clock)
    _press(tablet, paged, clock)
    assert "Back to Still house" in _words(tablet, paged)
    clock.pass_s(1)
    answer = tablet.post(f"/staff/tours/{paged.tour}/steps", page=_walk(paged), key=new_key(), kind="back")
    assert answer.status_code == 303
    assert _act(tablet, paged)["place"] == "still-house"


def test_a_large_group_is_told_its_turns_before_and_at_the_stop(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    with paged.store.write() as session:
        rows.insert(session, bookings, {"tour_id": paged.tour, "size": 20, "language": "en"})
        session.execute(bookings.update().values(size=22))
    _press(tablet, paged, clock)
    take(paged, "count", None, 20)
    page = _words(tablet, paged)
    assert "In 2 turns: 10, 10. 15 min each." in page
    assert "holds 9 · 3 turns: 7, 7, 6 · phones away" in page


def test_a_closed_next_stop_is_told_before_walking_there(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    _close(paged, clock, "cask-store", "co2")
    page = _words(tablet, paged)
    assert "Cask store is closed: CO2" in page
    assert "First go to Tasting room" in page
    assert _act(tablet, paged)["stop"] == "tasting-room"
    _press(tablet, paged, clock)
    assert _taken(paged)[-1][:2] == ("next", "tasting-room")
    assert _act(tablet, paged)["kind"] == "finish"  # nothing else is open


def test_a_stop_held_by_another_group_is_told_with_the_order_that_avoids_it(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock, 1)
    assert "is held until" not in _words(tablet, paged)
    other = add_tour(paged, "B", 0, people=8)
    take(paged, "start", tour=other)
    clock.pass_s(600)
    paged.now = clock.at
    take(paged, "next", "cask-store", tour=other, count=8)
    page = _words(tablet, paged)
    assert "Cask store is held until" in page
    assert "tours B" in page


def test_a_guide_at_a_closed_stop_answers_that_the_group_is_out(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    clock.pass_s(60)
    _close(paged, clock, "still-house", "still")
    page = _words(tablet, paged)
    assert "This stop is closed: Work at the still. Take everybody out, count, then answer below." in page
    assert "We are out" in page
    assert _press(tablet, paged, clock) == 303
    assert _taken(paged)[-1] == ("out", "still-house", 2)
    assert "We are out" not in _words(tablet, paged)
    assert "Tour A is out" in text_of(tablet.get("/staff/house"))


def test_a_late_group_is_told_what_it_means_and_shortens_by_a_press(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock, 12)
    page = tablet.get(_walk(paged)).get_data(as_text=True)
    assert "12 min late" in page
    ways = re.findall(r'name="way" value="([^"]+)">([^<]+)</button>', page)
    (revision,) = set(re.findall(r'name="revision" value="(\d+)"', page))
    assert ways[0][1].strip() == "Cask store 2 min shorter; Tasting room 10 min shorter"
    path = f"/staff/tours/{paged.tour}/shorten"
    sent = {"minutes": 12, "revision": revision}
    gone = tablet.post(path, page=_walk(paged), **sent, way="0" * 16)
    assert (gone.status_code, "Look at the ways again" in text_of(gone)) == (409, True)
    clock.pass_s(60)  # what the page offered still holds when the press comes
    done = tablet.post(path, page=_walk(paged), **sent, way=ways[0][0])
    assert (done.status_code, done.location) == (303, _walk(paged))
    assert "min late" not in _words(tablet, paged)
    with paged.store.read() as session:
        plan = session.execute(select(tours.c.plan).where(tours.c.id == paged.tour)).scalar_one()
    assert {stop["slug"]: stop["minutes"] for stop in plan["stops"]} == {
        "still-house": 15,
        "cask-store": 10,
        "tasting-room": 30,
    }


def test_another_guide_takes_over_in_two_presses_counts_included(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    _press(tablet, paged, clock)
    tablet.sign_in(hire(paged.store, paged.site, clock.at, "Nora", ("guide",)))
    assert f'href="{_walk(paged)}"' in tablet.get("/staff/").get_data(as_text=True)
    assert "2 heads counted" in _words(tablet, paged)
    assert tablet.post(f"{_walk(paged)}/take-over", page=_walk(paged)).status_code == 303
    assert "I guide this tour" not in _words(tablet, paged)
    assert "Guide: Nora" in text_of(tablet.get(f"/staff/tours/{paged.tour}"))
    assert "2 heads counted" in _words(tablet, paged)


def test_a_trainee_reads_the_walk_and_presses_nothing(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    _press(tablet, paged, clock)
    tablet.sign_in(hire(paged.store, paged.site, clock.at, "Tino", ("trainee",)))
    page = tablet.get(_walk(paged)).get_data(as_text=True)
    assert "Plan of the stop" in page
    assert "/steps" not in page
    assert "take-over" not in page


def test_a_canceled_tour_has_no_walk(paged: Tasting, tablet: Screen) -> None:
    with paged.store.write() as session:
        rows.change(session, tours, paged.tour, 2, {"cancelled_at": paged.now}, by=None, at=paged.now)
    assert tablet.get(_walk(paged)).status_code == 409
    assert tablet.get("/staff/tours/99/walk").status_code == 404


def test_the_parts_that_change_are_not_sent_again_while_they_stay(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)
    for part in ("now", "act"):
        path = f"{_walk(paged)}/{part}?stop=still-house"
        first = tablet.get(path)
        assert first.status_code == 200
        same = {"If-None-Match": first.headers["ETag"]}
        assert tablet.get(path, headers=same).status_code == 304
        assert tablet.get(path.replace("still-house", "mill")).status_code == 205
        clock.pass_s(300)
        assert tablet.get(path, headers=same).status_code == 200
    assert tablet.get(f"{_walk(paged)}/map").status_code == 404


def test_the_walk_costs_the_same_queries_on_a_day_of_sixty_tours(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, paged, clock)

    def queries() -> int:
        with cost(paged.store) as spent:
            assert tablet.get(f"{_walk(paged)}/act?stop=still-house").status_code == 200
        return len(spent.queries)

    queries()
    alone = queries()
    for n in range(60):
        take(paged, "start", tour=add_tour(paged, f"T{n}", n))
    assert queries() == alone


TEN = tuple(
    RouteStop(slug, 12, 3, 22)
    for slug in (
        *("welcome-house", "cane-field", "harvest-yard", "mill", "fermentation"),
        *("still-house", "cask-store", "bottling", "laboratory", "tasting-room"),
    )
)


def test_a_walk_of_ten_stops_takes_twelve_presses_from_the_day(paged: Tasting, clock: Clock) -> None:
    """Walk, start, nine times on, finish: no press for a head count that is right."""
    paged.site = replace(paged.site, route=TEN)
    app = running(paged.site, paged.store, clock)
    tablet = signed_in(app, paged.store, paged.site, clock.at, "guide", "Gil")
    assert f'href="{_walk(paged)}"' in tablet.get("/staff/").get_data(as_text=True)
    presses = 1
    while "Finished:" not in _words(tablet, paged):
        assert _press(tablet, paged, clock, 12) == 303
        presses += 1
    assert presses == 12
    taken = _taken(paged)
    assert [stop for kind, stop, _ in taken if kind == "next"] == [stop.slug for stop in TEN[1:]]
    assert [kind for kind, _, _ in taken] == ["start", *["next"] * 9, "finish"]
    assert {count for _, _, count in taken} == {None, 2}


SHIPPED = sorted(path.name for path in (Path(__file__).parents[3] / "content" / "stops").iterdir())
NO_TIME = {"tasting-room": 1}
"""The steps whose time the shipped plans give by the glass, by stop."""


def _plan(slug: str, language: str) -> list[PlanStep]:
    text = (Path(__file__).parents[3] / "content" / "stops" / slug / f"guide.{language}.md").read_text()
    plan = text.split("## plan:")[1].split("\n## ")[0].partition("\n")[2]
    return plan_steps(Markup(MarkdownIt().render(plan)), language)


@pytest.mark.parametrize("slug", SHIPPED)
def test_the_plan_of_every_stop_has_its_steps_with_the_same_minutes_in_both_languages(slug: str) -> None:
    minutes = {code: [step.minutes for step in _plan(slug, code)] for code in ("en", "es")}
    assert minutes["en"] == minutes["es"]
    assert len(minutes["en"]) >= 4
    assert minutes["en"].count(None) == NO_TIME.get(slug, 0)


def test_a_step_has_its_name_its_minutes_and_what_is_done() -> None:
    html = Markup(
        "<ul><li><strong>Heads, hearts, half a minute.</strong> One story.</li>"
        "<li><strong>Then</strong> go.</li></ul>"
    )
    assert plan_steps(html, "en") == [
        PlanStep("Heads, hearts", 0.5, Markup("One story.")),
        PlanStep("Then", None, Markup("go.")),
    ]
    assert plan_steps(html, "fr")[0].minutes is None


@pytest.mark.parametrize(
    ("gone", "place"), [(0, 0), (0.19, 0), (0.2, 1), (0.59, 1), (0.6, 2), (0.99, 2), (1, 2)]
)
def test_the_step_that_it_is_time_for_follows_the_minutes(gone: float, place: int) -> None:
    timed = [PlanStep("a", 2, Markup()), PlanStep("b", 4, Markup()), PlanStep("c", 4, Markup())]
    open_end = [timed[0], PlanStep("b", None, Markup()), timed[2]]
    assert step_now(timed, 10, gone) == place  # as long as planned
    assert step_now(timed, 5, gone) == place  # a stop that was shortened keeps the shares of its steps
    assert step_now(open_end, 10, gone) == place
    assert step_now([], 10, gone) == 0


def test_the_segments_of_a_stop_go_with_the_time(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    _press(tablet, paged, clock)
    clock.pass_s(60 * 4)
    page = tablet.get(_walk(paged)).get_data(as_text=True)
    first = re.findall(r'<li class="now" aria-current="step"><span>([^<]+)', page)
    assert len(first) == 1
    assert f'<p class="walk-do" lang="en"><b>{first[0]}</b>' in page
    clock.pass_s(60 * 8)
    later = tablet.get(_walk(paged)).get_data(as_text=True)
    assert re.findall(r'<li class="now" aria-current="step"><span>([^<]+)', later) != first
    assert '<li class="done"><span>' + first[0] in later
