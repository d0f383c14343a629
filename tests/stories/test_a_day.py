"""A house's first day with guests: from `kiosk init` to the signed closing, every step by form."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.production.folder import FILES
from tests.stories.house import PIN, Country, House, Page, Screen, new_site, serve

BLANCO = """
[[product]]
id = "blanco"
abv_percent = 40.0
abv_basis = "label"
names = { en = "Blanco of the House", es = "Blanco de la casa" }
legal_class = { en = "Rum", es = "Ron" }
notes = { en = "Cut grass.", es = "Hierba recién cortada." }
allergens = ["coconut"]
"""
RULES = {
    "from = 10:00:00": "from = 00:00:00",
    "until = 17:00:00": "until = 00:00:00",
    'id = "day_volume"': 'id = "day_volume"\ntour = "with"',
}
"""The house pours at every hour, and only while the guest's tour is under way."""


@pytest.fixture(scope="module")
def house(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A served house of one product, whose guests are served on a tour only."""
    folder: Path = tmp_path_factory.mktemp(f"day-{country.name}") / "site"
    new_site(folder, country)
    settings = folder / "site.toml"
    text = settings.read_text(encoding="utf-8")
    for old, new in RULES.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    settings.write_text(text, encoding="utf-8")
    with (folder / "products.toml").open("a", encoding="utf-8") as products:
        products.write(BLANCO)
    process, served = serve(folder)
    yield served
    process.terminate()
    process.wait(30)


def the_house_is_made_ready(manager: Screen) -> None:
    """People, rules, records, an approval, a bottle and a flight."""
    people = manager.get("/staff/people")
    hired = manager.submit(people, name="Teo", pin="583016", role="guide", language="en")
    assert "Teo" in hired.words
    rules = manager.get("/staff/rules")
    assert manager.submit(rules, "/rules", pin=PIN).status == 200
    preview = manager.upload(manager.get("/staff/records/import"), FILES)
    assert manager.submit(preview).status == 200
    approval = manager.get("/staff/approvals/new")
    typed = {"kind": "bottled", "product": "blanco", "source": "BL-1", "document": "removal 7", "pin": PIN}
    signed = manager.submit(approval, **typed, room="main")
    assert signed.path == "/staff/approvals", signed.words
    opened = manager.submit(manager.get("/staff/bottles/open"), "/bottles", gross_g="1211")
    assert "Blanco of the House" in opened.words
    assert opened.status == 200, opened.words
    flight = manager.get("/staff/flights/new")
    size = re.findall(r'name="size-1".*?<option value="(\d+)"', flight.body.decode(), re.S)[0]
    planned = {"name": "Short", "name-es": "Corta", "place-1": "1", "glass-1": "blanco", "size-1": size}
    saved = manager.submit(flight, **planned)
    assert saved.path.startswith("/staff/flights/"), saved.words


def _tour_form(manager: Screen) -> tuple[Page, dict[str, str]]:
    form = manager.get("/staff/tours/new")
    html = form.body.decode()
    chosen = {
        field: re.findall(rf'name="{field}".*?<option value="(\d+)"', html, re.S)[0]
        for field in ("guide", "flight")
    }
    return form, chosen


def saved(manager: Screen, form: Page, **typed: str) -> Page:
    """Save a tour, after reading what it does to others where the page says so."""
    page = manager.submit(form, **typed)
    return manager.submit(page) if "Look at this before it is saved" in page.words else page


def saved_back(manager: Screen, canceled: Page) -> Page:
    """Bring a tour back, after reading what it does to others where the page says so."""
    page = manager.submit(canceled, "/cancel", act="bring-back")
    return manager.submit(page, "/cancel", act="bring-back") if page.status == 409 else page


def a_tour_is_added_by_form(manager: Screen) -> str:
    """Return the address of a tour of today; a slip of the keyboard is told by field."""
    form, chosen = _tour_form(manager)
    moment = form.form().fields["starts_at"]
    today = manager.get("/staff/tours/pattern").form().fields["first"]
    wrong = manager.submit(form, **chosen, starts_at=moment, places="many")
    assert wrong.status == 422
    assert "“many” is not possible. Allowed: a whole number from 1 to 60." in wrong.words
    assert 'value="many"' in wrong.body.decode()
    start = moment if moment.startswith(today) else f"{today}T23:30"
    tour = saved(manager, wrong, places="8", starts_at=start)
    assert re.fullmatch(r"/staff/tours/\d+", tour.path), tour.words
    assert tour.path in manager.get("/staff/").links
    return tour.path


def a_booking_is_added_by_form(manager: Screen, tour: str) -> None:
    form = manager.get(f"{tour}/bookings/new")
    said = {
        "lead_name": "Rosa Pons",
        "language": "es",
        "contact": "555 0100",
        "notes": "A birthday",
        "access_needs": "One wheelchair",
        "allergen": "coconut",
    }
    wrong = manager.submit(form, **said, size="9")
    assert "“9” is not possible. Allowed: a whole number from 1 to 8." in wrong.words
    for kept in ("Rosa Pons", "555 0100", "A birthday", "One wheelchair"):
        assert f'value="{kept}"' in wrong.body.decode()
    group = manager.submit(wrong, size="2")
    assert group.path.startswith(tour)
    for said_again in ("Rosa Pons", "Notes: A birthday", "Access needs: One wheelchair", "coconut"):
        assert said_again in group.words
    assert "2 of 8 seats booked" in group.words
    the_day_says_who_comes_and_what_to_set_out(manager)


def the_day_says_who_comes_and_what_to_set_out(manager: Screen) -> None:
    day = manager.get("/staff/")
    for said in ("Rosa Pons, 2", "Who comes: 2 ES", "A birthday", "First aid: not decided"):
        assert said in day.words
    assert "/staff/setup" in day.links
    listed = manager.get("/staff/setup")
    for line in (
        "2 Tasting glasses",
        "2 Water glasses",
        "2 Mats: ES",
        "1 Allergy: coconut",
        "2 Number stickers",
    ):
        assert line in listed.words
    ticked = manager.submit(listed, "/staff/setup", done="yes")
    assert ticked.body.count(b'aria-pressed="true"') == 1
    assert manager.get("/staff/setup.pdf?paper=letter").body.startswith(b"%PDF")


def one_by_one_each_id_is_checked(manager: Screen, tour: str) -> None:
    """The first of two: a press of the usual kind of ID goes on to the second, and is undone."""
    first, second = re.findall(r'id="head-([\d-]+)"', manager.get(tour).body.decode())
    sheet = manager.get(f"{tour}?head={first}")
    assert "Born on or before" in sheet.words
    seen = {"head": first, "kind": "id_check", "detail": "identity_card"}
    on = manager.submit(sheet, "/marks", **seen)
    assert on.path.endswith(f"?after={first}")
    assert "May be served" in manager.get(f"{tour}?head={first}").words
    undone = manager.submit(on, "/marks")  # the first form: what was pressed last
    assert "Age not checked" in undone.words
    manager.submit(undone, "/marks", **seen)
    child = {"head": second, "kind": "under_age", "detail": "1"}
    assert "Alcohol-free" in manager.submit(manager.get(f"{tour}?head={second}"), "/marks", **child).words
    assert "Under age, with guest 1" in manager.get(f"{tour}?head={second}").words
    briefed = manager.submit(manager.get(tour), "/briefed")
    assert "Closed shoes and safety words: 2 of 2" in briefed.words


def guests_are_checked_in_and_served_while_the_tour_is_under_way(manager: Screen, tour: str) -> None:
    group = manager.submit(manager.get(tour), "/numbers")
    assert "2 guests checked in" in group.words
    one_by_one_each_id_is_checked(manager, tour)
    room = manager.room(tour)
    ((need),) = room["needs"]
    assert (need["numbers"], need["name"]) == ([1, 2], "Rosa Pons")
    assert need["asked"][:2] == ["coconut", "One wheelchair"]
    assert need["asked"][-1].startswith("A birthday")
    assert "coconut" in room["guests"][0]["asks"].values()
    assert manager.press(tour)["outcome"] == "refused"
    started = manager.submit(manager.get(tour), "/steps", kind="start")
    assert started.path == f"{tour}/walk"
    assert "Started:" in manager.get(tour).words
    assert manager.press(tour)["outcome"] == "poured"
    assert manager.room(tour)["guests"][0]["count"] == 1
    (head,) = re.findall(r'id="head-([\d-]+)" data-look="may_be_served"', manager.get(tour).body.decode())
    (code,) = {link for link in manager.get(f"{tour}?head={head}").links if link.endswith("/1/own-page")}
    (own,) = [link for link in manager.get(code).links if link.startswith("/g/")]
    assert "Blanco de la casa" in Screen(manager.base).get(own).words
    finished = manager.submit(manager.get(tour), "/steps", kind="finish")
    assert "Finished:" in finished.words


def the_closing_counts_the_pour_and_is_signed(manager: Screen) -> None:
    closing = manager.get("/staff/closing")
    assert "Pours served 1" in closing.words
    signed = manager.submit(closing, "/closing", pin=PIN, incomplete="yes")
    assert signed.status == 200, signed.words
    assert "Revision 1, signed by Rosa" in signed.words


def another_tour_is_changed_canceled_and_brought_back(manager: Screen) -> None:
    form, chosen = _tour_form(manager)
    tour = saved(manager, form, **chosen, places="4")
    changed = saved(manager, manager.get(f"{tour.path}/change"), places="6")
    assert "0 of 6 seats booked" in changed.words
    canceled = manager.submit(manager.get(f"{tour.path}/change"), "/cancel", why="weather")
    assert "canceled weather" in canceled.words
    assert "Add a booking" in saved_back(manager, canceled).words


def test_a_house_receives_its_first_guests(house: House, manager: Screen) -> None:
    the_house_is_made_ready(manager)
    tour = a_tour_is_added_by_form(manager)
    a_booking_is_added_by_form(manager, tour)
    guests_are_checked_in_and_served_while_the_tour_is_under_way(manager, tour)
    the_closing_counts_the_pour_and_is_signed(manager)
    another_tour_is_changed_canceled_and_brought_back(manager)
