from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.figures.figure import Spec, Unit
from kiosk.site.content.grammar import Slot
from kiosk.site.content.loading import Content, load_content, read_content
from kiosk.site.content.pages import compile_page
from kiosk.site.content.twins import check_slots
from kiosk.site.faults import Fault, SiteFaults
from kiosk.site.loading import load_site
from kiosk.site.settings import RouteStop
from kiosk.site.shipped import shipped
from kiosk.words.figures import FIGURE_WORDS

ROUTE = tuple(RouteStop(slug, 40, 1, 10) for slug in ("still-house", "cask-store", "tasting-room"))
LANGUAGES = ("en", "es")

Write = Callable[..., None]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a file of the site's own content for a stop, in both languages unless told otherwise."""

    def write(
        name: str, source: str, stop: str = "still-house", languages: tuple[str, ...] = LANGUAGES
    ) -> None:
        folder = tmp_path / "content" / "stops" / stop
        folder.mkdir(parents=True, exist_ok=True)
        for language in languages if name != "stop.toml" else ("",):
            file = f"{name}.{language}.md" if language else name
            (folder / file).write_text(source, encoding="utf-8")

    return write


def read(
    folder: Path, figures: set[str] | None = None, route: tuple[RouteStop, ...] = ROUTE
) -> tuple[Content, list[str]]:
    faults: list[Fault] = []
    content = read_content(folder, LANGUAGES, route, figures, faults)
    return content, [fault.sentence() for fault in faults]


def html(content: Content, page: str, language: str, stop: str = "still-house") -> str:
    return content.stops[stop].pages[page, language].render(lambda slot: slot.same_in_twins)


def test_what_ships_keeps_the_grammar(tmp_path: Path) -> None:
    content, faults = read(tmp_path)
    assert not faults
    assert list(content.stops) == [step.slug for step in ROUTE]
    assert all(
        (page, code) in stop.pages
        for stop in content.stops.values()
        for page in ("guest", "guide", "safety")
        for code in LANGUAGES
    )


def test_a_site_loads_its_content_by_its_own_languages_and_route(folder: Path) -> None:
    content = load_content(load_site(folder))
    assert content.stops["still-house"].names == {"en": "Still house", "es": "Casa de alambiques"}
    assert content.stops["still-house"].phones == "at the door"


def test_faults_of_content_stop_a_site_from_loading(folder: Path) -> None:
    own = folder / "content" / "stops" / "still-house"
    own.mkdir(parents=True)
    for code in LANGUAGES:
        (own / f"guest.{code}.md").write_text("We have 2 pots.\n", encoding="utf-8")
    with pytest.raises(SiteFaults) as raised:
        load_content(load_site(folder))
    assert [fault.file for fault in raised.value.faults] == [
        f"content/stops/still-house/guest.{code}.md" for code in LANGUAGES
    ]


@pytest.mark.parametrize("page", ["guest", "guide"])
def test_the_sites_own_page_replaces_the_shipped_one(tmp_path: Path, write: Write, page: str) -> None:
    write(page, "Our own words.\n")
    content, faults = read(tmp_path)
    assert not faults
    assert html(content, page, "es") == "<p>Our own words.</p>\n"
    assert content.stops["still-house"].pages[page, "es"].file == f"content/stops/still-house/{page}.es.md"


def test_the_sites_own_safety_stands_after_the_shipped_one(tmp_path: Path, write: Write) -> None:
    before, _ = read(tmp_path)
    write("safety", "Mind the low beam.\n")
    after, faults = read(tmp_path)
    assert not faults
    assert html(after, "safety", "en") == html(before, "safety", "en") + "<p>Mind the low beam.</p>\n"


