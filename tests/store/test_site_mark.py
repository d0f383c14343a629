"""A database belongs to one site for ever."""

from __future__ import annotations

from datetime import datetime

import pytest

from kiosk.store.engine import Store
from kiosk.store.errors import OtherSite
from kiosk.store.site_mark import mark_site, marked_site


def test_a_new_database_is_nobodys(store: Store) -> None:
    with store.read() as session:
        assert marked_site(session) is None


def test_the_first_mark_stands_and_the_same_site_may_come_again(store: Store, now: datetime) -> None:
    for _ in range(2):
        with store.write() as session:
            mark_site(session, "loma-candil", at=now)
    with store.read() as session:
        assert marked_site(session) == "loma-candil"


def test_another_site_is_refused(store: Store, now: datetime) -> None:
    with store.write() as session:
        mark_site(session, "loma-candil", at=now)
    with pytest.raises(OtherSite) as told, store.write() as session:
        mark_site(session, "other", at=now)
    assert told.value.found == "loma-candil"
