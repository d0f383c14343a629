"""A trial: hostile values sent on one signed-in screen, and what went wrong, by address."""

from __future__ import annotations

import re
import sqlite3
import traceback
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from werkzeug.test import TestResponse

from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import Screen, hire
from tests.hostile import HtmlForm, changed, counts, forms_of_staff_pages, shown, values_typed

SEVERAL_ENTRIES = {"pours", "refusals"}
"""What a form of several glasses writes: each is an entry of its own, and one may be refused alone."""
ENTRIES = {"pours", "pour_marks", "marks", "refusals", "bottle_entries"}


@dataclass
class Trial:
    """A manager's screen on which hostile values are sent. Every kind of fault is kept once."""

    screen: Screen
    site: Site
    store: Store
    now: datetime
    language: str
    values: int = 0
    accepted: int = 0
    refused: set[str] = field(default_factory=set)
    faults: dict[tuple[str, str], object] = field(default_factory=dict)
    _managers: int = 0
    _token: str = ""
    _counted: tuple[int, Mapping[str, tuple[int, int]]] = (-1, {})

    def __post_init__(self) -> None:
        if self.store.dialect == "sqlite":
            self._watch = sqlite3.connect(str(self.store.engine.url.database))
        self.sign_in()

    @cached_property
    def forms(self) -> list[HtmlForm]:
        """The forms of one page of each kind."""
        return forms_of_staff_pages(self.screen)

    def sign_in(self) -> None:
        """Sign a new manager in: what was sent may have barred the device or the person before."""
        self._managers += 1
        name = f"Mara {self._managers}"
        person = hire(self.store, self.site, self.now, name, ("manager", "guide", "bar", "production"))
        self.screen.client.delete_cookie(self.screen.cookie_name("device"))
        self.screen.enrol(self.store, self.site, self.now, name=f"tablet of {name}")
        assert self.screen.sign_in(person).status_code == 302
        self.screen.get(f"/language/{self.language}")
        self._token = self.screen.token("/staff/")

    def send(self, form: HtmlForm, values: Mapping[str, str]) -> None:
        """Send a form with hostile values, and keep what went wrong."""
        before = self._counts()
        fields = {**form.fields, **values}
        if form.method == "get":
            self.ask(form.action, values)
            return
        self.values += len(values)
        sent = {**fields, "form_token": self._token}
        answer = self._sent("POST", form.action, values, data=sent)
        if answer is None:
            return
        if answer.status_code < 400:
            self.accepted += 1
            self._follow(answer, values)
            return
        self.refused.add(re.sub(r"\d+", "N", form.action))
        one_by_one = SEVERAL_ENTRIES if form.action.endswith("/preset-glasses/pour") else set()
        written = changed(before, self._counts()) - one_by_one
        if written:
            self._keep(form.action, f"written: {sorted(written)}", values)
        page = unicodedata.normalize("NFC", shown(answer.text))
        lost = [v for v in values_typed(form, values) if unicodedata.normalize("NFC", v) not in page]
        if lost:
            self._keep(form.action, "lost", (lost, values))

    def ask(self, path: str, values: Mapping[str, str]) -> None:
        """Open an address with a hostile query."""
        self.values += 1 + len(values)
        self._sent("GET", path, values, query_string=values)

    def post_entries(self, rows: list[dict[str, object]]) -> None:
        """Send entries, and keep it where a refused or held one was recorded all the same."""
        self.values += len(rows)
        before = self._counts()
        answer = self._sent("POST", "/staff/intake", rows, json=rows)
        if answer is None:
            return
        outcomes = {one["outcome"] for one in (answer.get_json() or {}).get("answers", ())}
        self.accepted += not outcomes <= {"rejected", "held", "keep"}
        written = changed(before, self._counts()) & ENTRIES
        if outcomes <= {"rejected", "held", "keep"} and written:
            self._keep("/staff/intake", f"written: {sorted(written)}", rows)

    def open_every_page(self) -> None:
        """Open a page of each kind after all that was recorded."""
        self.sign_in()
        try:
            forms_of_staff_pages(self.screen)
        except Exception:  # any fault of ours is what is looked for
            self._keep("a page afterwards", traceback.format_exc()[-1500:], "")

    def report(self) -> str:
        """Return each kind of fault on a line with what was sent."""
        lines = (f"{path}: {kind} after {sent!r:.600}" for (path, kind), sent in self.faults.items())
        return "\n".join(sorted(lines))

    def _follow(self, answer: TestResponse, values: object) -> None:
        there = answer.headers.get("Location", "")
        if there.startswith("/") and "sign-in" not in there:
            self._sent("GET", there, values)

    def _sent(self, method: str, path: str, values: object, **more: object) -> TestResponse | None:
        try:
            answer = self.screen.client.open(path, method=method, buffered=True, **more)
        except Exception as fault:  # any fault of ours is what is looked for
            last = traceback.extract_tb(fault.__traceback__)[-1]
            self._keep(path, f"{fault!r:.200} at {last.filename}:{last.lineno}", values)
            return None
        if answer.status_code >= 500:
            self._keep(path, str(answer.status_code), values)
        there = answer.headers.get("Location", "")
        if answer.status_code == 401 or "/sign-in" in there or "not_enrolled" in there:
            self.sign_in()
        return answer

    def _counts(self) -> Mapping[str, tuple[int, int]]:
        if self.store.dialect != "sqlite":
            return counts(self.store)
        version = self._watch.execute("PRAGMA data_version").fetchone()[0]
        if version != self._counted[0]:
            self._counted = (version, counts(self.store))
        return self._counted[1]

    def _keep(self, path: str, kind: str, values: object) -> None:
        fault = (re.sub(r"\d+", "N", path.partition("?")[0]), kind)
        if fault not in self.faults:
            print(*fault, repr(values)[:600], flush=True)
            self.faults[fault] = values
