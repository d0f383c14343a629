"""One long day of a house with three seasons of records: a late bus, a split, a closure, a lost tablet.

Everything goes over https behind a proxy; the clock of the house is moved by the story. What people read
is compared with what the story counts by itself: guests, pours, volumes, the balance of the bottles.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.stories import season_begins, season_ends
from tests.stories.house import Country, Page
from tests.stories.season import FLIGHT, FULL_G, NAMES, SATURDAY, SEALED, Story, option
from tests.stories.team import check_in, heads_of, pour_all, press_walk


@pytest.fixture(scope="module")
def story(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    """A house in which nothing has happened yet."""
    folder: Path = tmp_path_factory.mktemp(f"season-{country.name}") / "site"
    yield from season_begins.begun(folder, country)


def the_day_is_set_up(story: Story) -> None:
    story.at("08:45")
    marta, teo = story.people["Marta"], story.people["Teo"]
    for product, bottles in SEALED.items():
        shelf = marta.opens("/staff/bottles")
        typed = {"kind": "received", "bottles": str(bottles), "document": "removal 7"}
        approval = option(shelf, "approval", NAMES[product])
        marta.sends(shelf, "/bottles/stock", **typed, approval=approval)
        opening = marta.opens(f"/staff/bottles/open?product={product}")
        marta.sends(opening, "/bottles", gross_g=str(FULL_G))
    shelf = marta.opens("/staff/bottles")
    assert "2 open" in shelf.words
    assert f"{sum(SEALED.values()) - 2} sealed" in shelf.words, shelf.words
    day = marta.opens(f"/staff/days/{SATURDAY}")
    marta.sends(
        day, first_aider=option(day, "first_aider", "Noa"), key_holder=option(day, "key_holder", "Marta")
    )
    assert "First aid: Noa Keys: Marta" in teo.opens("/staff/").words
    listed = teo.opens("/staff/setup").words
    assert "56 Tasting glasses" in listed, listed  # 28 people, two samples


def the_bus_is_late_and_what_it_does_to_others_is_said(story: Story) -> None:
    story.at("10:10")
    teo, marta, bus = story.people["Teo"], story.people["Marta"], story.tours["A"]
    assert "10 minutes late" in teo.opens("/staff/").words
    plan = teo.opens("/staff/house").words
    assert "not started 10 min late" in plan, plan
    form = marta.opens(f"{bus}/change")
    late = marta.sends(form, starts_at=f"{SATURDAY}T10:40")
    assert late.status == 409
    told = story.times(late)
    assert "Tasting room, 11:45 to 12:05: 24 people of tours A, B, where 18 fit." in told, told
    assert "The next start that clashes with nothing: 11:40." in told


def the_bus_is_split_and_no_group_waits_for_another(story: Story) -> None:
    marta, bus = story.people["Marta"], story.tours["A"]
    form = marta.opens(f"{bus}/split")
    booking = re.findall(r'name="booking" value="(\d+)"[^>]*>\s*Luis Gil', form.body.decode())
    teo = option(form, "guide", "Teo")
    typed = {"booking": booking, "starts_at": f"{SATURDAY}T12:10", "places": "6", "guide": teo}
    looked = marta.sends(form, **typed)
    assert "No other group is in the way, and none is held up." in looked.words, looked.words
    second = marta.sends(looked, booking=booking)
    assert "6 of 6 seats booked" in second.words
    story.tours["E"] = second.path
    first = marta.sends(marta.opens(f"{bus}/change"), starts_at=f"{SATURDAY}T10:40", guide=teo)
    assert first.path == bus, first.words
    assert "Luis Gil" not in first.words
    for tour in "BCD":
        form = marta.opens(f"{story.tours[tour]}/change")
        saved = marta.sends(form, guide=option(form, "guide", "Noa"))
        if tour == "D":
            assert saved.status == 422, saved.words
            saved = marta.sends(saved, may_lead="yes")
        assert "Guide: Noa" in saved.words, saved.words


def half_a_bus_is_checked_in_and_walks(story: Story) -> None:
    teo, bus = story.people["Teo"], story.tours["A"]
    story.at("10:36")
    group = check_in(teo, bus, ["id", "id", "id", "id", "id", "none"], story.tally)
    assert "Closed shoes and safety words: 6 of 6" in group.words
    story.at("10:40")
    assert "Still house" in press_walk(teo, bus).words
    assert "1 Still house A 6 guests, on the way" in story.people["Bea"].opens("/staff/house").words


def people_stand_at_the_door_and_others_do_not_come(story: Story) -> None:
    """Two walk in, one party never comes, another is one more; a child is with the adult of number 7."""
    story.at("10:50")
    bea, noa, tour = story.people["Bea"], story.people["Noa"], story.tours["B"]
    door = bea.opens("/staff/walk-in")
    assert bea.sends(door, f"{tour}/walk-in", size="2").path.startswith(tour)
    group = noa.opens(tour)
    booking = bookings_of(group)
    kept = noa.sends(noa.opens(booking["Iris Paz"]), "/no-show")
    assert "7 of 12 seats booked" in kept.words, kept.words
    more = noa.sends(noa.opens(booking["Luz Vega"]), "/size", act="more")
    assert "8 of 12 seats booked" in more.words, more.words
    absent = set(re.findall(r'id="head-([\d-]+)" data-look="no_show"', more.body.decode()))
    assert len(absent) == 4
    marks = ["id", "child 7", "id", "id", "id", "id", "id", "id"]
    check_in(noa, tour, marks, story.tally, without=absent)
    story.at("11:00")
    press_walk(noa, tour)


def bookings_of(group: Page) -> dict[str, str]:
    """Return the address of the form of each booking on a group's page, by its name."""
    html = group.body.decode()
    return {
        name.strip(): address
        for name, address in re.findall(
            r'id="booking-\d+-name">([^<]*)</h2>.*?href="([^"]*/bookings/\d+)"', html, re.S
        )
    }


