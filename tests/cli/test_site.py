"""Starting, checking and tending a site: plain sentences, exit codes, a site that can be served."""

from __future__ import annotations

import re
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.cli.site import first_code
from kiosk.site.loading import load_site
from kiosk.site.shipped import shipped
from kiosk.store.engine import open_store
from kiosk.store.migrate import is_current
from tests.actors import Screen
from tests.cli.command import kiosk


def test_a_new_site_keeps_its_secret_to_itself_and_has_a_current_database(
    new_site: tuple[Path, str],
) -> None:
    folder, _ = new_site
    for file in ("secret", "site.toml"):  # the settings may hold the password of a database
        assert stat.S_IMODE((folder / file).stat().st_mode) == 0o600
    store = open_store(load_site(folder).database)
    assert is_current(store)
    store.close()


def test_a_new_site_has_no_fault(new_site: tuple[Path, str]) -> None:
    done = kiosk("check", "--site", str(new_site[0]))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"All is well in {new_site[0]}: ")


def test_the_demo_has_no_fault() -> None:
    done = kiosk("check", "--site", str(shipped("demo_site")))
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) == 1


def test_the_code_of_a_new_site_enrols_its_first_device_and_manager_once(new_site: tuple[Path, str]) -> None:
    folder, told = new_site
    code = re.search(r"code: (\S+)", told)[1]  # type: ignore[index]
    site = load_site(folder)
    store = open_store(site.database)
    fresh = first_code(store, site, datetime.now(UTC))
    assert fresh not in (None, code), "a code that ran out must not lock the owner out"
    code = str(fresh)
    screen = Screen(create_app(site, store))
    wanted = {"code": code, "name": "Ana", "pin": "402917", "pin_again": "402917"}
    first = screen.post("/staff/enrol", **wanted)
    signed_in = screen.sign_in(1)
    manual = screen.get("/staff/manual/start")
    again = Screen(create_app(site, store)).post("/staff/enrol", **wanted)
    assert first_code(store, site, datetime.now(UTC)) is None
    store.close()
    assert first.status_code == 302
    assert signed_in.status_code == 302
    assert "<h1>Getting started</h1>" in manual.get_data(as_text=True)
    assert again.status_code >= 400


def test_a_folder_in_use_is_left_alone(new_site: tuple[Path, str]) -> None:
    before = sorted(new_site[0].iterdir())
    done = kiosk("init", str(new_site[0]))
    assert done.returncode == 1
    assert "is not empty" in done.stderr
    assert sorted(new_site[0].iterdir()) == before


@pytest.mark.parametrize(
    ("language", "sentence"),
    [
        ("C.UTF-8", 'currency: found "doubloons"'),
        ("es_ES.UTF-8", 'línea 10: currency: dice "doubloons"'),
    ],
)
def test_check_and_serve_say_every_fault_in_the_consoles_language(
    estate: Path, language: str, sentence: str
) -> None:
    settings = estate / "site.toml"
    text = settings.read_text().replace('currency = "USD"', 'currency = "doubloons"')
    settings.write_text(text.replace("retention_days = 30", "retention_days = -3"))
    for command in (("check", "--site", str(estate)), ("serve", "--site", str(estate), "--port", "0")):
        done = kiosk(*command, LANG=language)
        assert done.returncode == 1
        assert sentence in done.stderr
        assert "retention_days" in done.stderr
        assert "Traceback" not in done.stderr


def test_the_daily_run_works_beside_an_open_site_and_says_so(estate: Path) -> None:
    store = open_store(load_site(estate).database)
    with store.read() as session:
        session.connection()
    done = kiosk("daily", "--site", str(estate))
    with store.write() as session:
        session.connection()
    store.close()
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[-1] == "All done."
    assert len(list((estate / "backups").glob("new-estate-*.zip"))) == 1


def test_a_daily_run_that_could_not_do_all_ends_in_one(estate: Path) -> None:
    (estate / "backups").write_text("in the way")
    done = kiosk("daily", "--site", str(estate))
    assert done.returncode == 1
    assert "Not done: " in done.stdout
    assert "Traceback" not in done.stderr


def test_a_daily_run_makes_no_database(estate: Path) -> None:
    (estate / "kiosk.sqlite").unlink()
    done = kiosk("daily", "--site", str(estate))
    assert done.returncode == 1
    assert "start kiosk serve once" in done.stderr
    assert not (estate / "kiosk.sqlite").exists()
