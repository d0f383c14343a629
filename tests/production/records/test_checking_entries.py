"""An entry is checked against what stands upstream of it, and against nothing else."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from sqlalchemy import event

from kiosk.production.forms.definitions import FORMS
from kiosk.production.records.forms import typed_values
from kiosk.production.records.submission import submit_form
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.production.conftest import Enter, taker
from tests.production.records.test_submission import AT, METER, RIGHT, faults_of

DRAWN = {"volume_l": "1", "volume_temperature_c": "20", "reading": "60", **METER}


def test_a_loop_is_refused(fill_in: Enter) -> None:
    """What came out of the run cannot go into it: SR-1 -> its heads -> F-2 -> SR-1."""
    fill_in("cask-fill", **RIGHT["cask-fill"])
    back = {"cask": "C-2", "at": "2026-06-15 10:00", "to_kind": "run", "to": "SR-1", **DRAWN}
    assert "to" in faults_of(fill_in, "transfer", **{**back, "volume_l": "0.1"})


def test_a_draw_into_what_was_drawn_from_is_refused(fill_in: Enter) -> None:
    fill_in("cask-fill", **RIGHT["cask-fill"])
    fill_in("transfer", cask="C-1", at=AT, to_kind="fill", to="F-2", **DRAWN)
    fill_in("transfer", cask="C-2", at="2026-06-15 10:00", to_kind="lot", to="BL-1", **DRAWN)
    late = {"cask": "C-1", "at": "2026-06-15 11:00", "to_kind": "fill", "to": "F-2", **DRAWN}
    assert "at" in faults_of(fill_in, "transfer", **late)


def test_a_draw_written_late_that_came_before_a_filling_is_refused(fill_in: Enter) -> None:
    """The same the other way round: the filling was recorded first."""
    fill_in("cask-fill", **RIGHT["cask-fill"])
    fill_in("transfer", cask="C-1", at="2026-06-15 11:00", to_kind="fill", to="F-2", **DRAWN)
    early = {"cask": "C-2", "at": "2026-06-15 10:00", "to_kind": "lot", "to": "BL-1", **DRAWN}
    assert "at" in faults_of(fill_in, "transfer", **early)


def test_more_than_a_receiver_held_is_refused_whoever_confirms_it(fill_in: Enter) -> None:
    over = {**RIGHT["cask-fill"], "volume_l": "9"}
    assert "volume_l" in faults_of(fill_in, "cask-fill", confirmed=True, **over)


def test_an_entry_asks_as_much_of_many_records_as_of_few(
    sqlite_store: Store, site: Site, tmp_path: Path, now: datetime
) -> None:
    """Neither more statements nor rows of batches that have nothing to do with it."""
    take = taker(sqlite_store, site, tmp_path / "records", now)
    take()
    counts = []
    for n in range(2):
        asked: list[str] = []
        with sqlite_store.write() as session:
            connection = session.connection()

            def count(*arguments: object, said: list[str] = asked) -> None:
                said.append(str(arguments[2]))

            event.listen(connection, "before_cursor_execute", count)
            cells = {**RIGHT["transfer"], "to_kind": "lot", "to": "BL-1", "at": f"2026-06-15 09:{n:02d}"}
            values = typed_values(FORMS["transfer"].fields, cells, site)
            submit_form(session, site, FORMS["transfer"], values, by=None, at=now)
            event.remove(connection, "before_cursor_execute", count)
        counts.append(len(asked))
        more = "".join(f"F-{i},C-{i},BAJA,2026-05-01 08:00,2026-05-02 08:00\n" for i in range(100, 200))
        casks = "".join(f"C-{i},used oak,200,45\n" for i in range(100, 200))
        head = "C-1,used oak,200,45\n"
        take(("casks.csv", head, head + casks), ("fills.csv", "F-1,C-1", more + "F-1,C-1"))
    assert counts[0] == counts[1]
    assert not any("FROM batches" in said and "WHERE" not in said for said in asked)
