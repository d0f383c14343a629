"""Forms ask in the site's units and show the other beside; what is kept, and files, stay metric."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from flask import Flask, g
from sqlalchemy import select

from kiosk.figures.errors import Bounds
from kiosk.production.forms.definitions import FORMS, FORMS_OF_ROWS
from kiosk.production.forms.pages import beside, cell_text, choice_label, fault_sentences, field_label
from kiosk.production.records import kinds as k
from kiosk.production.records.faults import FaultCode, RecordFaults, refuse
from kiosk.production.records.fields import Field, Type
from kiosk.production.records.forms import number_text, typed_values, us_unit
from kiosk.production.runs.views import CERTIFICATE
from kiosk.site.settings import Site, Units
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.actors import Screen, hire, signed_in
from tests.words.readers import ENGLISH, SPANISH, SPANISH_COMMA

EVERY = [one for form in (*FORMS.values(), *FORMS_OF_ROWS.values()) for one in form.fields]
ASKED = list({re.sub(r"_\d+$", "", one.name): one for one in (*EVERY, *CERTIFICATE) if one.unit}.values())
WASH = {"wash": "W-1", "at": "2026-06-03T10:00", "temperature_c": ""}


@contextmanager
def reading(app: Flask, units: Units, language: str = "en") -> Iterator[None]:
    """Read pages of a house with these units."""
    house = app.extensions["kiosk"]
    app.extensions["kiosk"] = replace(house, site=replace(house.site, units=units))
    with app.test_request_context("/staff/"):
        g.words = house.words[language]
        yield


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", list(Units))
def test_the_label_of_every_amount_names_the_unit_in_which_it_is_typed(
    app: Flask, units: Units, language: str
) -> None:
    gallons, pounds = ("US gallons", "pounds") if language == "en" else ("galones de EE. UU.", "libras")
    us = {"l": gallons, "kg": pounds, "c": "°F", "ml": "mL"}
    metric = {"l": "L", "kg": "kg", "c": "°C", "ml": "mL"}
    with reading(app, units, language):
        labels = {re.sub(r"_\d+$", "", one.name): field_label(one) for one in ASKED}
        heated = choice_label("temperature, °C")
    ends = us if units is Units.US else metric
    wanted = {name: ends[name.rpartition("_")[2]] for name in labels}
    if units is Units.US:
        wanted["alcohol_l"] = "proof gallons" if language == "en" else labels["alcohol_l"].rpartition(", ")[2]
        assert "proof" in labels["alcohol_l"]
    assert {name: label.rpartition(", ")[2] for name, label in labels.items()} == wanted
    assert heated.endswith(ends["c"])
    assert {"volume_l", "gross_kg", "thermometer_correction_c", "bottle_ml"} <= set(labels)


@pytest.mark.parametrize("words", [ENGLISH, SPANISH, SPANISH_COMMA])
@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("asked", [one for one in ASKED if one.type is Type.NUMBER], ids=lambda one: one.name)
def test_a_value_opened_and_saved_unchanged_is_kept_as_it_is(
    site: Site, asked: Field, units: Units, words: Any
) -> None:
    house = replace(site, units=units)
    for value in (
        float(asked.low),
        float(asked.high),
        asked.low + (asked.high - asked.low) / 3,
        asked.high - 0.001,
        2.5,
    ):
        unit = us_unit(asked, {}, house)
        texts = {asked.name: number_text(value, unit, words)}
        assert typed_values([asked], texts, house, words, {asked.name: value}) == {asked.name: value}
        # Typed by a person too it is the same to a thousandth, unless the last decimal lies beyond the range.
        if asked.low < value < asked.high - 1:
            (typed,) = typed_values([asked], texts, house, words).values()
            assert abs(typed - value) < 0.0005


@pytest.mark.parametrize(
    ("asked", "typed", "kept", "shown"),
    [
        (k.VOLUME_L, "412.5", 1561.482361, "412.5"),
        (k.VOLUME_L, "0.01", 0.037854, "0.01"),
        (k.GROSS_KG, "1000", 453.59237, "1,000"),
        (k.READING[1], "83.3", 28.5, "83.3"),
        (k.READING[1], "-4", -20.0, "-4"),
        (CERTIFICATE[3], "0.54", 0.3, "0.54"),  # a difference: no 32 lies between the two scales
        (k.READING[0], "142.4", 142.4, "142.4"),  # by its scale
    ],
)
def test_what_is_typed_on_a_us_site_is_kept_metric_and_shown_as_typed(
    site: Site, asked: Field, typed: str, kept: float, shown: str
) -> None:
    values = typed_values([asked], {asked.name: typed}, site, ENGLISH)
    assert values == {asked.name: kept}
    in_column = asked.loaded({asked.kept: asked.stored(kept)}) if asked.kept else kept
    assert number_text(in_column, us_unit(asked, values, site), ENGLISH) == shown


def test_files_stay_metric_on_a_us_site(site: Site) -> None:
    assert typed_values([k.VOLUME_L], {"volume_l": "2.5"}, site) == {"volume_l": 2.5}


@pytest.mark.parametrize(
    ("units", "asked", "typed", "low", "high"),
    [
        (Units.US, k.READING[1], "104.1", -4, 104),
        (Units.METRIC, k.READING[1], "40.1", -20, 40),
        (Units.US, k.VOLUME_L, "140000", 0, 132086.02),
        (Units.US, k.CASKS.fields[2], "0.2", 0.27, 528.34),
        (Units.US, CERTIFICATE[3], "9.1", -9, 9),
    ],
)
def test_a_refusal_tells_the_range_in_the_unit_typed(
    site: Site, units: Units, asked: Field, typed: str, low: float, high: float
) -> None:
    house = replace(site, units=units)
    with pytest.raises(RecordFaults) as refused:
        typed_values([asked], {asked.name: typed}, house, ENGLISH)
    assert refused.value.faults[0].facts.items() >= {"found": typed, "low": low, "high": high}.items()
    for edge in (low, high):
        typed_values([asked], {asked.name: str(edge)}, house, ENGLISH)


@pytest.mark.parametrize(
    ("units", "told"),
    [(Units.US, "104.54 (allowed is -4 to 104 °F)"), (Units.METRIC, "40.3 (allowed is -20 to 40 °C)")],
)
def test_a_temperature_outside_the_tables_is_told_in_the_unit_typed(
    app: Flask, units: Units, told: str
) -> None:
    fault = refuse(FaultCode.NOT_CALCULABLE, "temperature_c", "40.3", allowed=Bounds(-20, 40, "°C"))
    with reading(app, units):
        assert told in fault_sentences(fault)["temperature_c"]


@pytest.mark.parametrize(
    ("units", "typed", "cell", "hint"),
    [(Units.US, "83.3", "83.3 °F (28.5 °C)", "(28.5 °C)"), (Units.METRIC, "28.5", "28.5", "")],
)
def test_the_temperature_of_a_wash_is_in_the_sites_unit_too(
    app: Flask, units: Units, typed: str, cell: str, hint: str
) -> None:
    texts = {**WASH, "kind": "temperature", "value": typed}
    value = k.WASH_READING[1]
    with reading(app, units):
        house = app.extensions["kiosk"].site
        values = typed_values(FORMS["wash-reading"].fields, texts, house, ENGLISH)
        assert values["value"] == 28.5
        assert plain(cell_text(value, values)) == cell
        assert plain(beside(value, texts)) == hint
        assert beside(value, {**texts, "kind": "gravity", "value": "1.045"}) == ""


def test_a_bottle_has_the_ounces_beside_its_millilitres(app: Flask) -> None:
    size = k.BOTTLED[1]
    with reading(app, Units.US):
        assert plain(cell_text(size, {"bottle_ml": 750})) == "25.4 US fl oz (750 mL)"
        assert plain(beside(size, {"bottle_ml": "750"})) == "25.4 US fl oz (750 mL)"
        assert typed_values([size], {"bottle_ml": "750"}, app.extensions["kiosk"].site, ENGLISH) == {
            "bottle_ml": 750
        }
    with reading(app, Units.METRIC):
        assert plain(cell_text(size, {"bottle_ml": 750})) == "750 mL"
        assert beside(size, {"bottle_ml": "750"}) == ""


def fields_of(page: str) -> Mapping[str, str]:
    """Return the fields of a record's form as a browser would send them."""
    form = page[page.index("<form", page.index(">Correct<")) :]
    typed = re.findall(r'<input id="[^"]*" name="(\w+)"[^>]* value="([^"]*)"', form)
    chosen = re.findall(r'<select[^>]* name="(\w+)".*?<option value="([^"]*)" selected', form, re.DOTALL)
    return {name: text for name, text in (*typed, *chosen) if name != "why"}


