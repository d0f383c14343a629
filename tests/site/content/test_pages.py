from __future__ import annotations

from collections import Counter
from html import escape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.site.content.grammar import KINDS, Slot
from kiosk.site.content.pages import Page, compile_page, has_digit
from kiosk.site.faults import Fault


def compiled(source: str) -> tuple[Page, list[Fault]]:
    faults: list[Fault] = []
    return compile_page(source, "guest.en.md", faults), faults


def rendered(source: str) -> str:
    page, faults = compiled(source)
    assert not faults, [fault.sentence() for fault in faults]
    return page.render(lambda slot: f"<b>{slot.name}</b>")


def test_a_page_joins_its_strings_and_its_slots() -> None:
    assert rendered("Now *{figure:casks_filled|none}* rest.") == (
        "<p>Now <em><b>casks_filled</b></em> rest.</p>\n"
    )


def test_a_page_is_strings_and_slots_only() -> None:
    page, _ = compiled("One {figure:a|x} and {figure:a|x}.")
    slot = Slot("figure", "a", "", "x")
    assert page.parts == ("<p>One ", slot, " and ", slot, ".</p>\n")


def test_escaped_braces_are_braces() -> None:
    assert rendered(r"A \{figure:x\} brace.") == "<p>A {figure:x} brace.</p>\n"


def test_each_alone_leaves_no_paragraph_round_it() -> None:
    assert rendered("Before.\n\n{each:wash_day|none}\n\nAfter.") == (
        "<p>Before.</p>\n<b>wash_day</b>\n<p>After.</p>\n"
    )


def test_a_slot_stands_in_a_table_with_its_bar_escaped() -> None:
    assert "<td><b>x</b></td>" in rendered("| a | b |\n|---|---|\n| c | {figure:x\\|rests} |")


def test_html_in_content_is_text() -> None:
    assert "<script" not in rendered('<script>alert("x")</script> and <img src=x onerror=y>')


def test_a_dangerous_address_is_no_link() -> None:
    assert "href" not in rendered("[a](javascript:alert) [b](data:text/html,x)")


def test_lowered_and_raised_digits_write_names_not_numbers() -> None:
    assert rendered("CO₂ gathers low.") == "<p>CO₂ gathers low.</p>\n"
    assert not has_digit("kg/m³")


def test_a_numbered_list_needs_no_digit_in_prose() -> None:
    assert rendered("1. First\n2. Then").startswith("<ol>")


def test_headings_carry_their_ids() -> None:
    page, faults = compiled("## why-cut: Why?\n\nText.\n\n### Heads and tails: a tale\n")
    assert not faults
    assert [(h.level, h.id, h.text) for h in page.headings] == [
        (2, "why-cut", "Why?"),
        (3, "", "Heads and tails: a tale"),
    ]
    assert page.parts == ('<h2 id="why-cut">Why?</h2>\n<p>Text.</p>\n<h3>Heads and tails: a tale</h3>\n',)


def test_slots_are_counted_under_their_heading() -> None:
    page, _ = compiled("{fact:a}\n\n## One\n\n{fact:b} {fact:b}\n\n## Two\n")
    assert page.slots_by_section() == [Counter({"{fact:a}": 1}), Counter({"{fact:b}": 2}), Counter()]


def test_a_page_after_a_page_keeps_its_sections() -> None:
    first, second = compiled("## One\n\n{fact:a}")[0], compiled("{fact:c}\n\n## Two\n\n{fact:b}")[0]
    both = first.followed_by(second)
    assert [h.text for h in both.headings] == ["One", "Two"]
    assert both.slots_by_section() == [
        Counter(),
        Counter({"{fact:a}": 1, "{fact:c}": 1}),
        Counter({"{fact:b}": 1}),
    ]


