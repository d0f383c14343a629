"""The questions of a stop: each a question that opens on its answer."""

from __future__ import annotations

import re
from dataclasses import dataclass

from markupsafe import Markup

# Headings come from our own compiler; what fills a slot is escaped and holds none.
_HEADING = re.compile(r'<h2 id="([a-z0-9-]+)">(.*?)</h2>', re.DOTALL)
_ANY_ID = re.compile(r'(<h[2-6] id="[a-z0-9-]+)"')


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and its answer as HTML, by the id that both languages share."""

    id: str
    question: Markup
    answer: Markup


def asked(html: Markup) -> list[Asked]:
    """Return the questions of a page of questions that was filled in for a reader."""
    _, *pieces = _HEADING.split(str(html))
    triples = zip(pieces[::3], pieces[1::3], pieces[2::3], strict=True)
    return [Asked(name, Markup(question), Markup(answer.strip())) for name, question, answer in triples]


def apart(html: Markup, language: str) -> Markup:
    """Return a page whose headings' ids end in its language, so that twins can share a screen."""
    return Markup(_ANY_ID.sub(rf'\1-{language}"', str(html)))
