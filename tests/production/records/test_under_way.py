"""A cask, a tank and a still hold one thing at a time; what is under way is ended once."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.conftest import Enter
from tests.production.records.test_submission import AT, RIGHT, faults_of

LATER = {"at": "2026-06-15 10:00"}


@pytest.mark.parametrize(
    ("form", "place", "ends"),
    [("wash-set", "tank", "wash-end"), ("run-start", "still", "run-end")],
)
def test_a_second_is_refused_until_the_first_has_ended(
    fill_in: Enter, form: str, place: str, ends: str
) -> None:
    first, second = RIGHT[form], {**RIGHT[form], "code": "X-9", **LATER}
    fill_in(form, **first)
    assert place in faults_of(fill_in, form, **second)
    what = ends.partition("-")[0]
    assert fill_in(ends, **{what: first["code"], "at": "2026-06-15 09:30"}).ids
    small = {"volume_l_1": "1", "juice_l_1": "1"}
    assert fill_in(form, **{**second, **{name: small[name] for name in small if name in second}}).ids


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"wash": "W-9"}, "wash"),
        ({"wash": "W-1"}, "wash"),  # it ended long ago
        ({"wash": "W-2", "at": "2026-06-15 08:00"}, "at"),  # before it was set
        ({"wash": "W-2", "at": "2026-06-17 08:00"}, "at"),  # tomorrow
    ],
)
def test_what_cannot_end_is_told_beside_its_field(fill_in: Enter, wrong: dict[str, str], field: str) -> None:
    fill_in("wash-set", **RIGHT["wash-set"])
    assert field in faults_of(fill_in, "wash-end", **{**LATER, **wrong})


def test_topping_ends_the_fill_and_begins_another(fill_in: Enter, store: Store) -> None:
    fill_in("top-up", **RIGHT["top-up"])
    f, b = t.fills.c, t.batches.c
    with store.read() as session:
        casks = select(b.code, f.filled_at, f.emptied_at).join(t.fills, f.id == b.id)
        found = {row.code: row for row in session.execute(casks)}
        d = t.draws.c
        into = select(b.code, d.amount, d.volume_ml).join(t.draws, d.from_id == b.id)
        new = session.scalars(select(b.id).where(b.kind == "fill", b.code == "F-3")).one()
        drawn = {row.code: row for row in session.execute(into.where(d.to_id == new))}
        gauge = session.execute(select(t.gauges).where(t.gauges.c.fill_id == new)).one()
    assert found["F-1"].emptied_at == found["F-3"].filled_at
    assert found["F-3"].emptied_at is None
    assert drawn["SR-1-HD"].amount == 770
    assert sum(row.amount for row in drawn.values()) == gauge.alcohol_ml
    assert sum(row.volume_ml for row in drawn.values()) == gauge.volume20_ml
    assert "cask" in faults_of(fill_in, "leak", cask="C-1", at="2026-06-07 09:00")


def test_more_cannot_be_added_than_the_cask_then_holds(fill_in: Enter) -> None:
    wrong = {**RIGHT["top-up"], "added_l": "200"}
    assert "volume_l" in faults_of(fill_in, "top-up", **wrong)


def test_the_new_fill_of_a_full_cask_is_refused(fill_in: Enter) -> None:
    assert "cask" in faults_of(fill_in, "cask-fill", **{**RIGHT["cask-fill"], "cask": "C-1", "at": AT})
