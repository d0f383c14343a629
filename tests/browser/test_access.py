"""No page breaks a rule of WCAG 2.2 AA that axe-core can judge, nor runs wider than its screen."""

from __future__ import annotations

import io
from typing import Any

import pypdfium2 as pdfium
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from sqlalchemy import select

from kiosk.app import create_app
from kiosk.site.content.manual import read_manual
from kiosk.site.loading import load_site
from kiosk.stops.guest_link import guest_token
from kiosk.store.engine import open_store
from kiosk.store.tables.production import batches
from kiosk.store.tables.tours import guests
from tests.browser.conftest import PHONE, TABLET, WALL, Open, Served, sign_in
from tests.paper.reading import pictures, read_by_both

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
STAFF_PAGES = (
    "/staff/",
    "/staff/tours/1",
    "/staff/tours/1/tasting",
    "/staff/tours/1?head=1-1",
    "/staff/tours/1/tasting/28/turn",
    "/staff/tours/1/preset-glasses",
    "/staff/tours/1/walk",
    "/staff/tours/3/split",
    "/staff/tours/3/merge",
    "/staff/tours/3/shorten",
    "/staff/tours/pattern",
    "/staff/week",
    "/staff/days/2026-04-18",
    "/staff/setup",
    "/staff/walk-in",
    "/staff/bookings/new",
    "/staff/bookings/file",
    "/staff/feed",
    "/staff/house",
    "/staff/stops/mill/close/spraying",
    "/staff/stops",
    "/staff/stops/still-house",
    "/staff/stops/cask-store?day=9&month=6",
    "/staff/stops/tasting-room?language=both",
    "/staff/cards",
    "/staff/bottles",
    "/staff/bottles/open",
    "/staff/bottles/1",
    "/staff/closing",
    "/staff/flights",
    "/staff/flights/new",
    "/staff/flights/4?tour=2",
    "/staff/inspection",
    "/staff/records/",
    "/staff/records/new/regauge-weight",
    "/staff/records/new/run-start",
    "/staff/records/run_readings/1/void",
    "/staff/records/instruments",
    "/staff/runs/",
    "/staff/records/instruments/1",
    "/staff/held",
    "/staff/records/import",
    "/staff/bottles-behind/AN-02",
    "/staff/wall",
    "/staff/manual",
    "/staff/manual/parts",
    *(f"/staff/manual/{name}" for name in read_manual("en", "")),
    "/staff/approvals",
    "/staff/approvals/new",
    "/staff/rules",
    "/staff/devices",
    "/staff/people",
    "/staff/people/1",
    "/staff/permits",
    "/staff/sign-in",
    "/staff/enrol",
    "/staff/pin",
    "/staff/personal-data",
    "/staff/personal-data/1",
    "/staff/held/type-in",
    "/staff/tours/new",
    "/staff/tours/1/change",
    "/staff/tours/1/bookings/new",
    "/staff/tours/1/bookings/1",
    "/staff/records/names",
    "/staff/readings/instruments",
    "/staff/records/run_readings/1",
    "/staff/runs/1",
    "/staff/guests/{guest}/own-page",
)
NO_PAGES = (
    *(
        "/",
        "/b/<lot>",
        "/s/<slug>",
        "/health",
        "/house/<digest>.webp",
        "/language/<code>",
        "/look/<name>",
        "/robots.txt",
        "/site.css",
    ),
    "/calendar/<int:staff_id>/<mac>.ics",
    *("/static/<path:filename>", "/staff/closing.csv", "/staff/releases", "/staff/records/held"),
    *("/staff/releases/new", "/staff/tours/<int:tour_id>/mats", "/staff/manual/laws/<law>"),
    *(
        "/staff/readings/openapi.json",
        "/staff/wall.json",
        "/staff/tours/<int:tour_id>/tasting/state",
        "/staff/house/now",
        "/staff/tours/<int:tour_id>/walk/<part>",
    ),
)
"""Addresses that lead on, or answer no page for a person; papers end in `.pdf`."""
A_GUEST_PAGE_BYTES = 80_000


