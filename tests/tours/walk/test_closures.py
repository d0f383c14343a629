"""Closing a stop and opening it again: at once on every page, by the role that the reason names."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import EntryError, Malformed
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import stop_closures
from kiosk.tours.walk.closures import (
    ClosedUntilMissing,
    MayNotReopen,
    OpenAlready,
    close_stop,
    closed_stops,
    reopen_stop,
)
from tests.actors import Clock, Screen, hire, text_of
from tests.tasting_room import Tasting
from tests.tours.walk.conftest import take

HOUR = timedelta(hours=1)


def _close(
    tasting: Tasting, reason: str = "other", stop: str = "cask-store", hours: float | None = None
) -> str:
    key = new_key()
    until = None if hours is None else tasting.now + hours * HOUR
    with tasting.store.write() as session:
        origin = tasting.origin(key)
        close_stop(session, tasting.site, stop, reason, until, origin, tasting.now)
    return key


def _reopen(tasting: Tasting, closure: str, *roles: str) -> None:
    origin = tasting.origin(roles=frozenset(roles))
    with tasting.store.write() as session:
        reopen_stop(session, closure, origin, tasting.now)


def _closed(tasting: Tasting) -> dict[str, str]:
    with tasting.store.read() as session:
        return {slug: one.reason for slug, one in closed_stops(session, tasting.now).items()}


def test_a_stop_is_closed_until_a_person_of_the_role_opens_it(tasting: Tasting) -> None:
    closure = _close(tasting, "co2", "still-house")
    assert _closed(tasting) == {"still-house": "co2"}
    with pytest.raises(MayNotReopen):
        _reopen(tasting, closure, "guide", "manager")
    _reopen(tasting, closure, "production")
    assert _closed(tasting) == {}
    with pytest.raises(OpenAlready):
        _reopen(tasting, closure, "production")


def test_a_time_ends_a_closure_by_itself(tasting: Tasting) -> None:
    closure = _close(tasting, "spraying", hours=12)
    tasting.now += 12 * HOUR - timedelta(seconds=1)
    assert _closed(tasting) == {"cask-store": "spraying"}
    tasting.now += timedelta(seconds=1)
    assert _closed(tasting) == {}
    with pytest.raises(OpenAlready):
        _reopen(tasting, closure, "production")


def test_one_of_two_closures_of_a_stop_is_not_opened_by_ending_the_other(tasting: Tasting) -> None:
    _close(tasting, "co2")
    _reopen(tasting, _close(tasting, "heat"), "guide")
    assert _closed(tasting) == {"cask-store": "co2"}


@pytest.mark.parametrize(
    ("stop", "reason", "hours", "refusal"),
    [
        ("cellar", "other", None, Malformed),
        ("cask-store", "mood", None, Malformed),
        ("cask-store", "co2", 1, Malformed),
        ("cask-store", "heat", -1, Malformed),
        ("cask-store", "spraying", None, ClosedUntilMissing),
        ("cask-store", "spraying", -1, ClosedUntilMissing),
    ],
)
def test_what_cannot_be_closed_so_is_refused(
    tasting: Tasting, stop: str, reason: str, hours: float | None, refusal: type[EntryError]
) -> None:
    with pytest.raises(refusal):
        _close(tasting, reason, stop, hours)
    assert _closed(tasting) == {}


def _press(screen: Screen, path: str, **more: str) -> str:
    """Press a button of the page at `path`; return where the answer leads."""
    page = screen.get(path).get_data(as_text=True)
    key = re.search(r'name="key" value="([0-9a-f]{32})"', page)
    assert key is not None
    answer = screen.post(path, key=key[1], **more)
    assert answer.status_code == 303, text_of(answer)
    return answer.headers["Location"]


def test_any_member_of_staff_closes_a_stop_in_two_presses(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    """From the stop's page: the reason, then until when."""
    for role in ("trainee", "bar", "production", "guide", "manager"):
        tablet.sign_in(hire(paged.store, paged.site, clock.at, role.title(), (role,)))
        page = tablet.get("/staff/stops/cask-store").get_data(as_text=True)
        (first,) = re.findall(r'href="(/staff/stops/cask-store/close/wet_floor)"', page)
        second = _press(tablet, first, **{"for": "30"})
        assert second == "/staff/house#closed-cask-store"
    with paged.store.read() as session:
        assert session.scalar(select(func.count()).select_from(stop_closures)) == 5


