"""The line that the demo prints sends a reading that is taken."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.store.engine import open_store
from tests.actors import CHEAP, Clock


@pytest.mark.parametrize("later", [timedelta(0), timedelta(hours=12)])
def test_the_line_that_is_printed_sends_a_reading_by_day_and_by_night(
    tmp_path: Path, now: datetime, later: timedelta
) -> None:
    at = now + later
    prepared = prepare_demo(tmp_path / "site", at, lambda _: None, hasher=CHEAP)
    site = load_site(prepared.folder, database=prepared.database)
    store = open_store(site.database)
    client = create_app(site, store, Clock(at)).test_client()
    token = re.search(r"Bearer (\S+)'", prepared.sending)
    body = re.search(r"-d '(.*)'", prepared.sending)
    assert token
    assert body
    headers = {"Authorization": f"Bearer {token[1]}"}
    answer = client.post("/staff/readings", json=json.loads(body[1]), headers=headers)
    assert (answer.status_code, answer.json) == (201, {"id": "try-1", "state": "recorded"})
    store.close()
