"""The tasting room worked with a thumb, by two tablets at once, and with the network away."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, Route, expect
from sqlalchemy import func, select

from kiosk.site.shipped import shipped
from kiosk.store.engine import Store, open_store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import pours, refusals
from kiosk.words.catalogs import load_words
from tests.browser.conftest import PHONE, TABLET, Open, Served, served_with_guests, sign_in
from tests.browser.test_access import cut_off, violations

pytestmark = pytest.mark.browser

WORDS = {
    "en": load_words(shipped("locales"), "en", "en_US"),
    "es": load_words(shipped("locales"), "es", "es_PR"),
}
LATE_MS = 1500
THUMB_PX = 44
LANDSCAPE = (1180, 820)
BOTH = pytest.mark.parametrize(("language", "size"), [("en", PHONE), ("es", TABLET)])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo of this module's own, whose every party has come; each test has guests of its own in it."""
    with served_with_guests(tmp_path_factory.mktemp("room") / "site") as one:
        yield one


@pytest.fixture
def store(demo: Served) -> Iterator[Store]:
    opened = open_store(demo.database)
    yield opened
    opened.close()


def at_the_table(page: Page, demo: Served, language: str, tour: int, name: str = "Ilan") -> list[Locator]:
    """Sign in, open a tour's room and return its seats."""
    sign_in(page, demo, f"tablet {new_key()[:6]}", name, language)
    page.goto(f"/staff/tours/{tour}/tasting")
    seats = page.locator("li.seat")
    expect(seats.first).to_be_visible()
    return [seats.nth(n) for n in range(seats.count())]


def sheet_of(page: Page, seat: Locator) -> Locator:
    """Open a guest's sheet."""
    seat.locator(".seat-who").click()
    sheet = page.locator("dialog.sheet")
    expect(sheet).to_be_visible()
    return sheet


def check(page: Page, *seats: Locator) -> None:
    """Check the ID of guests by their sheets, and wait until the controls that this changed take presses."""
    for seat in seats:
        if seat.get_attribute("data-look") == "not_checked":
            sheet_of(page, seat).locator("[data-control=id_check]").click()
            expect(seat).to_have_attribute("data-look", "may_be_served")
    settled(page)


def settled(page: Page) -> None:
    expect(page.locator("[data-sent], [data-fresh]")).to_have_count(0, timeout=10_000)


def press(seat: Locator) -> None:
    seat.locator(".seat-pour").click()


def count(seat: Locator) -> int:
    return int(re.findall(r"\d+", seat.locator(".seat-dots-line .unseen").inner_text())[0])


def has(seat: Locator, n: int) -> None:
    expect(seat.locator(".seat-dots-line .unseen")).to_have_text(re.compile(rf"^{n} "), timeout=10_000)


def guest_of(seat: Locator) -> int:
    return int(seat.get_attribute("data-guest") or 0)


def recorded(store: Store, *guests: int) -> int:
    """Return how many pours the ledger has for some guests."""
    with store.read() as session:
        return session.scalar(select(func.count()).where(pours.c.guest_id.in_(guests))) or 0


