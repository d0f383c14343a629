"""What a request of the records costs: its queries, and the files of the program that it runs."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from flask import Flask

from kiosk.figures.strength import Certificate
from kiosk.production.readings_api.receiving import bind_instrument
from kiosk.production.runs import instruments
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import hire, signed_in
from tests.costs import cost
from tests.production.readings_api.test_receiving import STILL


@pytest.mark.parametrize("named", [{}, {"instrument": "DM-1"}])
def test_a_reading_of_an_instrument_takes_few_queries_and_files(
    app: Flask, sqlite_store: Store, site: Site, now: datetime, named: dict[str, str]
) -> None:
    with sqlite_store.write() as session:
        token = bind_instrument(session, site, "meter", ["SS"], now)
        meter = instruments.add(session, "DM-1", "density_meter")
        instruments.certify(session, meter, now - timedelta(days=99), Certificate(0.02, 0.0), by=None, at=now)
    headers, client = {"Authorization": f"Bearer {token}"}, app.test_client()
    first = {**STILL, **named, "id": "r-0", "at": "2026-06-06T13:40:00-04:00", "collected_l": 257}
    assert client.post("/staff/readings", json=first, headers=headers).status_code == 201
    with cost(sqlite_store) as spent:
        answer = client.post("/staff/readings", json={**STILL, **named}, headers=headers)
    assert answer.status_code == 201
    assert len(spent.queries) <= 12, spent.queries
    assert len(spent.files) <= 24, spent.files


@pytest.mark.parametrize("path", ["records/", "held", "records/new/still-reading", "records/gauges/1"])
def test_a_page_of_the_records_takes_few_queries(
    app: Flask, sqlite_store: Store, site: Site, now: datetime, path: str
) -> None:
    hire(sqlite_store, site, now, "First", ("manager",))
    screen = signed_in(app, sqlite_store, site, now, "production", "Ana")
    with cost(sqlite_store) as spent:
        assert screen.get(f"/staff/{path}").status_code == 200
    assert len(spent.queries) <= 25, spent.queries
