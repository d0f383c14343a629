"""The grammar of slots: named places in a page that are filled with a value when it is read.

    {figure:casks_filled}                    a live figure: number and noun
    {figure:wash_day@tank-1}                 the figure of one tank, store or product
    {figure:run_proof_now|the still rests}   words for when it rests or is not known
    {each:wash_day|no wash is working}       all keys of a figure, alone in its paragraph
    {fact:us_standard_drink}                 a sourced constant of content/facts.toml
    {part:B}                                 the letter of a part of the stop's plate
    {said:1987}                              a literal number that measures nothing
    \\{                                       a brace

The words after `|` are plain text. A brace that opens no slot is a fault, never
silently text. Slots are parsed here, by a rule of the Markdown parser, and only
from the files of `content/`: no value set into a page is ever parsed again, so
no text of a guest or of staff can open one.
"""

import re
from dataclasses import dataclass

from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline

KINDS = ("figure", "each", "fact", "part", "said")
SLOT_TOKEN = "slot"
BAD_BRACE_TOKEN = "bad_brace"

_NAMED = re.compile(
    r"\{(?P<kind>figure|each|fact):(?P<name>[a-z][a-z0-9_]*)"
    r"(?:@(?P<key>[A-Za-z0-9][A-Za-z0-9_.-]*))?"
    r"(?:\|(?P<otherwise>[^{}|]*[^{}|\s][^{}|]*))?\}"
)
_SAID = re.compile(r"\{(?P<kind>said):(?P<name>[^{}|@\s](?:[^{}|@\n]*[^{}|@\s])?)\}")
_PART = re.compile(r"\{(?P<kind>part):(?P<name>[A-H])\}")
_LOOKS_LIKE_SLOT = re.compile(r"\{\s*(?:figure|each|fact|part|said)\s*:")


@dataclass(frozen=True, slots=True)
class Slot:
    """A named place in a page.

    `key` is "" for a figure's only value. `otherwise` holds the words for when
    the figure rests or is not known, "" when the page gives none. For the kinds
    `said` and `part`, `name` is the literal or the letter itself.
    """

    kind: str
    name: str
    key: str = ""
    otherwise: str = ""

    @property
    def same_in_twins(self) -> str:
        """The part of the slot that both languages of a page must share."""
        at = f"@{self.key}" if self.key else ""
        return f"{{{self.kind}:{self.name}{at}}}"


def match_slot(source: str, start: int) -> tuple[Slot, int] | None:
    """Return the slot that opens at `start` and the place after it, or None."""
    match = _NAMED.match(source, start) or _SAID.match(source, start) or _PART.match(source, start)
    if match is None:
        return None
    parts = match.groupdict()
    words = " ".join((parts.get("otherwise") or "").split())
    return Slot(parts["kind"], parts["name"], parts.get("key") or "", words), match.end()


def mentions_slot(text: str) -> bool:
    """Return whether text looks as if it has a slot; code and addresses may have none."""
    return _LOOKS_LIKE_SLOT.search(text) is not None


def plain_parser() -> MarkdownIt:
    """Return a parser of CommonMark and tables that takes no HTML."""
    return MarkdownIt("commonmark", {"html": False}).enable("table")


def parser() -> MarkdownIt:
    """Return the Markdown parser of the content: CommonMark and tables, no HTML, slots."""
    markdown = plain_parser()
    markdown.inline.ruler.before("escape", SLOT_TOKEN, _slot_rule)
    return markdown


def _slot_rule(state: StateInline, silent: bool) -> bool:
    here = state.src[state.pos]
    if here not in "{}":
        return False
    matched = match_slot(state.src, state.pos)
    end = matched[1] if matched else _end_of_bad_brace(state.src, state.pos)
    if not silent:
        token = state.push(SLOT_TOKEN if matched else BAD_BRACE_TOKEN, "", 0)
        token.content = state.src[state.pos : end]
        if matched:
            token.meta = {"slot": matched[0]}
    state.pos = end
    return True


def _end_of_bad_brace(source: str, start: int) -> int:
    if source[start] == "}":
        return start + 1
    stop = re.compile(r"[}\n]").search(source, start)
    if stop is None:
        return len(source)
    return stop.end() if stop.group() == "}" else stop.start()
