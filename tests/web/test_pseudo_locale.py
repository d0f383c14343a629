"""Every page spoken in a language that only has brackets: what stands outside them is no message.

Each message comes as ⟦message⟧. Of what is left on a page, content, the site's own texts, names from
the records, numbers, days and unit symbols are known; any other word was written into the page itself
and no translator will ever see it.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.support import NullTranslations
from markupsafe import Markup
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures.tours.closures import REASONS
from kiosk.production.forms.definitions import FORMS
from kiosk.production.records.kinds import LISTED
from kiosk.site.content.loading import Content, Slot
from kiosk.site.content.manual import read_manual
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.stops.guest_link import guest_token
from kiosk.store.engine import Store, open_store
from kiosk.store.tables import production, staff, tasting, tours
from kiosk.store.tables.shared import display_names
from kiosk.tours.walk.page import plan_steps
from kiosk.words.catalogs import Words
from tests.actors import Clock, Screen, running
from tests.databases import DEMO_NOW as NOW
from tests.databases import DemoCopy

OPENED, CLOSED = "⟦", "⟧"
LANGUAGES = ("en", "es")

# No pages of their own: files, choices that lead back, codes that lead on, paper.
NO_PAGES = {
    "/",
    "/b/<lot>",
    "/s/<slug>",
    "/health",
    "/language/<code>",
    "/look/<name>",
    "/robots.txt",
    "/static/<path:filename>",
    "/staff/tours/<int:tour_id>/tasting/state",
    "/staff/releases",  # redirects to the present addresses
    "/staff/records/held",
    "/staff/releases/new",
    "/staff/tours/<int:tour_id>/mats",
    "/staff/manual/laws/<law>",
    "/staff/tours/<int:tour_id>/walk/<part>",
}
FILES = (".pdf", ".csv", ".ics", ".json", ".css", ".webp")
# Symbols are the same in every language; the last is how staff find a record ("gauge:1842").
SYMBOLS = re.compile(r"https?://\S+|\b(?:mL|L|g|kg|m|AM|PM)\b|°(?:C|F|Bx)\b|\b[a-z_]+:\d+\b")
READ_OUT = ("aria-label", "alt", "title", "placeholder")
# What stands in such a piece is typed as it is in every language: the name of a file, of a column.
_TYPED = re.compile(r"<code>[^<]*</code>")
_TERM = re.compile(r'<a class="term"[^>]*>([^<]*)</a>')
GROUPED_BY = 2  # letters: so a place in a text is not tried against thousands of names
_WORD = re.compile(r"[^\W\d_]{2,}")


class Brackets(NullTranslations):
    """A catalog that translates each message into itself within brackets."""

    def gettext(self, message: str) -> str:
        """Return a message in brackets."""
        return f"{OPENED}{message}{CLOSED}"

    def ngettext(self, msgid1: str, msgid2: str, num: int) -> str:
        """Return the English form for a number in brackets."""
        return self.gettext(msgid1 if num == 1 else msgid2)


class Seen(HTMLParser):
    """Collects what a reader of a page sees or hears, piece by piece."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take what is read out of a tag."""
        self._hidden += tag in ("script", "style")
        self.pieces += [value for name, value in attrs if name in READ_OUT and value]

    def handle_endtag(self, tag: str) -> None:
        """Leave what is not shown."""
        self._hidden -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        """Take a text."""
        if not self._hidden:
            self.pieces.append(data)


def seen(html: str) -> list[str]:
    """Return the texts of a page, whole where a word of the trade leads to its meaning."""
    parser = Seen()
    parser.feed(_TYPED.sub(" ", _TERM.sub(r"\1", html)))
    return [re.sub(r"\s+", " ", piece).strip() for piece in parser.pieces]


def outside(text: str) -> str:
    """Return what stands outside the brackets, which may stand in one another."""
    left, depth = [], 0
    for letter in text:
        depth += letter == OPENED
        left.append(" " if depth else letter)
        depth -= letter == CLOSED
    return "".join(left)


def unknown_words(html: str, known: re.Pattern[str], content: Collection[str] = ()) -> list[str]:
    """Return the texts of a page that hold a word which is no message, no content and no name."""
    left = (unknown_part(text, known) for text in seen(html) if text not in content)
    return [text for text in left if text]


@cache
def unknown_part(text: str, known: re.Pattern[str]) -> str:
    """Return what is left of a text without its messages, names and symbols, "" where that has no word."""
    left = outside(text)
    if _WORD.search(left):
        left = SYMBOLS.sub(" ", known.sub(" ", left))
    return left.strip() if _WORD.search(left) else ""


def pattern(texts: list[str]) -> re.Pattern[str]:
    """Return a pattern of these texts as whole words, the longest first; grouped by their first letters."""
    wanted = sorted({re.sub(r"\s+", " ", text).strip() for text in texts} - {""}, key=len, reverse=True)
    groups = defaultdict(list)
    for text in wanted:
        groups[text[:GROUPED_BY]].append(re.escape(text[GROUPED_BY:]))
    alternatives = (f"{re.escape(first)}(?:{'|'.join(rest)})" for first, rest in groups.items())
    return re.compile(r"(?<!\w)(?:" + "|".join(alternatives) + r")(?!\w)")


