from __future__ import annotations

import pytest

from kiosk.site.content.grammar import Slot, match_slot, mentions_slot


@pytest.mark.parametrize(
    ("text", "slot"),
    [
        ("{figure:casks_filled}", Slot("figure", "casks_filled")),
        ("{figure:wash_day@tank-1}", Slot("figure", "wash_day", "tank-1")),
        ("{figure:run_now|the still\n  rests}", Slot("figure", "run_now", "", "the still rests")),
        ("{each:wash_day|no wash}", Slot("each", "wash_day", "", "no wash")),
        ("{fact:us_standard_drink}", Slot("fact", "us_standard_drink")),
        ("{said:1987}", Slot("said", "1987")),
        ("{said:24/7}", Slot("said", "24/7")),
    ],
)
def test_a_slot_is_read_whole(text: str, slot: Slot) -> None:
    assert match_slot(f"ab{text}cd", 2) == (slot, 2 + len(text))


@pytest.mark.parametrize(
    "text",
    [
        "{figure:}",
        "{figure:Casks}",
        "{figure:1cask}",
        "{figur:casks_filled}",
        "{figure: casks_filled}",
        "{figure:casks_filled|}",
        "{figure:casks_filled| }",
        "{figure:casks_filled|a|b}",
        "{figure:casks_filled|{fact:x}}",
        "{figure:casks_filled@}",
        "{said:}",
        "{said: 1987}",
        "{casks_filled}",
        "{",
    ],
)
def test_anything_else_is_no_slot(text: str) -> None:
    assert match_slot(text, 0) is None


def test_twins_share_kind_name_and_key_but_not_the_words() -> None:
    english = Slot("figure", "wash_day", "tank-1", "no wash")
    spanish = Slot("figure", "wash_day", "tank-1", "no hay mosto")
    assert english.same_in_twins == spanish.same_in_twins == "{figure:wash_day@tank-1}"


def test_code_that_tries_to_hold_a_slot_is_noticed() -> None:
    assert mentions_slot("a { figure : x }")
    assert not mentions_slot("{x: y}")


def test_a_part_is_named_by_the_letter_of_its_plate() -> None:
    assert match_slot("{part:B}", 0) == (Slot("part", "B"), 8)
    assert match_slot("{part:b}", 0) is None
    assert mentions_slot("`{part:B}`")
