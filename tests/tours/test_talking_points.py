"""Five lines for this morning: what is new or changed most, one stop after another."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from kiosk.figures.figure import Basis, Figure, Provider, Registry
from kiosk.site.content.rendering import PageReader
from kiosk.tours.talking_points import Line, angels_bottles_since, this_morning
from tests.walking import SPECS, Walk

Told = dict[str, float | None]
Morning = Callable[..., list[Line]]


@pytest.fixture
def morning(walk: Walk) -> Morning:
    """Return the lines where figures were some yesterday and are some today."""
    day_begins, _ = walk.site.day_bounds(walk.site.service_day(walk.clock.at))

    def lines(
        yesterday: Told, today: Told, ago: timedelta = timedelta(0), code: str = "en", **more: int
    ) -> list[Line]:
        def compute(_session: object, _site: object, now: object, _of: str) -> dict[tuple[str, str], Figure]:
            told, at = (yesterday, day_begins) if now < day_begins else (today, walk.clock.at - ago)  # type: ignore[operator]
            return {(name, ""): figure(value, at) for name, value in told.items()}

        def figure(value: float | None, at: object) -> Figure:
            missing = "resting" if value is None else ""
            return Figure(value, at, Basis.MEASURED, missing=missing)  # type: ignore[arg-type]

        registry = Registry([Provider(SPECS, frozenset(), 60, compute)])
        figures = registry.reader(walk.store.read, lambda _session: {}, walk.site, walk.clock.at)
        now = walk.site.local(walk.clock.at)
        reader = PageReader(walk.words[code], "us", figures, walk.content.facts, now)
        return this_morning(walk.content, reader, walk.site.local(day_begins), **more)

    return lines


def names(lines: list[Line]) -> list[str]:
    return [line.name for line in lines]


def test_what_changed_is_told_with_what_it_was(morning: Morning) -> None:
    (line,) = morning({"casks_filled": 180}, {"casks_filled": 196})
    assert line.sentence == "Almost 200 casks are filled now."
    assert line.before == "180"
    (line,) = morning({"casks_filled": 180}, {"casks_filled": 196}, code="es")
    assert line.sentence == "Casi 200 barriles están llenos ahora."


def test_what_rested_yesterday_and_runs_today_is_new(morning: Morning) -> None:
    (line,) = morning({"run_abv_now": None}, {"run_abv_now": 71.3})
    assert (line.name, line.before) == ("run_abv_now", "")


def test_what_is_said_the_same_has_not_changed(morning: Morning) -> None:
    assert (
        morning(
            {"casks_filled": 180, "angels_share_to_date": 0.0961},
            {"casks_filled": 180, "angels_share_to_date": 0.0962},
        )
        == []
    )


def test_what_begins_anew_each_day_is_news_only_where_yesterday_had_none(morning: Morning) -> None:
    assert morning({"samples_today": 120}, {"samples_today": 3}) == []
    assert names(morning({"samples_today": 0}, {"samples_today": 3})) == ["samples_today"]


def test_what_is_old_or_resting_now_is_no_news(morning: Morning) -> None:
    assert morning({"run_abv_now": None}, {"run_abv_now": 71.3}, ago=timedelta(days=2)) == []
    assert morning({"casks_filled": 180}, {"casks_filled": None}) == []


def test_each_stop_has_its_first_line_before_any_has_its_second(morning: Morning) -> None:
    still = ("run_abv_now", "run_proof_now", "run_collected_now", "hearts_volume_today", "hearts_abv_today")
    yesterday: Told = {**dict.fromkeys(still), "casks_filled": 180, "spirit_maturing": 100, "lots_open": 4}
    today: Told = {**dict.fromkeys(still, 70), "casks_filled": 181, "spirit_maturing": 150, "lots_open": 8}
    assert names(morning(yesterday, today)) == [
        "run_abv_now",  # new
        "lots_open",  # doubled
        "spirit_maturing",  # half as much again
        "run_proof_now",
        "casks_filled",
    ]
    assert len(morning(yesterday, today, most=2)) == 2


def test_staffs_own_figures_are_not_said(morning: Morning) -> None:
    assert morning({"casks_due_for_gauging": 3}, {"casks_due_for_gauging": 9}) == []


def test_since_a_tour_set_off_the_angels_drank_its_hours_over_a_bottles(walk: Walk) -> None:
    # A bottle every 2 h 8 min: a tour of 3 h 12 min costs one and a half.
    walk.told("angels_bottle_every", 128 / 60)
    start = walk.clock.at - timedelta(minutes=192)
    assert angels_bottles_since(walk.reader().figures, start, walk.clock.at) == pytest.approx(1.5)
    assert angels_bottles_since(walk.reader().figures, walk.clock.at, walk.clock.at) == 0.0


@pytest.mark.parametrize("ago", [timedelta(minutes=-1), timedelta(hours=13)])
def test_before_the_start_and_long_after_nothing_is_said(walk: Walk, ago: timedelta) -> None:
    walk.told("angels_bottle_every", 2.0)
    assert angels_bottles_since(walk.reader().figures, walk.clock.at - ago, walk.clock.at) is None


def test_where_nobody_knows_the_loss_nothing_is_said(walk: Walk) -> None:
    assert angels_bottles_since(walk.reader().figures, walk.clock.at, walk.clock.at) is None