def a_stop_is_closed_on_the_way(story: Story) -> None:
    """A floor is wet: the group goes to the tasting first and comes back when the stop is open again."""
    story.at("10:58")
    bea, teo, bus = story.people["Bea"], story.people["Teo"], story.tours["A"]
    bea.sends(bea.opens("/staff/stops/cask-store/close/wet_floor"), ".", **{"for": "open"})
    assert "Closed today" in story.house.screen().get("/en/stops/cask-store").words
    walk = teo.opens(f"{bus}/walk").words
    assert "Cask store is closed" in walk
    assert "First go to Tasting room" in walk
    story.at("11:01")
    assert "Tasting room" in press_walk(teo, bus, count="6").words
    story.at("11:15")
    plan = teo.sends(teo.opens("/staff/house"), "/reopen")
    assert "Cask store: closed" not in plan.words
    assert "3 Tasting room A 6 guests" in plan.words, plan.words
    assert "Closed today" not in story.house.screen().get("/en/stops/cask-store").words
    room = pour_all(bea, bus, 5, FLIGHT, story.tally)
    assert [guest["count"] for guest in room["guests"]].count(2) == 5


def four_groups_share_the_house(story: Story) -> None:
    """Each walks, tastes and is counted out; no two are where only one fits."""
    teo, noa, bea, tours = story.people["Teo"], story.people["Noa"], story.people["Bea"], story.tours
    story.at("11:22")
    press_walk(noa, tours["B"], count="8")
    story.at("11:44")
    press_walk(noa, tours["B"])
    assert "Cask store" in press_walk(teo, tours["A"]).words
    pour_all(bea, tours["B"], 7, FLIGHT, story.tally)
    story.at("12:04")
    assert "Finished:" in press_walk(teo, tours["A"], count="6").words
    check_in(teo, tours["E"], ["id"] * 6, story.tally)
    story.at("12:10")
    press_walk(teo, tours["E"])
    story.at("12:26")
    assert "Finished:" in press_walk(noa, tours["B"]).words
    check_in(noa, tours["C"], ["id"] * 3, story.tally)
    story.at("12:30")
    press_walk(noa, tours["C"])
    press_walk(teo, tours["E"], count="6")
    plan = story.people["Marta"].opens("/staff/house").words
    assert "1 Still house C 3 guests" in plan, plan
    assert "2 Cask store E 6 guests" in plan, plan
    assert "No stop will be too full." in plan, plan


def the_bar_tablet_keeps_two_entries_and_is_lost(story: Story) -> list[dict[str, object]]:
    """Return what the tablet kept: the network was away, one glass was poured and entered twice."""
    story.at("12:32")
    marta, bea = story.people["Marta"], story.people["Bea"]
    guests = bea.screen.room(story.tours["B"])["guests"]
    (guest,) = [guest["id"] for guest in guests if guest["number"] == 7]
    (by,) = re.findall(r'/staff/people/(\d+)"[^>]*>\s*Bea', marta.opens("/staff/people").body.decode())
    glass = {"ledger": "pours", "guest": int(guest), "product": "blanco", "volume_ul": story.pour_ul}
    kept = [{**glass, "by": int(by), "asked": False, "at": story.clock.now.isoformat()} for _ in range(2)]
    story.at("12:40")
    devices = marta.opens("/staff/devices")
    row = devices.body.decode().split("bar tablet")[1]
    (device, revision), *_ = re.findall(r'/devices/(\d+)/revoke.*?name="revision" value="(\d+)"', row, re.S)
    revoked = marta.sends(devices, f"/devices/{device}/revoke", revision=revision)
    assert revoked.words.count("revoked") == 1
    assert bea.screen.get("/staff/").status == 404
    return kept


