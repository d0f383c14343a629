"""Values that no form and no entry expects, the forms of staff pages, and what a refusal may not leave."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from hypothesis import strategies as st
from sqlalchemy import Select, Table, func, literal, select, union_all
from werkzeug.exceptions import HTTPException

from kiosk.store.engine import Store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.base import metadata
from tests.actors import Screen

TEXTS = (
    *("", " ", "-1", "0", "1", "2", "1,0", "1.0", "1e9", "NaN", "Infinity", "-0", "007", "٣", "one", "0x1f"),
    *("2147483648", "9223372036854775808", "9" * 400, "0001-01-01", "9999-12-31", "9999-12-31T23:59"),
    *("0001-01-01T00:00", "2026-02-30", "2026-03-29T02:30", "2026-10-25T02:30+01:00", "24:00", "12:99"),
    *(
        "blanco",
        "BLANCO",
        "main",
        "en",
        "milk",
        "Rosa",
        "a" * 81,
        "b" * 3000,
        "=1+1",
        "<b>",
        "{{ 7 }}",
        "{0}",
    ),
    *(
        "%s",
        "%(n)s",
        "' OR 1=1 --",
        "../../etc",
        "\x00",
        "a\x00b",
        "\u202e",
        "\ufeff",
        "\U0001f943",
        "é" * 50,
    ),
    *(
        "\ud800".encode("utf-16", "surrogatepass").decode("utf-16", "replace"),
        "line\nline",
        "tab\there",
        "yes",
    ),
)
JSON_VALUES = (
    *(None, True, False, 0, 1, -1, 2**31, 2**63, 2**70, -(2**63), 1.5, 1e308, -0.0),
    *(
        "",
        "a" * 5000,
        "0" * 32,
        "f" * 32,
        "\x00",
        "\ud800",
        "2026-06-16T15:00:00Z",
        "9999-12-31T23:59:59-12:00",
    ),
    *(
        "0001-01-01T00:00:00+14:00",
        "blanco",
        "pours",
        "void",
        "id_check",
        [],
        [[]],
        {},
        {"a": {"b": []}},
        [1, "a"],
    ),
)
PARTS = (
    *(
        "key",
        "at",
        "by",
        "guest",
        "product",
        "volume_ul",
        "neat",
        "asked",
        "seat",
        "tour",
        "recipe",
    ),
    *("kind", "detail", "pour", "pours", "reason", "believed", "glass", "extra"),
)
UNRULY = re.compile(r"/sign-out|/sign-in|/step-in|/revoke|/enrol|/language/|/look/|\.(pdf|csv|json)$")
"""Addresses that end the sign-in which the trial needs, or answer no page."""
TYPED = ("text", "search", "date", "time", "month", "datetime-local", "number", "tel", "email")
ALSO_WRITTEN = frozenset({"sign_ins", "sessions", "changes", "acts", "held"})
"""Tables that a refusal may write to: wrong PINs, the last time that a person was seen, what is held."""


@dataclass
class HtmlForm:
    """A form: its page, address, method and fields with values, and those typed into or chosen in."""

    page: str
    action: str
    method: str = "post"
    fields: dict[str, str] = field(default_factory=dict)
    typed: set[str] = field(default_factory=set)
    chosen: set[str] = field(default_factory=set)


class _Reader(HTMLParser):
    """Collects the forms and the links of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.forms, self.links, self._select = page, list[HtmlForm](), list[str](), ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        one = {name: value or "" for name, value in attrs}
        name, form = one.get("name", ""), self.forms[-1] if self.forms else None
        if tag == "a" and "href" in one:
            self.links.append(urljoin(self.page, one["href"]).partition("#")[0])
        elif tag == "form":
            action = urljoin(self.page, one.get("action", "")).partition("#")[0]
            self.forms.append(HtmlForm(self.page, action, one.get("method", "get")))
        elif form and name and tag in ("input", "button", "textarea"):
            form.fields.setdefault(name, one.get("value", ""))
            if tag == "textarea" or (tag == "input" and one.get("type", "text") in TYPED):
                form.typed.add(name)
        elif form and name and tag == "select":
            self._select = name
            form.chosen.add(name)
        elif (
            form
            and tag == "option"
            and self._select
            and ("selected" in one or self._select not in form.fields)
        ):
            form.fields[self._select] = one.get("value", "")