@pytest.mark.parametrize("units", list(Units))
def test_a_correction_of_something_else_leaves_every_amount(
    app: Flask, sqlite_store: Store, site: Site, now: datetime, units: Units
) -> None:
    house = app.extensions["kiosk"]
    app.extensions["kiosk"] = replace(house, site=replace(house.site, units=units))
    hire(sqlite_store, site, now, "First", ("manager",))
    screen: Screen = signed_in(app, sqlite_store, site, now, "production", "Ana")
    query = select(t.run_readings).where(t.run_readings.c.id == 1)
    with sqlite_store.read() as session:
        before = dict(session.execute(query).mappings().one())
    page = screen.get("/staff/records/run_readings/1").text
    typed = fields_of(page)
    assert {"run", "at", "cut", "collected_l", "instrument", "reading", "temperature_c"} <= set(typed)
    assert (
        "Temperature at the reading, °F" in page,
        bool(re.search(r'class="hint"[^>]*>\([\d.]+\s', page)),
    ) == ((units is Units.US,) * 2)
    sent = screen.post("/staff/records/run_readings/1", **typed, revision="1", why="nothing")
    assert sent.status_code == 302
    with sqlite_store.read() as session:
        after = dict(session.execute(query).mappings().one())
    changed = {name for name in before if before[name] != after[name]}
    assert changed <= {"revision", "recorded_at"}
    assert after["revision"] == 2
