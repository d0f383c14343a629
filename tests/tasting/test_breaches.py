"""The closing counts reasons and servings, of its own room and shift alone."""

from __future__ import annotations

from datetime import timedelta

from kiosk.store.keys import new_key
from kiosk.store.tables.tasting import policies
from kiosk.tasting.balancing import shift
from kiosk.tasting.breaches import Judged, breaches
from kiosk.tasting.policy import digest
from tests.tasting_room import Tasting


def counted(tasting: Tasting, room: str = "main", days: int = 0) -> Judged:
    day = tasting.site.service_day(tasting.now) + timedelta(days=days)
    with tasting.store.read() as session:
        return breaches(session, tasting.site, shift(tasting.site, room, day, 20.0))


def test_reasons_are_counted_by_serving(tasting: Tasting) -> None:
    second = tasting.guests[1]
    for _ in range(2):
        tasting.pour(second, asked=False)  # a guest whom nobody checked
    assert counted(tasting) == Judged({"not_checked": 2}, servings=2)


def test_another_room_and_another_day_have_none_of_it(tasting: Tasting) -> None:
    tasting.pour(tasting.guests[1], asked=False)
    assert counted(tasting, room="terrace") == counted(tasting, days=1) == Judged()


def test_rules_that_nobody_here_can_read_are_told_apart(tasting: Tasting) -> None:
    """The rules in force under a body that says something else, as a later release may write it."""
    body = {"colour": "red"}
    at = tasting.now - timedelta(hours=1)
    with tasting.store.write() as session:
        values = {"key": new_key(), "at": at, "recorded_at": at, "by": tasting.ana, "basis": "house rule"}
        session.execute(policies.insert().values(**values, digest=digest(tasting.site.policy), body=body))
    tasting.pour(tasting.guests[0])
    assert counted(tasting) == Judged(unreadable=1)
