"""The manual is true: its pages have twins, and every command, setting and address in it exists."""

from __future__ import annotations

import re
import shlex
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from werkzeug.routing import Map

from kiosk.app import create_app
from kiosk.cli import cli
from kiosk.site.content.manual import ManualPage, law_text, read_manual
from kiosk.site.content.stops import STOP
from kiosk.site.images import SETTINGS as IMAGES
from kiosk.site.policy import HOURS, LIMIT, SERVICE
from kiosk.site.shipped import shipped
from kiosk.site.site_toml import COLOURS, LANGUAGE, MEASURE, OPENING, ROOM, ROUTE, SITE, TICKET, TRUSTED_PROXY
from kiosk.store.engine import open_store
from tests.actors import small_site
from tests.databases import sqlite_url

HOME = "/staff/manual"
MANUAL = shipped("content") / "manual"
LANGUAGES = ("en", "es")
NAMES = tuple(read_manual("en", HOME))
SOURCES = {
    (name, code): (MANUAL / f"{name}.{code}.md").read_text("utf-8") for name in NAMES for code in LANGUAGES
}
PAGES = {(name, code): read_manual(code, HOME)[name] for name in NAMES for code in LANGUAGES}
FENCE = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)

every_page = pytest.mark.parametrize("page", PAGES.values(), ids=lambda page: f"{page.name}.{page.language}")


def source(page: ManualPage) -> str:
    """Return the Markdown of a page."""
    return SOURCES[page.name, page.language]


def typed(page: ManualPage) -> list[str]:
    """Return every piece of a page that is set as code, a line of a block as one piece."""
    blocks = [line for _, block in FENCE.findall(source(page)) for line in block.splitlines()]
    return [*blocks, *re.findall(r"`([^`\n]+)`", FENCE.sub("", source(page)))]


def test_every_file_of_the_manual_is_a_page_of_its_list() -> None:
    files = {path.name for path in MANUAL.glob("*.md")}
    assert files == {f"{name}.{code}.md" for name in NAMES for code in LANGUAGES}


@pytest.mark.parametrize("name", NAMES)
def test_twins_have_the_same_headings_and_examples(name: str) -> None:
    english, spanish = PAGES[name, "en"], PAGES[name, "es"]
    assert [one.level for one in english.headings] == [one.level for one in spanish.headings]
    assert FENCE.findall(source(english)) == FENCE.findall(source(spanish))
    assert english.title != spanish.title


@pytest.mark.parametrize("name", NAMES)
def test_twins_name_the_same_keys_files_and_addresses(name: str) -> None:
    names = [
        Counter(one for one in typed(PAGES[name, code]) if re.fullmatch(r"[\w./:-]+", one)).keys()
        for code in LANGUAGES
    ]
    only_spanish_explains = {"tue", "wed", "thu", "fri", "sat"} if name == "rules" else set()
    assert {one.replace(".en.md", "") for one in names[0]} == {
        one.replace(".es.md", "") for one in names[1] - only_spanish_explains
    }


@every_page
def test_every_command_and_option_exists(page: ManualPage) -> None:
    for line in typed(page):
        if not (at := re.search(r"(?:^|/|=)kiosk (?=[a-z])(.*)", line)):
            assert not line.startswith("--") or line.split()[0] in every_option(), line
            continue
        name, *rest = shlex.split(at.group(1))
        options = {word for parameter in cli.commands[name].params for word in parameter.opts}
        assert {word for word in rest if word.startswith("--")} <= options, line


def every_option() -> set[str]:
    """Return the options of all commands."""
    return {word for one in cli.commands.values() for parameter in one.params for word in parameter.opts}


def test_every_command_is_explained() -> None:
    named = {
        word for page in PAGES.values() for one in typed(page) for word in re.findall(r"kiosk (\w+)", one)
    }
    assert named >= set(cli.commands)


@every_page
def test_every_setting_that_is_named_exists(page: ManualPage) -> None:
    tables = (SITE, LANGUAGE, MEASURE, ROOM, ROUTE, OPENING, COLOURS, IMAGES, TRUSTED_PROXY)
    tables += (SERVICE, HOURS, LIMIT, STOP, TICKET)
    known = {setting.name for table in tables for setting in table}
    given = {match.group(1) for one in typed(page) if (match := re.match(r"(\w+) = ", one))}
    alone = {one for one in typed(page) if re.fullmatch(r"[a-z]+(_[a-z]+)+", one)}
    columns = alone if page.name == "records" else set()  # held to the code by the test of that page
    assert given | alone - columns <= known


@pytest.fixture(scope="module")
def addresses(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Map]:
    """The addresses of the whole application."""
    store = open_store(sqlite_url(sqlite_template))
    yield create_app(small_site(tmp_path_factory.mktemp("manual")), store).url_map
    store.close()


@every_page
def test_every_link_leads_somewhere(page: ManualPage, addresses: Map) -> None:
    for target in re.findall(r'href="([^"]+)"', page.summary + page.html):
        address, _, part = target.partition("#")
        endpoint, values = addresses.bind("localhost").match(address or f"{HOME}/{page.name}")
        if endpoint == "web.manual_page":
            linked = read_manual(page.language, HOME)[values["page"]]
            assert not part or part in {one.id for one in linked.headings}, target
        if endpoint == "web.law_example":
            assert law_text(values["law"])


@every_page
def test_every_link_to_another_page_stays_in_the_language(page: ManualPage) -> None:
    assert set(re.findall(r"\(\w[\w-]*\.(\w+)\.md", source(page))) <= {page.language}


@every_page
def test_every_address_set_as_code_exists(page: ManualPage, addresses: Map) -> None:
    known = {rule.rule for rule in addresses.iter_rules()}
    assert {one for one in typed(page) if one.startswith("/staff")} <= known


@every_page
def test_headings_have_ids_of_their_own_and_tables_names_of_their_own(page: ManualPage) -> None:
    ids = [one.id for one in page.headings]
    assert len(set(ids)) == len(ids)
    names = re.findall(r'role="region" aria-label="([^"]+)"', page.html)
    assert len(names) == page.html.count("<table>")
    assert len(set(names)) == len(names)
    assert "<th></th>" not in page.html


def test_links_between_files_lead_to_the_pages_on_the_screen() -> None:
    page = read_manual("es", "/here")["changelog"]
    assert 'href="/here/rules"' in page.html
    assert ".md" not in page.html
    assert 'href="/here/laws/kentucky"' in read_manual("es", "/here")["rules"].html


def test_a_language_without_a_manual_reads_the_english_one() -> None:
    assert read_manual("fr", HOME)["rules"].language == "en"


def test_only_an_example_of_a_law_is_read() -> None:
    assert law_text("../facts") is None
    assert law_text("nowhere") is None
