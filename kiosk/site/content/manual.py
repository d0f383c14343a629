"""Reads the owner's manual: the Markdown pages of `content/manual`, in the order of `manual.toml`.

Each page begins with its title (`#`) and one paragraph that says what it is for. A link
to another page (`rules.en.md`) or to an example of a law (`../laws/kentucky.toml`) works in
the files themselves and, rewritten, on the screen.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from markdown_it.token import Token
from markupsafe import Markup

from kiosk.site.content.grammar import plain_parser
from kiosk.site.content.pages import Heading, clean_html
from kiosk.site.shipped import shipped
from kiosk.words.catalogs import SOURCE_LANGUAGE

_PAGE_FILE = re.compile(r"([a-z][a-z-]*)\.[a-z]{2}\.md(#.*)?")
_TABLE = Markup('<div class="table-scroll" tabindex="0" role="region" aria-label="{}"><table>')
_LAW_FILE = re.compile(r"\.\./laws/([a-z][a-z0-9-]*)\.toml")


@dataclass(frozen=True, slots=True)
class ManualPage:
    """A page of the manual in one language; its summary and the rest as HTML."""

    name: str
    language: str
    title: str
    summary: Markup
    html: Markup
    headings: tuple[Heading, ...]


@cache
def read_manual(language: str, home: str) -> Mapping[str, ManualPage]:
    """Return the manual's pages by name, in English where it is not written in `language`.

    `home` is the address of the manual, which links from page to page begin with.
    Raises OSError for a page that is named in `manual.toml` and is not there.
    """
    folder = shipped("content") / "manual"
    names: list[str] = tomllib.loads((folder / "manual.toml").read_text(encoding="utf-8"))["pages"]
    written = language if (folder / f"{names[0]}.{language}.md").exists() else SOURCE_LANGUAGE
    return {name: _read_page(folder / f"{name}.{written}.md", home) for name in names}


def law_text(name: str) -> str | None:
    """Return an example of a law as TOML, or None where no example has that name."""
    files = {path.stem: path for path in (shipped("content") / "laws").glob("*.toml")}
    return files[name].read_text(encoding="utf-8") if name in files else None


def _read_page(path: Path, home: str) -> ManualPage:
    """Return a page compiled to HTML; raises ValueError for one without a title and a first paragraph."""
    name, language, _ = path.name.split(".")
    tokens = plain_parser().parse(path.read_text(encoding="utf-8"))
    if [token.type for token in tokens[:4:3]] != ["heading_open", "paragraph_open"] or tokens[0].tag != "h1":
        raise ValueError(f"{path}: a page of the manual begins with a title and a paragraph")
    _point_links(tokens, home)
    headings = _mark_headings(tokens[6:])
    html = _scrollable(_render(tokens[6:]), tokens[6:])
    return ManualPage(name, language, _text(tokens[1]), _render(tokens[3:6]), html, headings)


def _render(tokens: list[Token]) -> Markup:
    markdown = plain_parser()
    return Markup(clean_html(markdown.renderer.render(tokens, markdown.options, {})))


def _text(inline: Token) -> str:
    return "".join(child.content for child in inline.children or ())


def _point_links(tokens: list[Token], home: str) -> None:
    """Replace each link to a file by the address of its page."""
    for token in tokens:
        for child in token.children or ():
            if child.type == "link_open":
                target = str(child.attrGet("href"))
                target = _PAGE_FILE.sub(rf"{home}/\1\2", target)
                child.attrSet("href", _LAW_FILE.sub(rf"{home}/laws/\1", target))


def _mark_headings(tokens: list[Token]) -> tuple[Heading, ...]:
    """Set on each heading an id of its words, and return the headings."""
    headings: list[Heading] = []
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            text = _text(tokens[place + 1])
            name = re.sub(r"\W+", "-", text.lower()).strip("-")
            token.attrSet("id", name)
            headings.append(Heading(int(token.tag[1]), name, text, token.map[0] + 1 if token.map else 0))
    return tuple(headings)


def _scrollable(html: str, tokens: list[Token]) -> Markup:
    """Put each table in a box that scrolls on a narrow screen and is named after its heading."""
    heading, names = "", []
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            heading = _text(tokens[place + 1])
        elif token.type == "table_open":
            names.append(heading)
    boxes = (_TABLE.format(name) for name in names)
    html = re.sub("<table>", lambda _: next(boxes), html)
    return Markup(html.replace("</table>", "</table></div>"))