def forms_of_staff_pages(screen: Screen) -> list[HtmlForm]:
    """Return the forms of one page of each kind that links from the first staff page lead to."""
    router, seen = screen.app.url_map.bind("localhost"), set[tuple[str, ...]]()
    waiting, forms = ["/staff/"], dict[tuple[str, str], HtmlForm]()
    while waiting:
        path = waiting.pop(0)
        parts = urlsplit(path)
        try:
            endpoint, found = router.match(parts.path)
        except HTTPException:
            continue
        kind = (endpoint, *(value for value in found.values() if isinstance(value, str)))
        if not parts.path.startswith("/staff") or UNRULY.search(parts.path) or kind in seen:
            continue
        answer = screen.get(path)
        if answer.status_code != 200 or not answer.content_type.startswith("text/html"):
            continue
        seen.add(kind)
        reader = _Reader(path)
        reader.feed(answer.get_data(as_text=True))
        waiting += reader.links
        for form in reader.forms:
            if not UNRULY.search(form.action):
                forms.setdefault((re.sub(r"\d+", "N", form.action), ",".join(sorted(form.fields))), form)
    return list(forms.values())


def counts(store: Store) -> Mapping[str, tuple[int, int]]:
    """Return how many rows each table has, and the sum of their revisions."""
    with store.read() as session:
        rows = session.execute(union_all(*(_count(table) for table in metadata.sorted_tables)))
        return {name: (n, revisions or 0) for name, n, revisions in rows}


def _count(table: Table) -> Select[tuple[str, int, int]]:
    revisions = func.sum(table.c.revision) if "revision" in table.c else func.count()
    return select(literal(table.name), func.count(), revisions).select_from(table)


def changed(before: Mapping[str, tuple[int, int]], after: Mapping[str, tuple[int, int]]) -> set[str]:
    """Return the tables that were written to, but for those that a refusal may write to."""
    return {name for name in after if before[name] != after[name]} - ALSO_WRITTEN


def shown(page: str) -> str:
    """Return a page's source as a person reads values in it."""
    return unescape(page)


def hostile_text() -> st.SearchStrategy[str]:
    """Return a strategy for values of a form's field."""
    return st.one_of(st.sampled_from(TEXTS), st.text(max_size=30))


def hostile_values(form: HtmlForm) -> st.SearchStrategy[dict[str, str]]:
    """Return a strategy for what is put into some fields of a form."""
    names = sorted(name for name in form.fields if name != "form_token")
    if not names:
        return st.just({})
    return st.dictionaries(st.sampled_from(names), hostile_text(), min_size=1, max_size=4)


def hostile_entry(good: Sequence[Mapping[str, object]]) -> st.SearchStrategy[dict[str, object]]:
    """Return a strategy for one row of the JSON that tablets send: good rows spoiled, and rubbish."""
    value = st.one_of(st.sampled_from(JSON_VALUES), st.text(max_size=20), st.integers())
    spoiled = st.dictionaries(st.sampled_from(PARTS), value, min_size=1, max_size=3)
    dropped = st.sets(st.sampled_from(PARTS), max_size=1)
    rubbish = st.dictionaries(st.sampled_from(("ledger", *PARTS)), value, max_size=8)
    return st.one_of(st.builds(_spoil, st.sampled_from(good), spoiled, dropped), rubbish)


def _spoil(row: Mapping[str, object], spoiled: Mapping[str, object], dropped: set[str]) -> dict[str, object]:
    kept = {"key": new_key(), **row}
    own = {part: value for part, value in spoiled.items() if part in kept or part == "extra"}
    return {part: value for part, value in {**kept, **(own or spoiled)}.items() if part not in dropped}


def values_typed(form: HtmlForm, values: Mapping[str, str]) -> Iterator[str]:
    """Yield what a person typed into a form and must see again: short texts of signs that can be seen."""
    for name, value in values.items():
        plain = " ".join(value.split())
        # The rows of a flight are numbered anew, by the order of what was typed.
        if (
            name in form.typed
            and not name.startswith("place-")
            and plain
            and len(plain) <= 30
            and plain.isprintable()
            and plain == value
        ):
            yield plain