@BOTH
def test_a_seat_answers_a_press_before_the_server_does(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seat = at_the_table(page, demo, language, 3)[0 if language == "en" else 1]
    check(page, seat)

    def late(route: Route) -> None:
        page.wait_for_timeout(LATE_MS)
        route.continue_()

    page.route("**/staff/intake", late)
    # Asked in the very turn of the press: no answer of any server can have come by then.
    at_once = seat.evaluate(
        """seat => {
            seat.querySelector(".seat-pour").click();
            const counted = seat.querySelector(".seat-dots-line .unseen").textContent;
            return [seat.hasAttribute("data-sent"), counted];
        }"""
    )
    assert (at_once[0], at_once[1][:2]) == (True, "1 ")
    settled(page)
    assert count(seat) == 1


def test_a_press_that_waits_is_shown_so_after_a_reload_and_pours_once(
    open_page: Open, demo: Served, store: Store
) -> None:
    page = open_page("en", PHONE)
    seat = at_the_table(page, demo, "en", 3)[4]
    check(page, seat)
    page.route("**/staff/intake", lambda route: route.fulfill(status=503, json={"error": "busy"}))
    press(seat)
    has(seat, 1)
    expect(page.locator("[data-alone]")).to_contain_text("Not sent yet: 1")
    page.reload()
    has(seat, 1)
    page.unroute("**/staff/intake")
    settled(page)
    page.reload()
    has(seat, 1)
    assert recorded(store, guest_of(seat)) == 1


@BOTH
def test_a_double_press_pours_once(
    open_page: Open, demo: Served, store: Store, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seat = at_the_table(page, demo, language, 3)[5 if language == "en" else 6]
    check(page, seat)
    seat.locator(".seat-pour").dblclick(delay=40)
    settled(page)
    expect(page.locator("dialog.sheet")).not_to_be_visible()
    assert (count(seat), recorded(store, guest_of(seat))) == (1, 1)


@BOTH
def test_another_glass_is_poured_from_the_sheet(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seat = at_the_table(page, demo, language, 3)[2 if language == "en" else 3]
    check(page, seat)
    sheet = sheet_of(page, seat)
    sheet.locator("[data-control=other_pour]").click()
    sheet.locator(".sheet-panel button").nth(1).click()
    expect(sheet).not_to_be_visible()
    has(seat, 1)


@BOTH
def test_a_glass_is_taken_back_with_its_reason_and_another_moved(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seats = (
        at_the_table(page, demo, language, 3)[7:9]
        if language == "en"
        else at_the_table(page, demo, language, 3)[9:11]
    )
    check(page, *seats)
    press(seats[0])
    settled(page)
    sheet_of(page, seats[0]).locator(".sheet-main button").first.click()
    has(seats[0], 2)
    settled(page)
    sheet = sheet_of(page, seats[0])
    sheet.locator("[data-control=take_back]").click()
    sheet.locator("select[name=reason]").select_option("spilled")
    sheet.locator(".sheet-panel button").click()
    has(seats[0], 1)
    sheet = sheet_of(page, seats[0])
    sheet.locator("[data-control=move_pour]").click()
    sheet.locator("select[name=guest]").select_option(str(guest_of(seats[1])))
    sheet.locator("select[name=reason]").select_option("wrong_guest")
    sheet.locator(".sheet-panel button").click()
    has(seats[1], 1)
    has(seats[0], 0)


@BOTH
def test_stop_serving_asks_again_by_another_button(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seat = at_the_table(page, demo, language, 3)[11 if language == "en" else 12]
    check(page, seat)
    sheet = sheet_of(page, seat)
    sheet.locator("[data-control=service_stopped]").dblclick(delay=40)
    assert seat.get_attribute("data-look") == "may_be_served"
    sheet.locator("[data-control=service_stopped]").click()
    sheet.locator(".sheet-panel button").click()
    expect(seat).to_have_attribute("data-look", "service_stopped")
    settled(page)
    press(seat)
    expect(page.locator("dialog.sheet")).to_be_visible()  # what is stopped is never poured by a press


@BOTH
def test_a_round_pours_for_all_who_may_and_is_taken_back_by_one_press(
    open_page: Open, demo: Served, store: Store, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    seats = at_the_table(page, demo, language, 4)
    mine = seats[:3] if language == "en" else seats[4:7]
    check(page, mine[0], mine[1])
    sheet_of(page, mine[2]).locator("[data-control=no_alcohol]").click()
    expect(mine[2]).to_have_attribute("data-look", "no_alcohol")
    settled(page)
    before = [count(seat) for seat in seats]
    due = int(re.findall(r"\d+", page.locator("[data-control=round] b").inner_text())[0])
    page.locator("[data-control=round]").click()
    settled(page)
    assert sum(count(seat) for seat in seats) == sum(before) + due
    assert [count(seat) for seat in mine] == [1, 1, 1]  # the glass without alcohol is part of the round
    expect(page.locator(".bar-told")).to_contain_text(WORDS[language].gettext("Not now:"))
    page.locator("[data-control=undo]").click()
    settled(page)
    assert [count(seat) for seat in seats] == before


def test_two_tablets_with_a_stale_page_pour_a_round_once_and_ask(
    open_page: Open, demo: Served, store: Store
) -> None:
    first, second = open_page("en", TABLET), open_page("en", LANDSCAPE)
    mine, theirs = at_the_table(first, demo, "en", 1), at_the_table(second, demo, "en", 1, "Odalis")
    check(first, *mine)
    settled(second)
    second.route(
        "**/tasting/state", lambda route: route.fulfill(status=304)
    )  # it hears nothing of what comes now
    first.locator("[data-control=round]").click()
    settled(first)
    poured = recorded(store, *map(guest_of, mine))
    second.evaluate("document.querySelector('[data-control=round]').click()")
    expect(second.locator(".bar-asked")).to_be_visible(timeout=10_000)
    assert recorded(store, *map(guest_of, mine)) == poured
    second.unroute("**/tasting/state")
    second.locator(".bar-asked button").nth(1).click()
    for seat, same in zip(theirs, mine, strict=True):
        has(seat, count(same))  # it hears again within seconds


def test_an_entry_is_on_the_other_tablet_within_three_seconds(open_page: Open, demo: Served) -> None:
    first, second = open_page("en", TABLET), open_page("en", PHONE)
    seat = at_the_table(first, demo, "en", 3)[13]
    theirs = at_the_table(second, demo, "en", 3, "Odalis")[13]
    check(first, seat)
    press(seat)
    expect(theirs.locator(".seat-dots-line .unseen")).to_have_text("1 pour", timeout=3_000)


def test_alone_a_tablet_pours_by_what_is_left_and_nothing_is_lost_or_doubled_in_silence(
    open_page: Open, demo: Served, store: Store
) -> None:
    away, bar = open_page("en", TABLET), open_page("en", TABLET)
    seats = at_the_table(away, demo, "en", 3)[14:17]
    others = at_the_table(bar, demo, "en", 3, "Odalis")[14:17]
    check(away, *seats)
    settled(bar)
    away.context.set_offline(True)
    expect(away.locator("[data-alone]")).to_be_visible(timeout=10_000)
    press(seats[0])
    press(seats[1])
    has(seats[0], 1)
    press(others[1])  # the same sample for the same guest, by the tablet that is not away
    has(others[1], 1)
    away.context.set_offline(False)
    settled(away)
    has(seats[1], 2)  # the one of the other tablet too, once it is heard again
    guests = [guest_of(seat) for seat in seats]
    shown = [count(seat) for seat in seats]
    assert (recorded(store, *guests), shown) == (3, [1, 2, 0]), away.locator(".room-bar").inner_text()
    with store.read() as session:
        told = session.execute(
            select(pours.c.asked, pours.c.at < pours.c.recorded_at).where(pours.c.guest_id == guests[0])
        ).one()
        assert session.scalar(select(func.count()).where(refusals.c.guest_id.in_(guests))) == 0
    assert tuple(told) == (False, True)
    expect(others[1].locator(".doubt")).to_be_visible(timeout=10_000)
    assert others[0].locator(".doubt").count() == 0
    sheet_of(bar, others[1]).get_by_role("button", name="It was one glass").click()
    has(others[1], 1)
    expect(others[1].locator(".doubt")).to_have_count(0)


def test_alone_nothing_is_poured_beyond_what_is_left(open_page: Open, demo: Served, store: Store) -> None:
    page = open_page("en", TABLET)
    seat = at_the_table(page, demo, "en", 3)[17]
    check(page, seat)
    page.context.set_offline(True)
    expect(page.locator("[data-alone]")).to_be_visible(timeout=10_000)
    largest = "0.50 fl oz"
    for n in range(1, 4):
        sheet = sheet_of(page, seat)
        sheet.locator("[data-control=other_pour]").click()
        sheet.locator(".sheet-panel button", has_text=largest).first.click()
        has(seat, n)
    sheet = sheet_of(page, seat)
    sheet.locator("[data-control=other_pour]").click()
    strong = sheet.locator(".sheet-panel button", has_text=largest)
    expect(strong.first).to_be_disabled()
    page.keyboard.press("Escape")
    page.context.set_offline(False)
    settled(page)
    assert recorded(store, guest_of(seat)) == 3


@pytest.mark.parametrize(("size", "columns"), [(TABLET, 4), (LANDSCAPE, 6), (PHONE, 3)])
def test_the_seats_of_a_full_group_stand_on_one_screen(
    open_page: Open, demo: Served, size: tuple[int, int], columns: int
) -> None:
    page = open_page("en", size)
    at_the_table(page, demo, "en", 3)
    # As many as a full group: the seats of this one again and again.
    shown = 24 if size == PHONE else 22
    page.route("**/tasting/state", lambda route: _crowded(route, shown))
    page.reload()
    seats = page.locator("li.seat")
    expect(seats).to_have_count(shown)
    boxes = [seat.bounding_box() for seat in seats.all()]
    bar = page.locator(".room-bar").bounding_box()
    assert bar is not None
    assert len({round(box["x"]) for box in boxes if box}) == columns
    assert max(box["y"] + box["height"] for box in boxes if box) <= bar["y"] + 1
    for control in page.locator(".seat-who, .seat-pour, .flight button, .room-bar button").all():
        box = control.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= THUMB_PX
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def _crowded(route: Route, many: int) -> None:
    answer = route.fetch(headers={**route.request.headers, "if-none-match": ""})
    state = answer.json()
    guests = (state["guests"] * many)[:many]
    state["guests"] = [{**guest, "id": 10_000 + n, "number": n + 1} for n, guest in enumerate(guests)]
    route.fulfill(json=state, headers={"etag": '"crowded"'})


@pytest.mark.parametrize("scheme", ["light", "dark"])
@BOTH
def test_the_room_at_work_breaks_no_rule_and_is_no_wider_than_its_screen(
    open_page: Open, demo: Served, language: str, size: tuple[int, int], scheme: str
) -> None:
    page = open_page(language, size, color_scheme=scheme)
    seats = at_the_table(page, demo, language, 1)
    assert violations(page) == []
    assert cut_off(page) == []
    sheet = sheet_of(page, seats[0])
    for control in sheet.locator("[data-control][aria-expanded], [data-control=under_age]").all():
        control.click()
        assert violations(page) == []
        assert cut_off(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@BOTH
def test_turned_to_the_guest_the_screen_holds_one_sentence_in_their_language(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size, color_scheme="dark")
    seats = at_the_table(page, demo, language, 2)
    speaks = seats[0].locator("abbr").all_inner_texts()
    sheet_of(page, seats[0]).locator("a[href$='/turn']").click()
    expect(page.locator("html")).to_have_attribute("lang", speaks[0].lower() if speaks else language)
    assert page.locator("main").inner_text().strip() == page.locator("h1").inner_text().strip()
    assert page.locator("h1").evaluate("one => parseFloat(getComputedStyle(one).fontSize)") >= 28
    back = page.locator("footer a")
    box = back.bounding_box()
    assert box is not None
    assert box["height"] >= THUMB_PX
    assert box["y"] + box["height"] <= size[1]
    back.click()
    expect(page).to_have_url(re.compile(r"/staff/tours/2/tasting#guest-\d+$"))


@BOTH
def test_glasses_are_preset_a_guest_sits_down_and_the_rest_is_cleared(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tour = 1 if language == "en" else 2
    seat = at_the_table(page, demo, language, tour)[4 if language == "en" else 5]
    check(page, seat)
    number = seat.get_attribute("data-number")
    page.goto(f"/staff/tours/{tour}/preset-glasses")
    page.fill("#last", "3")
    page.locator("section.card button").click()
    seats = page.locator(".seat")
    expect(seats).to_have_count(3)
    seats.nth(1).locator("select").select_option(label=number)
    seats.nth(1).locator("button.strong").click()
    expect(seats).to_have_count(2)
    assert page.locator("html").evaluate("one => one.scrollWidth") <= size[0]
    page.locator("ul.room + form button").click()
    expect(seats).to_have_count(0)


def test_without_a_script_the_room_says_what_it_needs(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET, java_script_enabled=False)
    sign_in(page, demo, "tablet without scripts", "Ilan", "en", scripted=False)
    page.goto("/staff/tours/1/tasting")
    expect(page.locator("main")).to_contain_text("The room needs its script")