def content_texts(content: Content) -> Iterator[str]:
    """Return every text that the content brings, whole as it stands between two tags of its page."""
    for stop in content.stops.values():
        for (_name, language), page in stop.pages.items():
            html = page.render(lambda slot: slot.name if slot.kind == "said" else "<br>")
            yield from seen(html)
            yield from (step.name for step in plan_steps(Markup(html), language))
            yield from (slot.otherwise for slot in page.parts if isinstance(slot, Slot))
    for term in content.glossary.values():
        yield from (*term.names.values(), *term.meanings.values())
    for chapter in (one for code in LANGUAGES for one in read_manual(code, "").values()):
        yield from (*seen(chapter.summary), *seen(chapter.html))
        yield from (heading.text for heading in chapter.headings)


def content_names(content: Content) -> Iterator[str]:
    """Return the names and sources of the content that stand within other texts."""
    for stop in content.stops.values():
        yield from stop.names.values()
    for fact in content.facts.values():
        yield from (fact.source, fact.unit, fact.per)
    yield from (chapter.title for code in LANGUAGES for chapter in read_manual(code, "").values())


def site_texts(site: Site) -> Iterator[str]:
    """Return every text of the site's own files; the ids of rooms and products are on no page."""
    yield from (name for names in site.room_names.values() for name in names.values())
    yield from (name for ticket in site.tickets for name in ticket.names.values())
    yield from (site.name, *(line for lines in site.label_lines.values() for line in lines))
    for product in site.products.values():
        yield from (*product.names.values(), *product.legal_class.values())
        yield from (name.removeprefix(f"{site.name} ") for name in product.names.values())
        yield from product.notes.values()
    for recipe in site.recipes.values():
        yield from (*recipe.names.values(), *recipe.glass.values())
    yield from (measure.id for measure in site.measures)
    yield from (site.policy.basis, *(limit.basis for limit in site.policy.limits))
    yield from (language.code.upper() for language in site.languages)


def recorded_texts(store: Store) -> Iterator[str]:
    """Return every name that the records bring onto a page; codes of what has a name are on none."""
    columns = (
        *(staff.staff.c.name, staff.devices.c.name, tours.tours.c.letter, production.batches.c.code),
        *(tours.bookings.c.lead_name, tours.bookings.c.notes, tours.bookings.c.ticket),
        *(production.stores.c.code, production.stores.c.name, production.casks.c.code),
        production.casks.c.wood,
        *(production.received.c.what, production.received.c.origin, production.received.c.document),
        tours.guests.c.first_name,
        *(tasting.approvals.c.code, tasting.bottles.c.code, production.instruments.c.code),
        *(tasting.approvals.c.document, tasting.approvals.c.formula),
    )
    with store.read() as session:
        for column in columns:
            yield from (text for text in session.scalars(select(column)) if text)
        for named in (tours.flights.c.names, display_names.c.names):
            yield from (text for names in session.scalars(select(named)) for text in names.values())
        for vessel in session.execute(select(production.vessels)).mappings():
            yield from (text for text in vessel.values() if isinstance(text, str))


@dataclass
class Bracketed:
    """The demo in brackets: a manager's screen, a guest's, and every text that is no message."""

    site: Site
    store: Store
    manager: Screen
    guest: Screen
    bar: Screen
    known: re.Pattern[str]
    content: frozenset[str]

    def unknown(self, html: str) -> list[str]:
        """Return the texts of a page that no translator would see."""
        return unknown_words(html, self.known, self.content)

    def addresses(self, language: str) -> list[str]:
        """Return an address of every page of the house, and one for each stop and product."""
        rules = {
            rule.rule
            for rule in self.guest.app.url_map.iter_rules()
            if "GET" in (rule.methods or ()) and rule.rule not in NO_PAGES and not rule.rule.endswith(FILES)
        }
        return sorted(address for rule in rules for address in self._filled(rule, language))

    def _records(self, session: Session) -> list[tuple[str, int]]:
        """Return a record of every table that the demo holds any of."""
        first = [(name, session.scalar(select(kind.table.c.id).limit(1))) for name, kind in LISTED.items()]
        return [(name, row_id) for name, row_id in first if row_id is not None]

    def _filled(self, rule: str, language: str) -> list[str]:
        with self.store.read() as session:
            lot = session.scalars(select(production.batches.c.code).where(production.batches.c.kind == "lot"))
            guest_id, tour_id = session.execute(select(tours.guests.c.id, tours.guests.c.tour_id)).first()
            booking_id = session.scalar(select(tours.guests.c.booking_id))
            run_id = session.scalar(select(func.max(production.runs.c.id)))
            bottle_id = session.scalars(select(tasting.bottles.c.id)).first()
            places = {
                "<lang>": [language],
                "<day>": ["2026-06-16"],
                "<reason>": list(REASONS),
                "<slug>": [stop.slug for stop in self.site.route],
                "<product_id>": list(self.site.products),
                "<lot>": list(lot),
                "<token>": [guest_token(self.site.secret, guest_id, 0), "A" * 32],
                "<int:tour_id>": [str(tour_id)],
                "<int:guest_id>": [str(guest_id)],
                "<int:booking_id>": [str(booking_id)],
                "<int:bottle_id>": [str(bottle_id)],
                "<int:person_id>": ["1"],
                "<int:flight_id>": [str(n) for n in session.scalars(select(tours.flights.c.id))],
                "<table>/<int:row_id>": [f"{table}/{row_id}" for table, row_id in self._records(session)],
                "<int:instrument_id>": ["1"],
                "<int:run_id>": [str(run_id)],
                "<name>": list(FORMS),
                "<page>": list(read_manual(language, "")),
            }
        found = [rule]
        for place, values in places.items():
            if place in rule:
                found = [address.replace(place, value) for address in found for value in values]
        assert not any("<" in address for address in found), f"{rule}: say above what stands in its places"
        return found


