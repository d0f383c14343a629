"""Instruments send readings with a token of their own, each taken once; the document tells the truth."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator
from sqlalchemy import func, select

from kiosk.figures.strength import Certificate
from kiosk.production.forms.review import held_entries
from kiosk.production.readings_api.receiving import (
    ReadingRefused,
    bind_instrument,
    receive_reading,
    vessel_codes,
)
from kiosk.production.readings_api.views import DOCUMENT
from kiosk.production.runs import instruments
from kiosk.production.runs.account import read_runs
from kiosk.site.settings import Site
from kiosk.staff.devices import list_devices, revoke
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from kiosk.web.access import DEVICE_COOKIE
from tests.actors import signed_in
from tests.plans import scanned
from tests.production.conftest import Take

STILL = {"id": "r-1", "kind": "still", "vessel": "SS", "at": "2026-06-06T13:45:00-04:00", "cut": "tails"}
STILL |= {"collected_l": 258, "collected_temperature_c": 28, "scale": "density_meter", "reading": 8}
STILL |= {"temperature_c": 28}
WASH = {"id": "w-1", "kind": "wash", "vessel": "T1", "at": "2026-06-04T08:00:00Z", "measure": "ph"}
WASH |= {"value": 4.25}
GROWING = {"run_readings", "wash_readings", "held", "changes", "runs", "washes", "batches", "gauges", "draws"}
"""Tables that grow with every day's work."""
BAD: list[dict[str, Any]] = [
    {"reading": "8"},
    {"reading": True},
    {"id": "two words"},
    {"vessel": ""},
    {"colour": "red"},
    {"kind": "mill"},
    {"kind": ["still"]},
    {"kind": {}},
    {"at": 5},
]


def send(client: FlaskClient, token: str, body: object) -> tuple[int, dict[str, Any]]:
    """Send a reading and hold the answer to the document."""
    headers = {"Authorization": f"Bearer {token}"}
    answer = client.post("/staff/readings", json=body, headers=headers)
    told = DOCUMENT["paths"]["/staff/readings"]["post"]["responses"][str(answer.status_code)]
    schema = told["content"]["application/json"]["schema"]
    Draft202012Validator({**schema, "components": DOCUMENT["components"]}).validate(answer.json)
    return answer.status_code, answer.json or {}


def is_reading(body: object) -> bool:
    """Say whether the document calls a body a reading."""
    schema = {"$ref": "#/components/schemas/Reading", "components": DOCUMENT["components"]}
    return Draft202012Validator(schema).is_valid(body)


def count(store: Store) -> int:
    """Count the readings of stills and washes."""
    with store.read() as session:
        return sum(
            session.scalar(select(func.count()).select_from(table)) or 0
            for table in (t.run_readings, t.wash_readings)
        )


def test_an_instrument_that_sends_without_a_rest_is_asked_to_wait(app: Flask, token: str) -> None:
    client = app.test_client()
    assert [send(client, token, {})[0] for _ in range(600)] == [400] * 600
    assert send(client, token, STILL)[0] == 429


@pytest.mark.parametrize("body", [STILL, WASH])
def test_a_reading_is_taken_once(app: Flask, token: str, sqlite_store: Store, body: dict[str, Any]) -> None:
    before, client = count(sqlite_store), app.test_client()
    assert is_reading(body)
    assert send(client, token, body) == (201, {"id": body["id"], "state": "recorded"})
    assert send(client, token, body) == (200, {"id": body["id"], "state": "same"})
    other = {**body, "at": "2026-06-06T13:50:00-04:00"}
    assert send(client, token, other)[0] == 409
    assert count(sqlite_store) == before + 1


@pytest.mark.parametrize("body", [STILL, WASH])
def test_a_reading_is_taken_without_a_look_at_every_other(
    app: Flask, token: str, sqlite_store: Store, body: dict[str, Any]
) -> None:
    client = app.test_client()
    later = body | {"id": "later", "at": body["at"].replace(":00", ":30", 1)}
    assert send(client, token, body)[0] == 201
    states = []
    read = scanned(sqlite_store, lambda: states.append(send(client, token, later)[1]["state"]))
    assert (states, read & GROWING) == (["recorded"], set())


