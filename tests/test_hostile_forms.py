"""Hostile values in every field of every staff page, and in the entries' JSON.

No fault of ours, nothing half-written, and what was typed is shown again.
"""

from __future__ import annotations

import unicodedata
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kiosk.store.engine import Store
from tests.actors import PIN, Clock, Screen, running, signed_in
from tests.bar import opened
from tests.hostile import (
    HtmlForm,
    changed,
    counts,
    forms_of_staff_pages,
    hostile_entry,
    hostile_values,
    shown,
    values_typed,
)
from tests.tasting_room import Tasting, tasting_site

SHORT, DEEP = 150, 10_000
FIXED = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large]
SEVERAL_ENTRIES = {"pours", "refusals"}
"""What a form of several glasses writes: each is an entry of its own, and one may be refused alone."""
ENTRIES = ("pours", "pour_marks", "marks", "refusals", "bottle_entries")


@pytest.fixture
def manager(store: Store, now: datetime, tmp_path: Path) -> Screen:
    """A manager's tablet in a house with a tour, a bottle and a flight."""
    tasting = Tasting.begun(store, tasting_site(tmp_path), now)
    opened(tasting)
    app = running(tasting.site, store, Clock(now))
    return signed_in(app, store, tasting.site, now, "manager", "Mara")


def _try(manager: Screen, store: Store, form: HtmlForm, values: dict[str, str]) -> None:
    before = counts(store)
    sent = {**form.fields, **values, "form_token": manager.token(form.page)}
    answer = manager.client.post(form.action, data=sent)  # a fault of ours is raised here
    assert answer.status_code < 500, (form.action, values)
    if answer.status_code < 400:
        return
    one_by_one = SEVERAL_ENTRIES if form.action.endswith("/preset-glasses/pour") else set()
    assert changed(before, counts(store)) <= one_by_one, (form.action, values)
    page = unicodedata.normalize("NFC", shown(answer.get_data(as_text=True)))
    lost = [v for v in values_typed(form, values) if unicodedata.normalize("NFC", v) not in page]
    assert lost == [], (form.action, values)


def _try_forms(manager: Screen, store: Store, data: st.DataObject, forms: list[HtmlForm]) -> None:
    form = data.draw(st.sampled_from(forms))
    _try(manager, store, form, data.draw(hostile_values(form)))
    if manager.get("/staff/").status_code != 200:
        manager.sign_in(manager.person, PIN)


def test_the_forms_of_every_part_of_the_house_are_tried(manager: Screen) -> None:
    forms = forms_of_staff_pages(manager)
    actions = {form.action for form in forms}
    for part in ("tours/new", "bookings", "bottles", "closing", "flights", "approvals", "rules", "people"):
        assert [action for action in actions if part in action], part
    for part in ("permits", "devices", "inspection", "records/new", "instruments", "import"):
        assert [action for action in actions if part in action], part
    assert len(forms) > 40
    assert sum(len(form.fields) for form in forms) > 200


def test_hostile_values_in_forms_are_refused_and_shown_again(manager: Screen, store: Store) -> None:
    forms = forms_of_staff_pages(manager)

    @settings(max_examples=SHORT, deadline=None, derandomize=True, suppress_health_check=FIXED)
    @given(st.data())
    def tried(data: st.DataObject) -> None:
        _try_forms(manager, store, data, forms)

    tried()


@pytest.mark.deep
def test_ten_thousand_hostile_values_in_forms_are_refused_and_shown_again(
    manager: Screen, store: Store
) -> None:
    forms = forms_of_staff_pages(manager)

    @settings(max_examples=DEEP, deadline=None, suppress_health_check=FIXED)
    @given(st.data())
    def tried(data: st.DataObject) -> None:
        _try_forms(manager, store, data, forms)

    tried()


def _try_entries(manager: Screen, store: Store, rows: list[dict[str, object]]) -> None:
    before = counts(store)
    answer = manager.client.post("/staff/intake", json=rows)
    assert answer.status_code < 500, rows
    outcomes = {one["outcome"] for one in (answer.get_json() or {}).get("answers", ())}
    if outcomes <= {"rejected", "held"}:
        assert changed(before, counts(store)) & set(ENTRIES) == set(), rows


def test_hostile_entries_are_rejected_or_held_and_record_nothing(manager: Screen, store: Store) -> None:
    @settings(max_examples=SHORT, deadline=None, derandomize=True, suppress_health_check=FIXED)
    @given(st.lists(hostile_entry(), max_size=3))
    def tried(rows: list[dict[str, object]]) -> None:
        _try_entries(manager, store, rows)

    tried()


@pytest.mark.deep
def test_ten_thousand_hostile_entries_record_nothing(manager: Screen, store: Store) -> None:
    @settings(max_examples=DEEP, deadline=None, suppress_health_check=FIXED)
    @given(st.lists(hostile_entry(), max_size=3))
    def tried(rows: list[dict[str, object]]) -> None:
        _try_entries(manager, store, rows)

    tried()


@pytest.mark.parametrize(
    "body", ["[" * 100_000, '[{"a":' * 5_000, "[1e999]", "[NaN]", "{", "null", "1", '"a"']
)
def test_a_body_that_is_no_list_of_entries_is_refused(manager: Screen, body: str) -> None:
    answer = manager.client.post("/staff/intake", data=body, content_type="application/json")
    assert 400 <= answer.status_code < 500