def guest_pages(demo: Served) -> list[str]:
    """Return the addresses of the guests' pages, every stop and product among them, `{}` for the language."""
    site = load_site(demo.folder, database=demo.database)
    store = open_store(demo.database)
    with store.read() as session:
        lots = session.scalars(select(batches.c.code).where(batches.c.kind == "lot").order_by(batches.c.id))
        newest = list(lots)[-1:]
    store.close()
    return [
        "/{}/",
        *(f"/{{}}/stops/{stop.slug}" for stop in site.route),
        "/{}/products",
        "/{}/prices",
        *(f"/{{}}/products/{name}" for name in site.products),
        *(f"/{{}}/bottles/{code}" for code in newest),
        "/{}/glossary",
        f"/g/{'A' * 32}",
    ]


def with_guest(demo: Served) -> list[str]:
    """Return the addresses that staff open, the last with the newest guest, and that guest's own page."""
    site = load_site(demo.folder, database=demo.database)
    store = open_store(demo.database)
    with store.read() as session:
        newest = select(guests.c.id).order_by(guests.c.day.desc(), guests.c.id).limit(1)
        guest = session.scalars(newest).one()
    store.close()
    pages = [page.format(guest=guest) for page in STAFF_PAGES]
    return [*pages, f"/g/{guest_token(site.secret, guest, 0)}"]


def violations(page: Any) -> list[str]:
    """Return what axe-core finds on the open page, one line each.

    It is looked at from its end, where a bar that stays within reach covers nothing.
    """
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}}).response["violations"]
    return [f"{one['id']}: {node['target']} {node['html'][:120]}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_no_page_has_a_violation(open_page: Open, demo: Served, language: str, scheme: str) -> None:
    page = open_page(language, PHONE, color_scheme=scheme)
    found = {}
    for address in (*guest_pages(demo), "/{}/nothing-here"):
        page.goto(address.format(language))
        found[page.url] = violations(page)
    page.goto("/staff/enrol")
    found[page.url] = violations(page)
    sign_in(page, demo, f"judge {language} {scheme}", "Marisol", language)
    for address in with_guest(demo):
        page.goto(address)
        found[page.url] = violations(page)
    assert {url: some for url, some in found.items() if some} == {}


@pytest.mark.parametrize("size", [PHONE, TABLET, WALL])
def test_no_page_is_wider_than_its_screen(open_page: Open, demo: Served, size: tuple[int, int]) -> None:
    page = open_page("es", size)
    sign_in(page, demo, f"screen {size[0]}", "Marisol", "es")
    wide = []
    for address in (*guest_pages(demo), *with_guest(demo)):
        page.goto(address.format("es"))
        width = page.evaluate("document.documentElement.scrollWidth")
        wide += [(address, width)] if width > size[0] else []
    assert wide == []


def test_no_page_is_wider_than_a_phone_with_its_text_doubled(open_page: Open, demo: Served) -> None:
    page = open_page("es", PHONE)
    sign_in(page, demo, "large text", "Marisol", "es")
    wide = []
    for address in (*guest_pages(demo), *with_guest(demo)):
        page.goto(address.format("es"))
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        width = page.evaluate("document.documentElement.scrollWidth")
        wide += [(address, width)] if width > PHONE[0] else []
    assert wide == []


@pytest.mark.parametrize("path", ["/es/", "/es/stops/still-house"])
def test_a_guest_page_is_light_and_asks_nobody_else(open_page: Open, demo: Served, path: str) -> None:
    page = open_page("es", PHONE)
    asked: list[Any] = []
    page.on("requestfinished", lambda request: asked.append(request))
    page.goto(path, wait_until="networkidle")
    sizes = {
        request.url: request.sizes()["responseBodySize"] for request in asked
    }  # as they came, compressed
    assert all(url.startswith(demo.base) for url in sizes)
    assert len(sizes) > 5
    assert any(url.endswith(".webp") for url in sizes)  # the mark of the house
    assert sum(sizes.values()) < A_GUEST_PAGE_BYTES, sizes


def test_every_page_of_the_house_is_judged(demo: Served) -> None:
    store = open_store(demo.database)
    app = create_app(load_site(demo.folder, database=demo.database), store)
    at = app.url_map.bind("localhost")
    addresses = [page.format("en").partition("?")[0] for page in (*guest_pages(demo), *with_guest(demo))]
    judged = {at.match(address, return_rule=True)[0].rule for address in addresses}
    rules = {rule.rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ())}
    store.close()
    assert {rule for rule in rules if not rule.endswith(".pdf")} - judged == set(NO_PAGES)


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_the_code_of_a_guests_page_is_read_from_the_screen_and_from_paper(
    open_page: Open, demo: Served, size: tuple[int, int]
) -> None:
    page = open_page("es", size)
    sign_in(page, demo, f"code {size[0]}", "Marisol", "es")
    *_, shown, own = with_guest(demo)
    page.goto(shown)
    screen = Image.open(io.BytesIO(page.screenshot()))
    (sheet,) = pictures(page.pdf(format="Letter"))
    address = (load_site(demo.folder).public_address or demo.base) + own
    assert read_by_both(screen) == read_by_both(sheet) == ([address], address)
    page.goto(own)
    assert page.locator("h1").inner_text()