def test_what_can_hardly_be_is_held_once(app: Flask, token: str, sqlite_store: Store, site: Site) -> None:
    before, client = count(sqlite_store), app.test_client()
    body = {**STILL, "collected_l": 9000, "reading": 60}
    assert send(client, token, body)[0] == 202
    assert send(client, token, body)[1]["state"] == "same"
    assert send(client, token, {**body, "reading": 61})[0] == 409
    assert count(sqlite_store) == before
    with sqlite_store.read() as session:
        assert session.scalar(select(func.count()).select_from(t.held)) == 1
        assert [one.by for one in held_entries(session, site)] == ["meter"]


def test_what_the_certificate_says_is_added_to_what_the_instrument_sends(
    app: Flask, token: str, sqlite_store: Store
) -> None:
    with sqlite_store.write() as session:
        meter = instruments.add(session, "DM-1", "density_meter")
        since = datetime(2026, 1, 1, tzinfo=UTC)
        instruments.certify(session, meter, since, Certificate(0.5), by=None, at=since)
    client, body = app.test_client(), {**STILL, "instrument": "DM-1"}
    assert is_reading(body)
    assert send(client, token, {**body, "instrument": "DM-2"})[0] == 422
    assert send(client, token, {**body, "scale": "glass_abv20"})[0] == 422
    assert send(client, token, body)[0] == 201
    with sqlite_store.read() as session:
        run_id = session.scalars(select(t.runs.c.id).where(t.runs.c.kind == "spirit")).first()
        assert run_id is not None
        assert read_runs(session, [run_id])[run_id][-1][1].abv_percent == 8.5


@pytest.mark.parametrize("wrong", BAD)
def test_the_document_and_the_door_agree_on_what_is_no_reading(
    app: Flask, token: str, wrong: dict[str, Any]
) -> None:
    body = {**STILL, **wrong}
    assert not is_reading(body)
    assert send(app.test_client(), token, body)[0] == 400


def test_a_temperature_may_stay_unknown(app: Flask, token: str) -> None:
    body = {name: value for name, value in STILL.items() if "temperature" not in name}
    assert is_reading(body)
    assert send(app.test_client(), token, body)[0] == 201


@pytest.mark.parametrize("field", sorted(name for name in STILL if "temperature" not in name))
def test_every_field_but_a_temperature_is_needed(app: Flask, token: str, field: str) -> None:
    body = {name: value for name, value in STILL.items() if name != field}
    assert not is_reading(body)
    assert send(app.test_client(), token, body)[0] == 400


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"vessel": "WS"}, 403),
        ({"vessel": "NONE"}, 403),
        ({"at": "2026-06-07T09:00:00-04:00"}, 422),
        ({"scale": "float"}, 422),
    ],
)
def test_what_an_instrument_may_not_say(app: Flask, token: str, change: dict[str, Any], status: int) -> None:
    assert send(app.test_client(), token, {**STILL, **change})[0] == status


def test_only_the_token_opens_the_door_and_only_this_one(
    app: Flask, token: str, sqlite_store: Store, now: datetime
) -> None:
    client = app.test_client()
    assert send(client, "", STILL)[0] == 401
    assert send(client, "other", STILL)[0] == 401
    client.set_cookie(DEVICE_COOKIE, token)
    assert client.post("/staff/readings", json=STILL).status_code == 401
    assert client.get("/staff/records/").status_code == 404
    with sqlite_store.write() as session:
        meter = list_devices(session)[0]
        revoke(session, meter.id, meter.revision, now, by=None)
    assert send(client, token, STILL)[0] == 401


def test_the_served_document_is_the_one_tested(app: Flask) -> None:
    assert app.test_client().get("/staff/readings/openapi.json").json == DOCUMENT


def test_readings_are_taken_on_each_database(store: Store, site: Site, take: Take, now: datetime) -> None:
    take()
    with store.write() as session:
        bind_instrument(session, site, "meter", ["SS"], now)
        device_id = list_devices(session)[0].id
    for state in ("recorded", "same"):
        with store.write() as session:
            assert receive_reading(session, site, device_id, STILL, now) == state
    with pytest.raises(ReadingRefused), store.write() as session:
        receive_reading(session, site, device_id, {**STILL, "reading": 9}, now)


