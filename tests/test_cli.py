"""The command: plain sentences, exit codes, and a new site that can be served."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import shutil
import socket
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.serving import free_port
from kiosk.site.loading import load_site
from kiosk.site.shipped import shipped
from kiosk.starting import first_code
from kiosk.store.engine import open_store
from kiosk.store.migrate import is_current
from kiosk.store.tables.tasting import measure_checks
from tests.actors import Screen


def kiosk(*words: str, said: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a person would."""
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("KIOSK_", "LC_"))}
    return subprocess.run(
        [sys.executable, "-m", "kiosk", *words],
        capture_output=True,
        input=said,
        text=True,
        timeout=60,
        check=False,
        env={**inherited, "LANG": "C.UTF-8", **environment},
    )


@pytest.fixture(scope="module")
def new_site(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A site made by `kiosk init`, and what it said."""
    folder = tmp_path_factory.mktemp("init") / "estate"
    done = kiosk("init", str(folder))
    assert done.returncode == 0, done.stderr
    return folder, done.stdout


@pytest.mark.parametrize("command", ["demo", "init", "serve", "check", "import", "daily"])
def test_every_command_explains_itself(command: str) -> None:
    assert command in kiosk("--help").stdout
    told = kiosk(command, "--help")
    assert told.returncode == 0
    assert len(told.stdout.splitlines()) > 4


def test_a_new_site_keeps_its_secret_to_itself_and_has_a_current_database(
    new_site: tuple[Path, str],
) -> None:
    folder, _ = new_site
    assert stat.S_IMODE((folder / "secret").stat().st_mode) == 0o600
    store = open_store(load_site(folder).database)
    assert is_current(store)
    store.close()


def test_a_new_site_has_no_fault(new_site: tuple[Path, str]) -> None:
    done = kiosk("check", "--site", str(new_site[0]))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_demo_has_no_fault() -> None:
    done = kiosk("check", "--site", str(shipped("demo_site")))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


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
    tmp_path: Path, language: str, sentence: str
) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    settings = folder / "site.toml"
    text = settings.read_text().replace('currency = "USD"', 'currency = "doubloons"')
    settings.write_text(text.replace("retention_days = 30", "retention_days = -3"))
    for command in (("check", "--site", str(folder)), ("serve", "--site", str(folder), "--port", "0")):
        done = kiosk(*command, LANG=language)
        assert done.returncode == 1
        assert sentence in done.stderr
        assert "retention_days" in done.stderr
        assert "Traceback" not in done.stderr


def test_an_unknown_word_is_told_with_a_usage(tmp_path: Path) -> None:
    done = kiosk("pour")
    assert done.returncode == 2
    assert "Usage" in done.stderr


def test_a_port_that_is_taken_is_a_plain_sentence(new_site: tuple[Path, str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        done = kiosk("serve", "--site", str(new_site[0]), "--port", str(other.getsockname()[1]))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "in use" in done.stderr


def test_an_import_says_what_it_would_do_and_does_it_once_after_a_yes(new_site: tuple[Path, str]) -> None:
    wanted = ("import", str(shipped("demo_site") / "records"), "--site", str(new_site[0]))
    for tried, last in (
        (kiosk(*wanted, "--dry-run"), "Nothing was"),
        (kiosk(*wanted, said="n\n"), "Nothing was"),
    ):
        assert re.search(r"^casks\.csv: [1-9]\d* new$", tried.stdout, re.MULTILINE)
        assert (tried.stdout.splitlines()[-1].find(last) >= 0, tried.returncode) == (True, 0)
    first, again = kiosk(*wanted, said="y\n"), kiosk(*wanted, "--yes")
    assert (first.returncode, first.stderr) == (0, "")
    assert first.stdout.endswith("Recorded.\n")
    assert re.search(r"^casks\.csv: [1-9]\d* the same$", again.stdout, re.MULTILINE)
    assert again.stdout.endswith("These files say nothing new.\n")


def test_long_work_shows_how_far_it_is_on_a_terminal_and_nowhere_else(
    new_site: tuple[Path, str], tmp_path: Path
) -> None:
    (tmp_path / "many").mkdir()
    rows = "".join(f"F-{n},striped,{n + 1}\n" for n in range(6000))
    (tmp_path / "many" / "fields.csv").write_text("code,variety,area_m2\n" + rows)
    wanted = ("import", str(tmp_path / "many"), "--site", str(new_site[0]), "--dry-run")
    assert kiosk(*wanted).stderr == ""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "kiosk", *wanted]
    shown = b""
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs) as running:
        os.close(theirs)
        with contextlib.suppress(OSError):  # so a terminal ends when nobody holds its other side
            while read := os.read(ours, 4096):
                shown += read
        assert running.wait(60) == 0
    os.close(ours)
    assert re.search(rb"Reading the files.*100%", shown)
    assert re.search(rb"Recording.*100%", shown)


def test_a_wrong_record_is_told_with_its_place_and_nothing_is_taken_in(
    new_site: tuple[Path, str], tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(shipped("demo_site") / "records", tmp_path / "records"))
    stores = folder / "stores.csv"
    stores.write_text(stores.read_text() + "\n,nameless\n")
    done = kiosk("import", str(folder), "--site", str(new_site[0]), LANG="es_PR.UTF-8")
    assert done.returncode == 1
    assert "stores.csv, fila" in done.stderr
    assert "Registrado" not in done.stdout


@pytest.mark.parametrize("words", ["this is no database", "a" * 4096])
def test_a_file_that_is_no_database_is_told_in_a_sentence(
    new_site: tuple[Path, str], tmp_path: Path, words: str
) -> None:
    folder = Path(shutil.copytree(new_site[0], tmp_path / "estate"))
    (folder / "kiosk.sqlite").write_text(words)
    told = kiosk("serve", "--site", str(folder))
    assert told.returncode == 1
    assert told.stderr.startswith("The site's database cannot be used:")
    assert "Traceback" not in told.stderr


def test_the_database_of_another_site_is_not_opened(tmp_path: Path) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    records = shipped("demo_site") / "records"
    assert kiosk("import", str(records), "--site", str(folder), "--yes").returncode == 0
    settings = folder / "site.toml"
    settings.write_text(settings.read_text().replace('key = "new-estate"', 'key = "other-estate"'))
    done = kiosk("serve", "--site", str(folder), "--port", "0")
    assert done.returncode == 1
    assert "new-estate" in done.stderr


def test_the_daily_run_works_beside_an_open_site_and_says_so(tmp_path: Path) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    store = open_store(load_site(folder).database)
    with store.read() as session:
        session.connection()
    done = kiosk("daily", "--site", str(folder))
    with store.write() as session:
        session.connection()
    store.close()
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[-1] == "All done."
    assert len(list((folder / "backups").glob("kiosk-*.sqlite"))) == 1


def test_a_daily_run_that_could_not_do_all_ends_in_one(tmp_path: Path) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    (folder / "backups").write_text("in the way")
    done = kiosk("daily", "--site", str(folder))
    assert done.returncode == 1
    assert "Not done: " in done.stdout
    assert "Traceback" not in done.stderr


def test_a_daily_run_makes_no_database(tmp_path: Path) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    (folder / "kiosk.sqlite").unlink()
    done = kiosk("daily", "--site", str(folder))
    assert done.returncode == 1
    assert "start kiosk serve once" in done.stderr
    assert not (folder / "kiosk.sqlite").exists()


def test_a_clock_behind_the_records_serves_nobody_until_somebody_says_that_it_is_right(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "estate"
    assert kiosk("init", str(folder)).returncode == 0
    ahead = datetime.now(UTC) + timedelta(days=2)
    store = open_store(load_site(folder).database)
    with store.write() as session:
        entry = {"key": "a" * 32, "at": ahead, "recorded_at": ahead, "measure": "x", "weights_g": []}
        session.execute(measure_checks.insert().values(entry))
    store.close()
    port = free_port("127.0.0.1", 0)
    for command in (("serve", "--site", str(folder), "--port", str(port)), ("daily", "--site", str(folder))):
        refused = kiosk(*command)
        assert refused.returncode == 1
        assert f"something was recorded at {ahead:%Y-%m-%d %H:%M}" in refused.stderr
    command = [sys.executable, "-m", "kiosk", "serve", "--site", str(folder), "--port", str(port)]
    server = subprocess.Popen([*command, "--clock-is-right"], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    assert "Open:\n" in iter(server.stdout.readline, "")
    server.terminate()
    server.communicate(timeout=60)
    assert server.returncode == 0
    assert kiosk("daily", "--site", str(folder)).returncode == 0
