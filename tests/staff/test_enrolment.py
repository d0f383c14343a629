"""The first device and the first manager come together or not at all."""

from __future__ import annotations

from datetime import datetime

import pytest

from kiosk.site.settings import Site
from kiosk.staff.devices import listed, new_code
from kiosk.staff.enrolment import enrol_with_first_manager, needs_manager
from kiosk.staff.errors import PinsDiffer
from kiosk.store.engine import Store
from tests.actors import PIN


def test_differing_pins_leave_neither_device_nor_manager(store: Store, site: Site, now: datetime) -> None:
    with store.write() as session:
        code = new_code(session, site, "first", "tablet", None, now)
    fields = {"code": code, "name": "Ana", "pin": PIN, "language": "en"}
    with pytest.raises(PinsDiffer), store.write() as session:
        enrol_with_first_manager(session, site, **fields, pin_again="402918", now=now)
    with store.read() as session:
        assert needs_manager(session)
        assert [one.state for one in listed(session)] == ["waiting"]
    with store.write() as session:
        enrol_with_first_manager(session, site, **fields, pin_again=PIN, now=now)
        assert not needs_manager(session)
