"""All printed text goes through one escape."""

from __future__ import annotations

import pytest

from kiosk.paper import text


@pytest.mark.parametrize(
    ("value", "escaped"),
    [
        ("Ana <b>", "Ana &lt;b&gt;"),
        ('<img src="/etc/hosts"/>', "&lt;img src=&quot;/etc/hosts&quot;/&gt;"),
        ("caña & ron", "caña &amp; ron"),
        ("&lt;", "&amp;lt;"),
        (12, "12"),
    ],
)
def test_marks_of_markup_become_letters(value: object, escaped: str) -> None:
    assert text(value) == escaped