@pytest.fixture(scope="module")
def bracketed(tmp_path_factory: pytest.TempPathFactory, prepared_demo: DemoCopy) -> Iterator[Bracketed]:
    """The whole demo, each of whose messages comes in brackets."""
    folder = Path(tmp_path_factory.mktemp("pseudo")) / "site"
    prepared = prepared_demo(folder)
    site = load_site(prepared.folder, database=prepared.database)
    store = open_store(site.database)
    app = running(site, store, Clock(NOW))
    house = app.extensions["kiosk"]
    words = {code: replace(one, translations=Brackets()) for code, one in house.words.items()}
    app.extensions["kiosk"] = replace(house, words=words)
    with store.read() as session:
        people = {row.name: row.id for row in session.execute(select(staff.staff))}
    lines = [line.split() for line in prepared.sign_ins if re.search(r"\s\d{6}\s", line)]
    pins = {name: pin for name, pin, *_ in lines}
    screens = []
    for role in ("manager", "bar"):
        name = next(name for name, _, *roles in lines if role in " ".join(roles))
        screen = Screen(app)
        screen.get("/language/en")
        screen.enrol(store, site, NOW, name=f"screen of {name}")
        assert screen.sign_in(people[name], pins[name]).status_code == 302
        screens.append(screen)
    names = [*content_names(house.content), *site_texts(site), *recorded_texts(store), *cldr_texts(words)]
    content = frozenset(content_texts(house.content))
    yield Bracketed(site, store, screens[0], Screen(app), screens[1], pattern(names), content)
    store.close()


def cldr_texts(words: dict[str, Words]) -> Iterator[str]:
    """Return the names of months, days and languages, which the locale brings, and what joins them."""
    yield "de"
    for one in words.values():
        for spoken in words.values():
            name = spoken.locale.get_language_name(one.language) or ""
            yield from (name, name.capitalize())
        for names in (one.locale.months, one.locale.days):
            for kind in names.values():
                for width in kind.values():
                    yield from (name for name in width.values() if len(name) > 1)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_page_says_a_word_that_is_no_message_and_no_name(bracketed: Bracketed, language: str) -> None:
    found = {}
    for screen in (bracketed.manager, bracketed.guest):
        screen.get(f"/language/{language}")
    for address in bracketed.addresses(language):
        screen = bracketed.manager if address.startswith("/staff") else bracketed.guest
        answer = screen.get(address)
        assert answer.status_code in (200, 302), address
        found[address] = bracketed.unknown(answer.text)
    assert len(found) > 40
    assert {address: texts for address, texts in found.items() if texts} == {}


def test_no_refusal_says_a_word_that_is_no_message(bracketed: Bracketed) -> None:
    manager, bar, guest = bracketed.manager, bracketed.bar, bracketed.guest
    for screen in (manager, bar, guest):
        screen.get("/language/en")
    answers = [
        guest.get("/en/stops/attic"),
        guest.get("/en/bottles/none"),
        guest.get("/staff/"),
        manager.get("/staff/tours/9999"),
        bar.get("/staff/people"),
        manager.client.post("/staff/people", data={}),
        manager.post("/staff/people", name="", pin="1"),
        manager.post("/staff/sign-in", person=1, pin="111111"),
        guest.post("/staff/enrol", code="wrong"),
        manager.post("/staff/devices", name="", kind="spoon"),
        manager.post("/staff/tours/1/marks", page="/staff/tours/1", kind="spoon"),
    ]
    assert [answer.status_code for answer in answers if answer.status_code < 400] == []
    found = {f"{a.request.path} {a.status_code}": bracketed.unknown(a.text) for a in answers}
    assert {address: texts for address, texts in found.items() if texts} == {}


@pytest.mark.parametrize(
    ("html", "left"),
    [
        ("<p>⟦Good ⟦day⟧ to you⟧, Ana: 12 kg</p>", []),
        ("<p>⟦Good day⟧ forgotten</p>", ["forgotten"]),
        ('<a title="Forgotten too">⟦here⟧</a>', ["Forgotten too"]),
        ("<script>var forgotten;</script>", []),
    ],
)
def test_what_stands_outside_is_found(html: str, left: list[str]) -> None:
    assert unknown_words(html, pattern(["Ana"])) == left
