"""Pages of questions: `## id: Question?`, merged and dropped by their ids."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from kiosk.site.faults import Fault
from kiosk.site.grammar import parser
from kiosk.site.pages import Page, compile_page
from kiosk.words.catalogs import N_

_EXAMPLE = {"example": "## why-cut-heads: Why is the first part thrown away?"}


@dataclass(frozen=True, slots=True)
class Question:
    """One question with its answer, compiled as a page of its own."""

    id: str
    text: str
    page: Page


def split_questions(source: str, file: str, faults: list[Fault]) -> dict[str, Question]:
    """Return the questions of a file by id; anything else in it is a fault."""
    lines = source.split("\n")
    starts = [
        t.map[0] for t in parser().parse(source) if t.type == "heading_open" and t.tag == "h2" and t.map
    ]
    before = "\n".join(lines[: starts[0]] if starts else lines).strip()
    if before:
        first = before.splitlines()[0]
        faults.append(Fault(file, 1, "questions", first, N_("only questions such as {example}"), _EXAMPLE))
    found: dict[str, Question] = {}
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        page = compile_page("\n".join(lines[start:end]), file, faults, first_line=start + 1)
        heading = page.headings[0]
        if not heading.id or not re.search(r"\?\W*$", heading.text) or heading.id in found:
            remedy = N_("a question with an id of its own such as {example}")
            faults.append(Fault(file, heading.line, "##", heading.text, remedy, _EXAMPLE))
            continue
        found[heading.id] = Question(heading.id, heading.text, page)
    return found


def joined(questions: Mapping[str, Question], drop: Collection[str]) -> Page:
    """Join questions to one page, without those dropped."""
    whole = Page()
    for question in questions.values():
        if question.id not in drop:
            whole = whole.followed_by(question.page)
    return whole
