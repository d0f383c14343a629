"""A season lasts while no rest between millings is long."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from kiosk.figures.season import season_start

NOW = datetime(2026, 6, 16, tzinfo=UTC)


def ago(*days: float) -> list[datetime]:
    return [NOW - timedelta(days=one) for one in days]


def test_it_begins_after_the_last_long_rest() -> None:
    assert season_start(ago(300, 290, 100, 50, 1), NOW) == NOW - timedelta(days=100)


def test_the_first_of_all_millings_begins_one() -> None:
    assert season_start(ago(30, 59), NOW) == NOW - timedelta(days=59)


def test_a_rest_of_sixty_days_ends_it_and_one_less_does_not() -> None:
    assert season_start(ago(60), NOW) is None
    assert season_start(ago(59.9), NOW) is not None
    assert season_start(ago(70, 10), NOW) == NOW - timedelta(days=10)
    assert season_start(ago(69, 10), NOW) == NOW - timedelta(days=69)


def test_what_is_to_come_begins_nothing() -> None:
    assert season_start(ago(-1), NOW) is None
    assert season_start([], NOW) is None
