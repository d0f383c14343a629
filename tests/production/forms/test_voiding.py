"""A record is taken back with its reason, once what rests on it is gone; it stays readable."""

from __future__ import annotations

from datetime import datetime

import pytest
from sqlalchemy import select

from kiosk.production.forms.corrections import Correction, Dependents, dependents, versions, void
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.errors import InUse, Stale
from kiosk.store.rows import versions as counted
from kiosk.store.tables import production as t
from tests.production.conftest import Take


def id_of(store: Store, kind: str, code: str) -> int:
    """Return the id of a batch."""
    with store.read() as session:
        b = t.batches.c
        return session.scalars(select(b.id).where(b.kind == kind, b.code == code)).one()


@pytest.fixture
def because(now: datetime) -> Correction:
    """A reason."""
    return Correction(None, now, "written twice")


def test_what_rests_on_a_fill_is_named_and_the_fill_stays(
    take: Take, store: Store, because: Correction
) -> None:
    take()
    fill = id_of(store, "fill", "F-1")
    with store.read() as session:
        resting = {one.table: one for one in dependents(session, "fills", fill)}
    assert {name: one.count for name, one in resting.items()} == {"gauges": 2, "cask_events": 1, "draws": 1}
    assert resting["gauges"] == Dependents("gauges", 2, (1, 2))
    with pytest.raises(InUse), store.write() as session:
        void(session, "fills", fill, 1, because)
    assert id_of(store, "fill", "F-1") == fill


def test_a_record_taken_back_leaves_the_figures_and_stays_readable(
    take: Take, store: Store, site: Site, because: Correction
) -> None:
    take()
    vat = id_of(store, "blend", "VAT-1")
    with store.write() as session:
        before = counted(session)["lots"]
        (drawn,) = session.scalars(select(t.draws.c.id).where(t.draws.c.to_id == vat))
        void(session, "draws", drawn, 1, because)
        assert dependents(session, "blends", vat) == []
        void(session, "blends", vat, 1, because)
    with store.read() as session:
        assert session.scalar(select(t.blends.c.id)) is None
        (said,) = versions(session, "blends", vat)
        assert counted(session)["lots"] > before
    assert (said.act, said.why, said.values["code"], said.values["volume_l"]) == (
        "voided",
        "written twice",
        "VAT-1",
        2,
    )


def test_a_file_read_again_does_not_bring_it_back(take: Take, store: Store, because: Correction) -> None:
    take()
    with store.write() as session:
        void(session, "gauges", 2, 1, because)
    report = take()
    assert report.files["gauges.csv"].voided == 1
    with store.read() as session:
        assert list(session.scalars(select(t.gauges.c.id))) == [1]


def test_the_second_of_two_who_take_it_back_is_told(take: Take, store: Store, because: Correction) -> None:
    take()
    with store.write() as session:
        void(session, "gauges", 2, 1, because)
    with pytest.raises(Stale), store.write() as session:
        void(session, "gauges", 2, 1, because)
