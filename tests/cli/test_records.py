"""Importing records at the console."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import shutil
from pathlib import Path

from kiosk.site.shipped import shipped
from tests.cli.command import kiosk, own_environment
from tests.commands import start


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
    wanted = ("import", str(tmp_path / "many"), "--site", str(new_site[0]))
    assert kiosk(*wanted, "--dry-run").stderr == ""
    ours, theirs = pty.openpty()
    with open(os.devnull, "r+b") as nothing:
        files = {"stdin": nothing.fileno(), "stdout": nothing.fileno(), "stderr": theirs}
        running = start(*wanted, "--yes", **files, environment=own_environment())
    os.close(theirs)
    shown = b""
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
