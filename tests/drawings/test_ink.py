"""The few shapes: numbers, merged paths, groups, names that are escaped."""

from __future__ import annotations

import doctest

from kiosk.drawings import ink, levels
from tests.drawings.reading import parse, points


def test_the_examples_hold() -> None:
    for module in (ink, levels):
        tried = doctest.testmod(module)
        assert tried.attempted > 0
        assert tried.failed == 0


def test_neighbours_of_one_ink_become_one_path_but_not_those_with_a_rim() -> None:
    assert ink.shapes(("k", "M0 0Z"), ("k", "M1 1Z"), ("c", "M2 2Z")).count("<path") == 2
    assert ink.shapes(("k h", "M0 0Z"), ("k h", "M1 1Z")).count("<path") == 2


def test_a_mirrored_group_looks_the_other_way() -> None:
    body = ink.group(ink.polygon("k", (0, 0), (10, 0), (10, 5)), at=(100, 50), scale=0.5, mirror=True)
    drawing = ink.svg((0, 0, 200, 100), body, kind="x")
    assert [(x, y) for _, x, y in points(drawing)] == [(100, 50), (95, 50), (95, 52.5)]


def test_words_and_labels_are_escaped() -> None:
    drawing = ink.svg((0, 0, 1, 1), ink.text("k num", 0, 0, "<b>&", 4), kind="x", label='"<&')
    root = parse(drawing)
    assert root.attrib["aria-label"] == '"<&'
    assert root[0].text == "<b>&"