@pytest.mark.parametrize(
    "wrong",
    [{"reading": 10**400}, {"at": "9999-12-31T23:59:59-10:00"}, {"at": "0001-01-01T00:00:00+10:00"}],
)
def test_what_no_clock_or_scale_reaches_is_malformed(app: Flask, token: str, wrong: dict[str, Any]) -> None:
    assert send(app.test_client(), token, {**STILL, **wrong})[0] == 400


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"id": "x" * 60}, 201),
        ({"id": "x" * 61}, 400),
        ({"reading": 1e12}, 400),
        ({"reading": 999_999_999_999}, 422),
        ({"reading": -1e12}, 400),
        ({"reading": float("nan")}, 400),
        ({"reading": 200.5}, 422),
        ({"cut": ""}, 400),
        ({"cut": "x" * 40}, 422),
        ({"cut": "x" * 41}, 400),
        ({"cut": "ta\nils"}, 400),
        ({"at": "2026-06-06T13:45:00"}, 400),
        ({"at": "noon"}, 400),
        ({"instrument": "no meter"}, 400),
        ({"at": "2026-06-06T07:00:00-04:00", "collected_l": 1, "cut": "heads", "reading": 80}, 201),
        ({"at": "2026-06-06T06:59:59-04:00"}, 422),
    ],
)
def test_the_ends_of_what_may_be_said(app: Flask, token: str, change: dict[str, Any], status: int) -> None:
    headers = {"Authorization": f"Bearer {token}"}
    answer = app.test_client().post("/staff/readings", json={**STILL, **change}, headers=headers)
    assert answer.status_code == status


def test_a_reading_is_recorded_in_utc_to_the_second_with_its_sender_and_digest(
    app: Flask, token: str, sqlite_store: Store
) -> None:
    assert send(app.test_client(), token, {**STILL, "at": "2026-06-06T13:45:10.75-04:00"})[0] == 201
    with sqlite_store.read() as session:
        row = session.execute(select(t.run_readings).order_by(t.run_readings.c.id.desc()).limit(1)).one()
    assert row.at == datetime(2026, 6, 6, 17, 45, 10, tzinfo=UTC)
    assert (row.cut, row.reading_e2, row.temperature_mc, row.instrument_id) == ("tails", 800, 28_000, None)
    assert len(row.source_hash) == 64
    assert "r-1" in row.source


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"kind": "mill"}, "malformed", "kind"),
        ({"reading": "8"}, "malformed", "reading"),
        ({"vessel": "WS"}, "not_bound", "vessel"),
        ({"at": "2026-06-07T09:00:00-04:00"}, "nothing_under_way", "at"),
        ({"scale": "float"}, "impossible", "scale"),
        ({"reading": 201}, "impossible", "reading"),
        ({"instrument": "DM-9"}, "impossible", "instrument"),
    ],
)
def test_a_refusal_names_its_reason_and_the_field(
    store: Store, site: Site, take: Take, now: datetime, change: dict[str, Any], code: str, field: str
) -> None:
    take()
    with store.write() as session:
        bind_instrument(session, site, "meter", ["SS"], now)
        device_id = list_devices(session)[0].id
    with pytest.raises(ReadingRefused) as raised, store.write() as session:
        receive_reading(session, site, device_id, {**STILL, **change}, now)
    assert (raised.value.code, raised.value.facts) == (code, {"field": field})
    assert str(raised.value) == raised.value.message


def test_the_vessels_to_bind_an_instrument_to_are_listed_by_code(
    take_sqlite: Take, sqlite_store: Store
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        assert vessel_codes(session) == ["SS", "T1", "V1", "WS"]


def test_a_manager_binds_an_instrument_and_sees_its_token_once(
    app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    screen = signed_in(app, sqlite_store, site, now, "manager", "Ana")
    place = "/staff/readings/instruments"
    assert 'value="SS"' in screen.get(place).text
    page = screen.post(place, name="meter 2", vessel=["SS"]).text
    tokens = [word for word in re.findall(r"[A-Za-z0-9_-]{20,}", page) if word not in screen.get(place).text]
    answers = [send(app.test_client(), token, STILL)[0] for token in tokens]
    assert 201 in answers
    assert screen.post(place, name="meter 2", vessel=["SS"]).status_code == 422
