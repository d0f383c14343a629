"""Compiles a page of content once: Markdown to a tuple of HTML strings and slots.

`compile_page` reads the source, notes every fault with its line, and never raises;
`Page.render` joins the parts with the values of the moment. A page of questions is
split at its headings (`## id: Question?`), so that questions are merged and dropped by id.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from urllib.parse import unquote

import nh3
from markdown_it import MarkdownIt
from markdown_it.token import Token

from kiosk.site.content.grammar import BAD_BRACE_TOKEN, SLOT_TOKEN, Slot, mentions_slot, parser
from kiosk.site.faults import Fault
from kiosk.words.catalogs import N_

EXAMPLE = {"example": "{figure:casks_filled|no cask is filled yet}", "escaped": r"\{"}
_HEADING_ID = re.compile(r"([a-z][a-z0-9]*(?:-[a-z0-9]+)*): +(?=\S)")
_TAGS = {
    *("p", "h2", "h3", "h4", "h5", "h6", "ul", "ol", "li", "em", "strong", "a", "blockquote"),
    *("hr", "br", "code", "pre", "table", "thead", "tbody", "tr", "th", "td"),
}
_HEADINGS = ("h2", "h3", "h4", "h5", "h6")
_ATTRIBUTES = {"a": {"href", "title"}, "ol": {"start"}, **{h: {"id"} for h in _HEADINGS}}


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: its level (2 to 6), its id ("" when it has none), text and line."""

    level: int
    id: str
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Placed:
    """A slot with the number of its heading (0 before the first) and its line."""

    slot: Slot
    section: int
    line: int


@dataclass(frozen=True, slots=True)
class Page:
    """A compiled page in one language."""

    parts: tuple[str | Slot, ...] = ()
    headings: tuple[Heading, ...] = ()
    placed: tuple[Placed, ...] = ()
    file: str = ""

    def render(self, fill: Callable[[Slot], str]) -> str:
        """Return the page as HTML; `fill` returns HTML-safe text for each slot."""
        return "".join(part if isinstance(part, str) else fill(part) for part in self.parts)

    def slots_by_section(self) -> list[Counter[str]]:
        """Return the slots under each heading, counted, which must be the same in every language."""
        counts = [Counter[str]() for _ in range(len(self.headings) + 1)]
        for placed in self.placed:
            counts[placed.section][placed.slot.same_in_twins] += 1
        return counts

    def followed_by(self, other: Page) -> Page:
        """Return this page with another one after it."""
        shift = len(self.headings)
        moved = tuple(Placed(p.slot, p.section + shift, p.line) for p in other.placed)
        parts, headings = self.parts + other.parts, self.headings + other.headings
        return Page(parts, headings, self.placed + moved, self.file or other.file)


def compile_page(source: str, file: str, faults: list[Fault], first_line: int = 1) -> Page:
    """Return the compiled Markdown of a page; each breach of the grammar is added to `faults`."""
    tokens = _markdown().parse(source)
    walk = _Walk(file, first_line, faults)
    walk.blocks(tokens)
    mark = "slot" + blake2b(source.encode(), digest_size=16).hexdigest()
    html = _markdown().renderer.render(tokens, _markdown().options, {"mark": mark})
    clean = clean_html(html)
    slots = iter(walk.placed)
    pieces = re.split(f"({mark})", clean)
    parts = tuple(next(slots).slot if piece == mark else piece for piece in pieces if piece)
    return Page(parts, tuple(walk.headings), tuple(walk.placed), file)


def clean_html(html: str) -> str:
    """Return rendered Markdown with only the tags, attributes and kinds of links that a page may have."""
    return nh3.clean(
        html, tags=_TAGS, attributes=_ATTRIBUTES, url_schemes={"https", "mailto", "tel"}, link_rel="noopener"
    )


def has_digit(text: str) -> bool:
    """Return whether text has a digit; raised and lowered digits (CO₂, m³) do not count."""
    return any(c.isdecimal() or unicodedata.decomposition(c).startswith("<fraction>") for c in text)