def test_questions_are_merged_by_id_and_dropped_by_id(tmp_path: Path, write: Write) -> None:
    shipped_ids = _ids(read(tmp_path)[0])
    first, second, *_ = shipped_ids
    write("questions", f"## {second}: Ours?\n\nOur answer.\n\n## our-own: New?\n\nYes.\n")
    write("stop.toml", f'drop = ["{first}"]\n')
    content, faults = read(tmp_path)
    assert not faults
    assert _ids(content) == [*shipped_ids[1:], "our-own"]
    assert "<p>Our answer.</p>" in html(content, "questions", "en")


def _ids(content: Content) -> list[str]:
    return [heading.id for heading in content.stops["still-house"].pages["questions", "en"].headings]


def test_stop_settings_are_merged_by_key_and_names_by_language(tmp_path: Path, write: Write) -> None:
    write("stop.toml", 'steps = 7\n[names]\nen = "The pots"\n')
    before = read(tmp_path / "elsewhere")[0].stops["still-house"]
    stop = read(tmp_path)[0].stops["still-house"]
    assert stop.steps == 7
    assert stop.names == {"en": "The pots", "es": before.names["es"]}
    assert (stop.phones, stop.minutes, stop.holds) == (before.phones, before.minutes, before.holds)


def test_a_figure_of_a_stop_that_nobody_computes_is_a_fault(tmp_path: Path, write: Write) -> None:
    write("stop.toml", 'figures = ["run_abv_now", "run_abv_then"]\n')
    assert "run_abv_now" in read(tmp_path)[0].stops["still-house"].figures
    known = set(FIGURE_WORDS)
    _, faults = read(tmp_path, figures=known)
    assert faults == [
        "content/stops/still-house/stop.toml: figures: found run_abv_then. "
        "Allowed: a known name, such as run_abv_now."
    ]


def test_facts_are_merged_by_name(tmp_path: Path, write: Write) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "content" / "facts.toml").write_text(
        '[still_charge]\nvalue = 600\nunit = "L"\nsource = "the plate on the pot"\nstatus = "house"\n',
        encoding="utf-8",
    )
    write("guest", "A charge is {fact:still_charge}.\n")
    content, faults = read(tmp_path)
    assert not faults
    assert content.facts["still_charge"].value == 600
    assert "us_standard_drink" in content.facts


NEW = RouteStop("garden", 10, 1, 10)
GARDEN = """\
phones = "yes"
steps = 0
seats = true
noise = false
minutes = 10
least_minutes = 5
may_be_dropped = true
holds = 20
[names]
en = "Garden"
es = "Huerto"
"""


def test_a_new_stop_brings_its_settings_and_three_pages(tmp_path: Path, write: Write) -> None:
    _, faults = read(tmp_path, route=(NEW,))
    assert sorted(faults) == sorted(
        [
            "content/stops/garden/stop.toml: stop.toml is missing. Needed: a file of this name.",
            *(
                f"content/stops/garden/{page}.{code}.md: {page} is missing. "
                "Needed: a page in each of the site's languages: en, es."
                for page in ("guest", "guide", "safety")
                for code in LANGUAGES
            ),
        ]
    )
    write("stop.toml", GARDEN, "garden")
    for page in ("guest", "guide", "safety"):
        write(page, "Words.\n", "garden")
    content, faults = read(tmp_path, route=(NEW,))
    assert not faults
    assert list(content.stops) == ["garden"]


@pytest.mark.parametrize("page", ["guest", "guide", "safety", "questions"])
def test_an_override_is_in_all_languages_or_in_none(tmp_path: Path, write: Write, page: str) -> None:
    write(page, "## a-b: Why?\n\nSo.\n", languages=("en",))
    _, faults = read(tmp_path)
    assert any(
        f"content/stops/still-house/{page}.es.md: {page} is missing. Needed: a page in each" in told
        for told in faults
    )