def test_guests_read_why_in_their_language_at_once_and_only_while_it_holds(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    guest = Screen(tablet.app)
    words = {"en": "Closed today: the floor is wet.", "es": "Cerrado hoy: el piso está mojado."}
    before = {code: guest.get(f"/{code}/stops/cask-store") for code in words}
    for code, said in words.items():
        assert said not in text_of(before[code])
    _press(tablet, "/staff/stops/cask-store/close/wet_floor", **{"for": "30"})
    closed = {}
    for code, said in words.items():
        etag = before[code].headers["ETag"]
        closed[code] = guest.get(f"/{code}/stops/cask-store", headers={"If-None-Match": etag})
        assert closed[code].status_code == 200
        assert said in text_of(closed[code])
        assert said not in text_of(guest.get(f"/{code}/stops/still-house"))
    clock.pass_s(30 * 60 - 1)
    assert words["es"] in text_of(guest.get("/es/stops/cask-store"))
    clock.pass_s(1)
    for code, said in words.items():
        etag = closed[code].headers["ETag"]
        again = guest.get(f"/{code}/stops/cask-store", headers={"If-None-Match": etag})
        assert again.status_code == 200
        assert said not in text_of(again)


def test_a_closure_names_the_groups_there_until_they_are_out(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    take(paged, "start")
    clock.pass_s(60)
    _press(tablet, "/staff/stops/still-house/close/still", **{"for": "open"})
    assert "Tour A is there: not yet out" in text_of(tablet.get("/staff/house"))
    clock.pass_s(60)
    paged.now = clock.at
    take(paged, "out", "still-house", 2)
    page = text_of(tablet.get("/staff/house"))
    assert "not yet out" not in page
    assert "Tour A is out" in page


def test_only_the_role_of_the_reason_sees_the_button_and_may_press_it(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    _press(tablet, "/staff/stops/still-house/close/co2", **{"for": "open"})
    page = tablet.get("/staff/house")
    assert "Opened again by: production" in text_of(page)
    assert "/reopen" not in page.get_data(as_text=True)
    with paged.store.read() as session:
        key = session.scalar(select(stop_closures.c.key))
    refused = tablet.post(f"/staff/closures/{key}/reopen", page="/staff/house", key=new_key())
    assert refused.status_code == 403
    tablet.sign_in(hire(paged.store, paged.site, clock.at, "Pol", ("production",)))
    page = tablet.get("/staff/house")
    assert f"/staff/closures/{key}/reopen" in page.get_data(as_text=True)
    assert tablet.post(f"/staff/closures/{key}/reopen", page="/staff/house", key=new_key()).status_code == 303
    assert ": closed" not in text_of(tablet.get("/staff/house"))


def test_a_spraying_asks_until_when_and_shows_again_what_was_typed(paged: Tasting, tablet: Screen) -> None:
    path = "/staff/stops/cask-store/close/spraying"
    assert "For the rest of today" not in text_of(tablet.get(path))
    wrong = tablet.post(path, key=new_key(), until="2026-06-16T10:00", **{"for": "typed"})
    assert wrong.status_code == 422
    assert "2026-06-16T10:00" in text_of(wrong)
    assert 'value="2026-06-16T10:00"' in wrong.get_data(as_text=True)
    none = tablet.post(path, key=new_key(), **{"for": "open"})
    assert none.status_code == 422
    assert "Say until when" in text_of(none)
    assert tablet.post(path, key=new_key(), until="2026-06-17T10:00", **{"for": "typed"}).status_code == 303
    page = text_of(tablet.get("/staff/house"))
    assert "Spraying, until" in page


@pytest.mark.parametrize("path", ["cellar/close/other", "cask-store/close/mood"])
def test_an_unknown_stop_or_reason_is_not_found(tablet: Screen, path: str) -> None:
    assert tablet.get(f"/staff/stops/{path}").status_code == 404
    assert tablet.post(f"/staff/stops/{path}", page="/staff/house", key=new_key()).status_code == 404
