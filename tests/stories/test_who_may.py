"""Who may record what: a bar tablet, a trainee, a wall, a sign-out, a lost tablet and what it still sends."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime

from tests.stories.house import Country, House, Page, Screen, sign_in
from tests.stories.test_a_day import (
    a_booking_is_added_by_form,
    a_tour_is_added_by_form,
    house,
    the_house_is_made_ready,
)

__all__ = ["house"]

QUARTER_OZ_UL = 7393
BAR_PIN, TRAINEE_PIN = "583016", "719204"


def enrolled(house: House, manager: Screen, name: str, kind: str = "tablet") -> Screen:
    """Return a screen that the manager gave a code."""
    page = manager.submit(manager.get("/staff/devices"), ".", name=name, kind=kind)
    (code,) = re.findall(r"\b[A-Z0-9]{4}-[A-Z0-9]{4}\b", page.words)
    screen = house.screen()
    screen.submit(screen.get("/staff/enrol"), code=code)
    return screen


def hired(manager: Screen, name: str, role: str, pin: str) -> None:
    page = manager.submit(manager.get("/staff/people"), name=name, pin=pin, role=role, language="en")
    assert name in page.words, page.words


def first_sign_in(screen: Screen, name: str, pin: str) -> Page:
    """Sign a person in by the PIN that the manager chose; return the page that asks for an own one."""
    signed = sign_in(screen, name, pin)
    assert signed.path == "/staff/pin"
    return signed


def choose_pin(screen: Screen, asked: Page, pin: str) -> Page:
    """Choose an own PIN in place of the temporary one."""
    return screen.submit(asked, ".", pin=pin[::-1], pin_again=pin[::-1])


def guests_of(manager: Screen, tour: str) -> list[int]:
    """Check in the booking, see both IDs, start the tour; return the ids of the guests."""
    group = manager.submit(manager.get(tour), "/numbers")
    guests = [int(one) for one in re.findall(r'data-guest="(\d+)"', group.body.decode())]
    for head in re.findall(r'id="head-([\d-]+)"', group.body.decode()):
        manager.submit(
            manager.get(f"{tour}?head={head}"), "/marks", head=head, kind="id_check", detail="passport"
        )
    manager.submit(manager.get(tour), "/steps", kind="start")
    return guests


def outcomes(screen: Screen, *rows: Mapping[str, object]) -> list[tuple[object, object]]:
    status, answers = screen.send_entries(*rows)
    assert status == 200
    return [(one["outcome"], one["status"]) for one in answers]


def claimed(manager: Screen, tour: str) -> str:
    """Return what the seats of a room say of claimed pours."""
    return " ".join(guest["claimed"] for guest in manager.room(tour)["guests"]).strip()


def a_temporary_pin_asks_for_nothing_and_records_what_happened(
    bar: Screen, manager: Screen, tour: str, pour: Mapping[str, object]
) -> None:
    asked = first_sign_in(bar, "Bea", BAR_PIN)
    status, (refused, recorded) = bar.send_entries(pour, {**pour, "asked": False})
    assert (status, refused["outcome"], refused["status"]) == (200, "rejected", 403)
    assert "Choose a PIN of your own first" in str(refused["sentence"])
    assert (recorded["outcome"], recorded["status"]) == ("poured", 200)
    assert claimed(manager, tour) == "1 pour claimed"
    assert bar.get(f"{tour}/tasting").path == "/staff/pin"
    assert choose_pin(bar, asked, BAR_PIN).path == "/staff/"


def a_pour_is_asked_by_those_who_serve_alone(
    bar: Screen, trainee: Screen, pour: Mapping[str, object]
) -> None:
    assert outcomes(trainee, pour) == [("rejected", 403)]
    assert outcomes(bar, pour) == [("poured", 200)]


def a_signed_out_tablet_asks_for_nothing_and_its_facts_are_claims(
    bar: Screen, manager: Screen, tour: str, pour: Mapping[str, object], by: int
) -> None:
    bar.submit(bar.get("/staff/"), "/sign-out")
    assert outcomes(bar, {**pour, "by": by}, {**pour, "by": by, "asked": False}) == [
        ("rejected", 403),
        ("poured", 200),
    ]
    assert claimed(manager, tour) == "2 pours claimed"
    assert "Bea (claimed)" in manager.get("/staff/closing").words


def a_wall_signs_nobody_in(house: House, manager: Screen) -> None:
    wall = enrolled(house, manager, "hall", "wall")
    assert wall.get("/staff/wall").status == 200
    sign_in_page = wall.get("/staff/sign-in")
    assert (sign_in_page.status, "Rosa" in sign_in_page.words) == (404, False)
    assert wall.send_entries()[0] == 404


def a_pour_is_taken_back_by_its_maker_at_once_and_by_others_for_a_reason(manager: Screen, tour: str) -> None:
    pours = [pour["key"] for guest in manager.room(tour)["guests"] for pour in guest["pours"]]
    void = {"ledger": "pour_marks", "pour": pours[0], "kind": "void"}
    _, (refused,) = manager.send_entries(void)
    assert (refused["status"], "Say why" in str(refused["sentence"])) == (422, True)
    _, (done,) = manager.send_entries({**void, "reason": "entered_twice"})
    assert done["outcome"] == "corrected"
    assert "Nothing was poured: Entered twice 1" in manager.get("/staff/closing").words


def a_lost_tablet_s_facts_wait_in_one_place(
    bar: Screen, manager: Screen, tour: str, pour: Mapping[str, object]
) -> None:
    devices = manager.get("/staff/devices")
    row = devices.body.decode().split("bar tablet")[1]
    (device, revision), *_ = re.findall(r'/devices/(\d+)/revoke.*?name="revision" value="(\d+)"', row, re.S)
    manager.submit(devices, f"/devices/{device}/revoke", revision=revision)
    late = {**pour, "asked": False}
    assert outcomes(bar, late, {**late, "guest": 9999}, {"ledger": "marks"}) == [("held", 202)] * 3
    assert "3 entries held for review" in manager.get("/staff/").words
    for language, words in (("es", "estaba revocado"), ("en", "had been revoked")):
        manager.get(f"/language/{language}")
        assert words in manager.get("/staff/held").words
    before = claimed(manager, tour)
    page = manager.get("/staff/held")
    held = [one.rpartition("/")[2] for one in re.findall(r'action="(/staff/held/\d+)"', page.body.decode())]
    recorded = manager.submit(page, f"/held/{held[0]}", outcome="recorded")
    assert "recorded, Rosa" in recorded.words
    assert claimed(manager, tour) != before
    for one in dict.fromkeys(held[1:]):
        if one != held[0]:
            manager.submit(
                manager.get("/staff/held"), f"/held/{one}", outcome="discarded", why="cannot_be_known"
            )
    assert "Nothing is held for review." in manager.get("/staff/held").words
    assert "held for review" not in manager.get("/staff/").words


def a_manager_types_in_what_the_lost_tablet_keeps_and_it_counts_once(
    bar: Screen, manager: Screen, tour: str, pour: Mapping[str, object], volume: str, by: int
) -> None:
    key = uuid.uuid4().hex
    late = {**pour, "key": key, "asked": False}
    status, (kept,) = bar.send_entries({**late, "note": "x" * 2000})
    assert (status, kept["outcome"]) == (200, "keep")
    assert "for a manager to enter" in str(kept["sentence"])
    code, at = f"{key[:6]}-{key[-6:]}", f"{datetime.now(UTC):%Y-%m-%dT%H:%M}Z"
    form = manager.get(f"/staff/held/type-in?code={code}&at={at}")
    typed = {"guest": "2", "product": "blanco", "volume": volume, "server": str(by), "reason": "too_large"}
    before = _poured(manager)
    done = manager.submit(form, ".", **typed)
    assert "Recorded." in done.words, done.words
    assert any("yped in by Rosa" in str(guest["typed_in"]) for guest in manager.room(tour)["guests"])
    assert _poured(manager) == before + 1
    again = manager.submit(form, ".", **typed)
    assert again.status == 422
    assert "A manager typed this entry in already" in again.words
    assert bar.send_entries(late) == (409, [])
    assert "Nothing is held for review." in manager.get("/staff/held").words
    assert _poured(manager) == before + 1


def _poured(manager: Screen) -> int:
    return int(re.findall(r"Pours served (\d+)", manager.get("/staff/closing").words)[0])


def test_who_may_record_what(house: House, manager: Screen, country: Country) -> None:
    the_house_is_made_ready(manager)
    hired(manager, "Bea", "bar", BAR_PIN)
    hired(manager, "Tom", "trainee", TRAINEE_PIN)
    tour = a_tour_is_added_by_form(manager)
    a_booking_is_added_by_form(manager, tour)
    guests = guests_of(manager, tour)
    bar, trainee = enrolled(house, manager, "bar tablet"), enrolled(house, manager, "school tablet")
    choose_pin(trainee, first_sign_in(trainee, "Tom", TRAINEE_PIN), TRAINEE_PIN)
    pour = {"ledger": "pours", "guest": guests[0], "product": "blanco", "volume_ul": QUARTER_OZ_UL}
    other = {**pour, "guest": guests[1]}
    a_temporary_pin_asks_for_nothing_and_records_what_happened(bar, manager, tour, other)
    a_pour_is_asked_by_those_who_serve_alone(bar, trainee, pour)
    page = manager.get("/staff/people").body.decode()
    (bea,) = re.findall(r'/staff/people/(\d+)"[^>]*>\s*Bea', page)
    a_signed_out_tablet_asks_for_nothing_and_its_facts_are_claims(bar, manager, tour, other, int(bea))
    a_wall_signs_nobody_in(house, manager)
    a_pour_is_taken_back_by_its_maker_at_once_and_by_others_for_a_reason(manager, tour)
    a_lost_tablet_s_facts_wait_in_one_place(bar, manager, tour, pour)
    volume = {"island": "0.25", "mainland": "7.5"}[country.name]
    a_manager_types_in_what_the_lost_tablet_keeps_and_it_counts_once(
        bar, manager, tour, other, volume, int(bea)
    )