def the_last_two_groups_of_the_morning_taste(story: Story) -> None:
    teo, noa, tours = story.people["Teo"], story.people["Noa"], story.tours
    story.at("12:52")
    press_walk(teo, tours["E"])
    press_walk(noa, tours["C"], count="3")
    pour_all(teo, tours["E"], 6, FLIGHT, story.tally)
    story.at("13:13")
    press_walk(noa, tours["C"])
    pour_all(noa, tours["C"], 3, FLIGHT, story.tally)
    story.at("13:36")
    assert "Finished:" in press_walk(teo, tours["E"]).words
    story.at("13:54")
    assert "Finished:" in press_walk(noa, tours["C"]).words


def what_the_lost_tablet_sends_is_held_and_settled(story: Story, kept: list[dict[str, object]]) -> None:
    story.at("14:10")
    marta, tablet = story.people["Marta"], story.people["Bea"].screen
    status, answers = tablet.send_entries(*kept)
    assert (status, [one["outcome"] for one in answers]) == (200, ["held", "held"])
    assert "2 entries held for review" in marta.opens("/staff/").words
    page = marta.opens("/staff/held")
    assert page.words.count("had been revoked") == 2, page.words
    first, second = dict.fromkeys(re.findall(r'action="/staff(/held/\d+)"', page.body.decode()))
    page = marta.sends(page, first, outcome="recorded")
    story.tally.poured["blanco"] += 1
    page = marta.sends(page, second, outcome="discarded", why="entered_otherwise")
    assert "Nothing is held for review." in page.words
    assert ": Entries of tablets, recorded, Marta" in page.words, page.words
    assert ": Entries of tablets, discarded, Marta" in page.words, page.words


def a_guest_returns_in_the_afternoon(story: Story) -> None:
    """Number 2 of the morning joins friends who speak Spanish: the day's limit counts on, and holds."""
    story.at("14:50")
    noa, tour = story.people["Noa"], story.tours["D"]
    group = noa.opens(tour)
    head = heads_of(group)[0]
    sheet = noa.opens(f"{tour}?head={head}")
    back = noa.sends(sheet, "/returning", head=head, number="2")
    assert "ID checked" in back.words, back.words
    others = check_in(noa, tour, ["id"] * 3, story.tally, without={head})
    assert "4 guests checked in" in others.words
    story.at("15:00")
    press_walk(noa, tour)
    story.at("15:48")
    room = pour_all(noa, tour, 3, FLIGHT, story.tally)
    assert [guest["count"] for guest in room["guests"]].count(2) == 4
    (guest,) = [guest["id"] for guest in room["guests"] if guest["number"] == 2]
    blanco = room["glasses"][room["flight"][0]["glass"]]
    asked = {"ledger": "pours", "guest": guest, "product": "blanco", "volume_ul": blanco["volume_ul"]}
    outcomes = [noa.screen.send_entries(asked)[1][0]["outcome"] for _ in range(3)]
    assert outcomes == ["poured", "poured", "refused"]
    story.tally.poured["blanco"] += outcomes.count("poured")
    noa.sends(noa.opens(tour), "/steps", kind="finish")


def test_one_long_day_of_a_house(story: Story) -> None:
    season_begins.five_people_enrol_by_code(story)
    season_begins.three_seasons_of_records_go_in(story)
    season_begins.the_bar_is_made_ready(story)
    season_begins.a_week_is_planned(story)
    season_begins.the_week_is_booked(story)
    the_day_is_set_up(story)
    the_bus_is_late_and_what_it_does_to_others_is_said(story)
    the_bus_is_split_and_no_group_waits_for_another(story)
    half_a_bus_is_checked_in_and_walks(story)
    people_stand_at_the_door_and_others_do_not_come(story)
    a_stop_is_closed_on_the_way(story)
    four_groups_share_the_house(story)
    kept = the_bar_tablet_keeps_two_entries_and_is_lost(story)
    the_last_two_groups_of_the_morning_taste(story)
    what_the_lost_tablet_sends_is_held_and_settled(story, kept)
    a_guest_returns_in_the_afternoon(story)
    season_ends.the_shift_is_balanced_and_signed(story)
    season_ends.the_next_morning_tells_of_yesterday(story)
    season_ends.the_tours_keep_their_hour_when_the_clock_is_changed(story)