class _Walk:
    """Goes through the tokens of a page once and collects slots, headings and faults."""

    def __init__(self, file: str, first_line: int, faults: list[Fault]) -> None:
        self.file = file
        self.first_line = first_line
        self.faults = faults
        self.headings: list[Heading] = []
        self.placed: list[Placed] = []

    def blocks(self, tokens: list[Token]) -> None:
        for place, token in enumerate(tokens):
            line = self.first_line + (token.map[0] if token.map else 0)
            if token.type in ("fence", "code_block"):
                self._code(token.content, line)
            elif token.type == "inline":
                before = tokens[place - 1]
                if before.type == "heading_open":
                    self._heading(before, token, line)
                self._inline(token, line, in_heading=before.type == "heading_open")
                if _is_each_alone(token) and before.type == "paragraph_open":
                    before.hidden = tokens[place + 1].hidden = True

    def _heading(self, opening: Token, inline: Token, line: int) -> None:
        level = int(opening.tag[1])
        if level == 1:
            remedy = N_("headings from ## down; the page's title is the stop's name")
            self._note(line, "#", inline.content, remedy)
        first = inline.children[0] if inline.children else None
        match = _HEADING_ID.match(first.content) if first is not None and first.type == "text" else None
        name = match.group(1) if match else ""
        if match and first is not None:
            first.content = first.content[match.end() :]
            opening.attrSet("id", name)
            if any(known.id == name for known in self.headings):
                self._note(line, name, inline.content, N_("each heading's id only once on a page"))
        text = "".join(child.content for child in inline.children or ())
        self.headings.append(Heading(level, name, text, line))

    def _inline(self, inline: Token, line: int, *, in_heading: bool) -> None:
        in_link = False
        for token in inline.children or ():
            if token.type in ("link_open", "link_close"):
                in_link = token.type == "link_open"
                self._address(token, line)
            elif token.type == SLOT_TOKEN:
                self._slot(token, inline, line, barred=in_heading or in_link)
            else:
                self._text(token, line)
            line += token.type in ("softbreak", "hardbreak") or token.content.count("\n")

    def _slot(self, token: Token, inline: Token, line: int, *, barred: bool) -> None:
        slot: Slot = token.meta["slot"]
        self.placed.append(Placed(slot, len(self.headings), line))
        if barred:
            remedy = N_("slots in plain text only, not in headings or links")
            self._note(line, slot.name, token.content, remedy)
        if slot.kind == "each" and not _is_each_alone(inline):
            self._note(line, slot.name, token.content, N_("an each slot alone in its paragraph"))
        self._digits(slot.otherwise, line)

    def _text(self, token: Token, line: int) -> None:
        if token.type == BAD_BRACE_TOKEN:
            remedy = N_("a slot such as {example}, or {escaped} for a brace")
            self._note(line, "{", token.content, remedy)
        elif token.type == "image":
            self._note(line, "![", token.content, N_("words alone, without a picture"))
        elif token.type == "code_inline":
            self._code(token.content, line)
        else:
            self._digits(token.content, line)

    def _code(self, text: str, line: int) -> None:
        if mentions_slot(text):
            self._note(line, "`", text.strip(), N_("slots in plain text only, not in code"))
        self._digits(text, line)

    def _address(self, token: Token, line: int) -> None:
        address = unquote(str(token.attrs.get("href", "")))
        if "{" in address:
            self._note(line, "](", address, N_("slots in plain text only, not in a link's address"))

    def _digits(self, text: str, line: int) -> None:
        for row, part in enumerate(text.split("\n")):
            if has_digit(part):
                remedy = N_("numbers in a slot only, such as {example}, or written as words")
                self._note(line + row, "text", _near_digit(part), remedy)

    def _note(self, line: int, key: str, found: str, allowed: str) -> None:
        self.faults.append(Fault(self.file, line, key, found, allowed, EXAMPLE))


def _is_each_alone(inline: Token) -> bool:
    children = inline.children or []
    return len(children) == 1 and children[0].type == SLOT_TOKEN and children[0].meta["slot"].kind == "each"


def _near_digit(text: str) -> str:
    words: Iterator[str] = (word for word in text.split() if has_digit(word))
    return next(words, text.strip())


@cache
def _markdown() -> MarkdownIt:
    markdown = parser()
    markdown.add_render_rule(SLOT_TOKEN, _render_slot)
    markdown.add_render_rule(BAD_BRACE_TOKEN, _render_nothing)
    return markdown


def _render_slot(self: object, tokens: list[Token], place: int, options: object, env: dict[str, str]) -> str:
    return env["mark"]


def _render_nothing(self: object, tokens: list[Token], place: int, options: object, env: object) -> str:
    return ""


_EXAMPLE = {"example": "## why-cut-heads: Why is the first part thrown away?"}


@dataclass(frozen=True, slots=True)
class Question:
    """One question with its answer, compiled as a page of its own."""

    id: str
    text: str
    page: Page


def split_questions(source: str, file: str, faults: list[Fault]) -> dict[str, Question]:
    """Return the questions of a file by id; other text in it is a fault."""
    lines = source.split("\n")
    starts = [
        t.map[0] for t in parser().parse(source) if t.type == "heading_open" and t.tag == "h2" and t.map
    ]
    before = "\n".join(lines[: starts[0]] if starts else lines).strip()
    if before:
        first = before.splitlines()[0]
        faults.append(Fault(file, 1, "questions", first, N_("only questions such as {example}"), _EXAMPLE))
    questions: dict[str, Question] = {}
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        page = compile_page("\n".join(lines[start:end]), file, faults, first_line=start + 1)
        heading = page.headings[0]
        if not heading.id or not re.search(r"\?\W*$", heading.text) or heading.id in questions:
            remedy = N_("a question with an id of its own such as {example}")
            faults.append(Fault(file, heading.line, "##", heading.text, remedy, _EXAMPLE))
            continue
        questions[heading.id] = Question(heading.id, heading.text, page)
    return questions


def joined(questions: Mapping[str, Question], drop: Collection[str]) -> Page:
    """Return one page of the questions, without the dropped ones."""
    whole = Page()
    for question in questions.values():
        if question.id not in drop:
            whole = whole.followed_by(question.page)
    return whole
