"""The steps of the daily run: one that fails is told and stops no other; a whole run is written down."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from kiosk.daily import BACKUPS, Daily, NotReady
from kiosk.store import audit
from kiosk.store.audit import ClockDoubted, mark_site
from kiosk.store.engine import open_store
from kiosk.store.errors import OtherSite
from kiosk.store.migrate import downgrade
from kiosk.store.tables.staff import sign_ins
from kiosk.words.catalogs import load_words
from tests.actors import site_files
from tests.tasting_room import Tasting, tasting_site


@pytest.fixture
def tasting(database_url: str, tmp_path: Path, now) -> Iterator[Tasting]:
    """A tasting whose site knows its own database."""
    store = open_store(database_url)
    site_files(tmp_path)
    yield Tasting.begun(store, tasting_site(tmp_path, database=database_url), now)
    store.close()


def run(tasting: Tasting, language: str = "en", locale: str = "en_US") -> tuple[bool, list[str]]:
    said: list[str] = []
    words = load_words(Path("locales"), language, locale)
    daily = Daily(tasting.site, tasting.store, words, tasting.now, said.append, lambda: None)
    return daily.run(), said


def noted(tasting: Tasting):
    with tasting.store.read() as session:
        return audit.last_recorded(session, audit.DAILY)


def test_a_run_tells_what_it_did_and_is_written_down(tasting: Tasting) -> None:
    done, said = run(tasting)
    assert done
    assert said[-1] == "All done."
    assert noted(tasting) == tasting.now
    assert any(str(tasting.site.folder / BACKUPS / "small-site-2026-06-16.zip") in line for line in said)


def test_it_speaks_the_sites_first_language(tasting: Tasting) -> None:
    english, spanish = run(tasting)[1], run(tasting, "es", "es_PR")[1]
    assert spanish[-1] == "Todo listo."
    assert len(english) == len(spanish)
    assert not set(english) & set(spanish)


def test_a_step_that_fails_stops_no_other_and_no_whole_run_is_noted(tasting: Tasting) -> None:
    (tasting.site.folder / BACKUPS).write_text("a file where the folder should be")
    done, said = run(tasting)
    assert not done
    assert any(line.startswith("Not done: ") and BACKUPS in line for line in said)
    assert "Old sign-ins removed." in said
    assert noted(tasting) is None


def test_old_sign_ins_go(tasting: Tasting) -> None:
    for days in (1, 9):
        at = tasting.now - timedelta(days=days)
        with tasting.store.write() as session:
            session.execute(sign_ins.insert().values(at=at, staff_id=tasting.ana, ok=True))
    run(tasting)
    with tasting.store.read() as session:
        assert len(session.execute(sign_ins.select()).all()) == 1


def test_the_database_of_another_site_or_release_is_left_alone(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        mark_site(session, "other-site", at=tasting.now)
    with pytest.raises(OtherSite):
        run(tasting)
    tasting.store.close()
    downgrade(tasting.site.database, "0001")
    with pytest.raises(NotReady):
        run(tasting)


def test_a_clock_behind_the_records_does_nothing(tasting: Tasting) -> None:
    tasting.check()
    tasting.now -= timedelta(days=1)
    with pytest.raises(ClockDoubted):
        run(tasting)
    assert noted(tasting) is None