@pytest.mark.parametrize(
    ("english", "spanish", "told"),
    [
        (
            "## One\n",
            "One\n",
            "## is missing. Needed: the same headings as in content/stops/still-house/guest.en.md",
        ),
        ("## One\n", "### Uno\n", "guest.es.md, line 1: ##: found ### Uno. Allowed: the same headings as in"),
        ("One\n", "Uno\n\n## Dos\n", "guest.es.md, line 3: ##: found ## Dos"),
        ("## a: One\n", "## b: Uno\n", "guest.es.md, line 1: ##: found ## Uno"),
        (
            "## One\n\n{fact:us_standard_drink}\n",
            "## Uno\n\nNada.\n",
            "guest.es.md, line 1: {}: found -. Allowed: the same slots as in content/stops/still-house/"
            "guest.en.md under this heading: {fact:us_standard_drink}.",
        ),
        (
            "{figure:a|x}\n\n## One\n\n{figure:b|x}\n",
            "{figure:b|y}\n\n## Uno\n\n{figure:a|y}\n",
            "guest.es.md, line 3: {}: found {figure:a}. Allowed: the same slots",
        ),
        ("{figure:a|x} {figure:a|x}\n", "{figure:a|y}\n", "found {figure:a}. Allowed: the same slots"),
        ("In {said:1987}.\n", "En {said:1978}.\n", "found {said:1978}. Allowed: the same slots"),
    ],
)
def test_twins_that_differ_are_told(
    tmp_path: Path, write: Write, english: str, spanish: str, told: str
) -> None:
    write("guest", english, languages=("en",))
    write("guest", spanish, languages=("es",))
    _, faults = read(tmp_path)
    assert any(told in sentence for sentence in faults), faults


def test_an_unknown_figure_is_told_with_the_nearest_name(tmp_path: Path, write: Write) -> None:
    write("guest", "Text.\n\n{figure:cask_filled|none}\n")
    figures = {slot.name for slot in _figures(read(tmp_path / "elsewhere")[0])}
    _, faults = read(tmp_path, figures)
    assert faults[0] == (
        "content/stops/still-house/guest.en.md, line 3: cask_filled: found {figure:cask_filled}. "
        "Allowed: a known name, such as casks_filled, cask_fills_mean, cask_oldest."
    )
    assert not read(tmp_path, None)[1], "without names the check is skipped"


def _figures(content: Content) -> list[Slot]:
    pages = [page for stop in content.stops.values() for page in stop.pages.values()]
    return [placed.slot for page in pages for placed in page.placed if placed.slot.kind in ("figure", "each")]


def test_an_unknown_fact_is_told(tmp_path: Path, write: Write) -> None:
    write("guide", "{fact:us_standard_drinks}\n")
    _, faults = read(tmp_path)
    assert "Allowed: a known name, such as us_standard_drink" in faults[0]


@pytest.mark.parametrize(
    ("page", "needed"), [("guest", True), ("safety", True), ("questions", True), ("guide", False)]
)
def test_where_guests_read_a_figure_has_words_for_when_it_is_missing(
    tmp_path: Path, write: Write, page: str, needed: bool
) -> None:
    write(page, "## a-b: Why?\n\nNow {figure:casks_filled}.\n")
    _, faults = read(tmp_path)
    told = [sentence for sentence in faults if "after a bar: {figure:casks_filled|...}" in sentence]
    assert len(told) == (2 if needed else 0)
    assert all("line 3: casks_filled" in sentence for sentence in told)


@pytest.mark.parametrize(
    ("source", "told"),
    [
        (
            "Words first.\n\n## a: Why?\n",
            "line 1: questions: found Words first. Allowed: only questions such as",
        ),
        ("## Why?\n", "line 1: ##: found Why?. Allowed: a question with an id of its own"),
        ("## a: Why?\n\nSo.\n\n## b: Because\n", "line 5: ##: found Because. Allowed: a question"),
        ("## a: Why?\n\n## a: How?\n", "line 3: ##: found How?. Allowed: a question with an id of its own"),
        ("## a: Why?\n\nSo.\n\nFor 5 reasons.\n", "line 5: text: found 5"),
    ],
)
def test_a_page_of_questions_holds_questions_with_ids(
    tmp_path: Path, write: Write, source: str, told: str
) -> None:
    write("questions", source)
    _, faults = read(tmp_path)
    assert any(told in sentence for sentence in faults), faults