def cut_off(page: Any) -> list[str]:
    """Return the texts of the open page that are cut off or stand beyond the edge of the screen."""
    return page.evaluate(
        """() => [...document.querySelectorAll("body *")].filter(one => {
            if (one.closest(".unseen, .skip, svg, .table-scroll, .tab-sheet")) return false;
            if (!one.textContent.trim()) return false;
            const box = one.getBoundingClientRect(), style = getComputedStyle(one);
            if (!box.width || style.clipPath !== "none") return false;
            const hides = style.overflowX !== "visible" && one.scrollWidth > one.clientWidth + 1;
            return hides || box.right > window.innerWidth + 1 || box.left < -1;
        }).map(one => one.tagName + " " + one.textContent.trim().slice(0, 60))"""
    )


@pytest.mark.parametrize("language", ["en", "es"])
def test_text_of_twice_the_size_loses_nothing_on_a_phone(
    open_page: Open, demo: Served, language: str
) -> None:
    page = open_page(language, PHONE)
    lost = {}
    for address in guest_pages(demo):
        page.goto(address.format(language))
        before = page.evaluate("parseFloat(getComputedStyle(document.querySelector('p')).fontSize)")
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        after = page.evaluate("parseFloat(getComputedStyle(document.querySelector('p')).fontSize)")
        assert after == pytest.approx(2 * before), "text must follow the reader's own size"
        lost[address] = cut_off(page)
    assert {address: some for address, some in lost.items() if some} == {}


OF_THE_TOUR_DAY = (
    "/staff/",
    "/staff/tours/1/walk",
    "/staff/tours/3",
    "/staff/tours/3?head=4-2",
    "/staff/flights",
)


@pytest.mark.parametrize("size", [PHONE, TABLET])
@pytest.mark.parametrize("language", ["en", "es"])
def test_text_of_twice_the_size_loses_nothing_on_the_pages_of_the_tour_day(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    sign_in(page, demo, f"large text {language} {size[0]}", "Marisol", language)
    lost = {}
    for address in OF_THE_TOUR_DAY:
        page.goto(address)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        lost[address] = cut_off(page)
    assert {address: some for address, some in lost.items() if some} == {}


def test_text_that_is_cut_off_is_found(open_page: Open, demo: Served) -> None:
    page = open_page("en", PHONE)
    page.goto("/en/products")
    assert cut_off(page) == []
    page.evaluate("document.querySelector('.hero .lead').style = 'white-space: nowrap; overflow: hidden'")
    assert [text[:7] for text in cut_off(page)] == ["P Each "]


def test_nothing_moves_for_whoever_asks_for_stillness(open_page: Open, demo: Served) -> None:
    page = open_page("en", PHONE, reduced_motion="reduce")
    for address in ("/en/", "/en/stops/still-house", "/en/products"):
        page.goto(address)
        moving = page.evaluate(
            """() => [...document.querySelectorAll("*")].filter(one => {
                const style = getComputedStyle(one);
                return style.animationName !== "none" || parseFloat(style.transitionDuration) > 0;
            }).length"""
        )
        assert moving == 0


def test_on_paper_every_question_is_answered_and_no_control_is_left(open_page: Open, demo: Served) -> None:
    page = open_page("es", TABLET)
    page.goto("/es/stops/still-house")
    page.emulate_media(media="print")
    answers = page.locator(".ask .fold .prose")
    assert answers.count() >= 8
    assert all(answers.nth(place).bounding_box()["height"] > 10 for place in range(answers.count()))
    assert page.locator("nav:visible, .button:visible, .choices:visible").count() == 0
    with pdfium.PdfDocument(page.pdf(format="Letter")) as paper:
        pages = [paper[place].get_textpage().get_text_range() for place in range(len(paper))]
    assert len(pages) <= 2
    assert "alambique" in pages[0]