@pytest.mark.parametrize(
    ("source", "line", "key", "found", "remedy"),
    [
        ("Text.\n\nWe keep 40 casks.", 3, "text", "40", "numbers in a slot"),
        ("One\ntwo\n**three 3**", 3, "text", "3", "numbers in a slot"),
        ("About ½ of it", 1, "text", "½", "numbers in a slot"),
        ("Arabic ٣ too", 1, "text", "٣", "numbers in a slot"),
        ("&#52;0 casks", 1, "text", "40", "numbers in a slot"),
        ("`40` in code", 1, "text", "40", "numbers in a slot"),
        ("```\na\n40\n```", 2, "text", "40", "numbers in a slot"),
        ("## The 3 cuts", 1, "text", "3", "numbers in a slot"),
        ("{figure:a|about 40\ncasks}", 1, "text", "40", "numbers in a slot"),
        ("Text.\n\n## Now {figure:a|x}", 3, "a", "{figure:a|x}", "not in headings or links"),
        ("a\n[see {figure:a|x}](/b)", 2, "a", "{figure:a|x}", "not in headings or links"),
        ("[see](/{figure:a})", 1, "](", "/{figure:a}", "not in a link's address"),
        ("`{figure:a}`", 1, "`", "{figure:a}", "not in code"),
        ("    {figure:a}", 1, "`", "{figure:a}", "not in code"),
        ("a\nb {each:a|x}", 2, "a", "{each:a|x}", "alone in its paragraph"),
        ("{each:a|x} {each:b|x}", 1, "a", "{each:a|x}", "alone in its paragraph"),
        ("a {figur:a} b", 1, "{", "{figur:a}", "a slot such as"),
        ("a\nb { b", 2, "{", "{ b", "a slot such as"),
        ("a } b", 1, "{", "}", "a slot such as"),
        ("# Still house", 1, "#", "Still house", "headings from ## down"),
        ("![a pot](pot.png)", 1, "![", "a pot", "without a picture"),
        ("## a: One\n\n## a: Two", 3, "a", "a: Two", "only once"),
    ],
)
def test_each_break_of_the_grammar_is_told_with_its_line(
    source: str, line: int, key: str, found: str, remedy: str
) -> None:
    _, faults = compiled(source)
    fault = faults[0]
    assert (fault.file, fault.line, fault.key, fault.found) == ("guest.en.md", line, key, found)
    assert remedy in fault.sentence()


def test_every_fault_of_a_page_is_told_at_once() -> None:
    _, faults = compiled("5 casks.\n\n## {fact:a}\n\n`{fact:b}` and }\n")
    assert [fault.line for fault in faults] == [1, 3, 5, 5]


@given(st.text())
def test_no_text_set_into_a_page_can_open_a_slot(said: str) -> None:
    """What fills a slot is joined, never parsed: nothing of it is asked for again."""
    page, _ = compiled("Asked: {figure:a|x}. And {fact:b}.")
    asked: list[Slot] = []

    def fill(slot: Slot) -> str:
        asked.append(slot)
        return escape(f"{{fact:b}} {said}")

    html = page.render(fill)
    assert [slot.name for slot in asked] == ["a", "b"]
    assert html.count(escape(f"{{fact:b}} {said}")) >= 2


_PIECES = st.sampled_from(
    [
        "{",
        "}",
        "{figure:a|x}",
        "{fact:b}",
        "{each:c|x}",
        "\\{",
        "`",
        "*",
        "[",
        "](/x)",
        "#",
        "\n",
        "<b>",
        "&#123;",
        "a",
    ]
)


@given(st.lists(_PIECES | st.text(max_size=5), max_size=25).map("".join))
def test_whatever_stands_in_a_file_each_slot_of_its_page_was_written_there(source: str) -> None:
    """Slots in the parts are those the walk saw, each of a known kind, and no tag of the file survives."""
    page, _ = compiled(source)
    slots = [part for part in page.parts if isinstance(part, Slot)]
    assert slots == [placed.slot for placed in page.placed]
    assert all(slot.kind in KINDS and slot.same_in_twins[:-1] in source for slot in slots)
    assert "<b>" not in page.render(lambda slot: "")