def test_dropping_an_unknown_question_is_told(tmp_path: Path, write: Write) -> None:
    write("stop.toml", 'drop = ["why-not"]\n')
    _, faults = read(tmp_path)
    assert len(faults) == 1
    assert "drop: found why-not. Allowed: ids of this stop's questions:" in faults[0]


def test_a_file_that_nothing_reads_is_told(tmp_path: Path, write: Write) -> None:
    write("gest", "Words.\n", languages=("en",))
    _, faults = read(tmp_path)
    assert faults[0].startswith(
        "content/stops/still-house/gest.en.md: still-house: found gest.en.md. Allowed: only"
    )


def test_every_stop_that_ships_is_known_by_the_grammar(tmp_path: Path) -> None:
    """Also those that no demo route names."""
    slugs = sorted(path.name for path in (shipped("content") / "stops").iterdir())
    content, faults = read(tmp_path, route=tuple(RouteStop(slug, 60, 1, 1) for slug in slugs))
    assert not faults
    assert sorted(content.stops) == slugs


CASKS = Spec("casks_filled", Unit.COUNT, 0, 3600)
WASH = Spec("wash_day", Unit.DAY, 0, 3600, of="tank")
LOSS = Spec("cask_loss", Unit.SHARE, 1, 3600, of="cask")


@pytest.mark.parametrize(
    ("slot", "told"),
    [
        ("{figure:casks_filled}", ""),
        (
            "{figure:casks_filled@oak}",
            "Allowed: the plain slot {figure:casks_filled}: this figure has one value.",
        ),
        ("{each:casks_filled}", "Allowed: the plain slot {figure:casks_filled}: this figure has one value."),
        ("{each:wash_day}", ""),
        ("{figure:wash_day@tank-1}", ""),
        (
            "{figure:wash_day}",
            "Allowed: a slot that says which tank, such as {figure:wash_day@...}, or an each slot.",
        ),
        ("{figure:cask_loss@c-12}", ""),
        ("{each:cask_loss}", "Allowed: one cask only, such as {figure:cask_loss@...}."),
    ],
)
def test_a_figure_of_one_thing_is_asked_for_as_one(slot: str, told: str) -> None:
    faults: list[Fault] = []
    page = compile_page(slot, "guide.en.md", faults)
    specs = {spec.name: spec for spec in (CASKS, WASH, LOSS)}
    check_slots({("guide", "en"): page}, specs, (), faults)
    assert [fault.sentence().partition("Allowed: ")[2] for fault in faults] == ([told[9:]] if told else [])


def test_a_page_that_is_no_text_is_told(tmp_path: Path, write: Write) -> None:
    write("guest", "Words.\n")
    (tmp_path / "content" / "stops" / "still-house" / "guest.es.md").write_bytes(b"\xff\xfe\x00W")
    _, faults = read(tmp_path)
    assert faults[0].startswith("content/stops/still-house/guest.es.md: guest.es.md: found 'utf-8")
    assert faults[0].endswith("Allowed: a text file in UTF-8.")


def test_a_site_names_its_ways_out_without_writing_the_whole_guide_page(write: Write, tmp_path: Path) -> None:
    write("help", "## help: Ways out\n\nThe green door.\n")
    content, faults = read(tmp_path)
    assert faults == []
    for language in LANGUAGES:
        page = html(content, "guide", language)
        assert page.index("<h2") < page.index("The green door.")
        assert page.count("Ways out") == 1
        headings = [heading.id for heading in content.stops["still-house"].pages["guide", language].headings]
        assert headings == ["plan", "talk", "hazards", "figures", "say", "help"]


def test_ways_out_in_one_language_only_are_a_fault(write: Write, tmp_path: Path) -> None:
    write("help", "## help: Ways out\n\nThe green door.\n", languages=("en",))
    _, faults = read(tmp_path)
    assert len(faults) == 1
    assert "help.es.md" in faults[0]
