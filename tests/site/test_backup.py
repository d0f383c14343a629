"""A site's backup is whole, its owner's own and checked, and comes back into an empty folder."""

from __future__ import annotations

import json
import os
import shutil
import stat
import zipfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import make_url

from kiosk.site import backup
from kiosk.site.backup import BackupDamaged, back_up, check_backup, restore
from kiosk.site.faults import FolderInUse
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import NEW_SITE
from kiosk.store import rows
from kiosk.store.engine import Store, open_store
from kiosk.store.errors import StoreError
from kiosk.store.migrate import MigrationFault, downgrade, newest
from kiosk.store.tables.production import casks
from kiosk.store.tables.shared import changes
from tests.databases import NOW, Postgres

DAY = date(2026, 6, 16)
NAME = "new-estate-2026-06-16.zip"


@pytest.fixture
def site(tmp_path: Path, database_url: str, monkeypatch: pytest.MonkeyPatch) -> Site:
    """A site with content of its own, its database of each kind in turn."""
    monkeypatch.delenv("KIOSK_DATABASE", raising=False)
    folder = tmp_path / "estate"
    shutil.copytree(NEW_SITE, folder)
    make_secret(folder)
    (folder / "content" / "stops" / "mill").mkdir(parents=True)
    (folder / "content" / "stops" / "mill" / "guest.en.md").write_text(
        "# The Mill\n\nÑame\n", encoding="utf-8"
    )
    (folder / "records" / "casks.csv").write_text("code\n")
    (folder / "pictures").mkdir()
    Image.new("RGB", (40, 40), "#471340").save(folder / "pictures" / "mark.png")
    settings = (folder / "site.toml").read_text(encoding="utf-8")
    named = settings.replace('# [images]\n# mark = "', '[images]\nmark = "pictures/')
    (folder / "site.toml").write_text(named, encoding="utf-8")
    (folder / "server.log").write_text("not of the site")
    if database_url.startswith("postgresql"):
        return load_site(folder, database=database_url)
    shutil.move(tmp_path / "kiosk.sqlite", folder / "kiosk.sqlite")
    return load_site(folder)


@pytest.fixture
def store(site: Site) -> Iterator[Store]:
    """The site's database, open and just written to."""
    opened = open_store(site.database)
    _add(opened, "C1")
    yield opened
    opened.close()


def _add(store: Store, code: str) -> None:
    with store.write() as session:
        rows.insert(session, casks, {"code": code, "wood": "oak", "capacity_ml": 200_000})


def _codes(url: str) -> list[str]:
    store = open_store(url)
    with store.read() as session:
        codes = list(session.scalars(casks.select().with_only_columns(casks.c.code).order_by(casks.c.id)))
    store.close()
    return codes


def test_a_backup_comes_back_whole(site: Site, store: Store, tmp_path: Path) -> None:
    file = back_up(site, store, site.folder / "backups", DAY)
    assert file == site.folder / "backups" / NAME
    done = restore(file, tmp_path / "other" / "place")
    assert done.folder == tmp_path / "other" / "place"
    assert done.rows["casks"] == 1
    for name in (
        "site.toml",
        "products.toml",
        "secret",
        "content/stops/mill/guest.en.md",
        "records/casks.csv",
        "pictures/mark.png",
    ):
        assert (done.folder / name).read_bytes() == (site.folder / name).read_bytes(), name
    assert not (done.folder / "server.log").exists()
    again = load_site(done.folder)
    assert again.secret == site.secret
    assert _codes(again.database) == ["C1"]
    assert [path.name for path in (tmp_path / "other").iterdir()] == ["place"]


def test_what_a_backup_writes_is_for_its_owner_alone(site: Site, store: Store, tmp_path: Path) -> None:
    file = back_up(site, store, site.folder / "backups", DAY)
    done = restore(file, tmp_path / "back")
    modes = {
        path: stat.S_IMODE(path.stat().st_mode)
        for path in (file.parent, file, done.folder, *done.folder.rglob("*"))
    }
    assert {mode for path, mode in modes.items() if path.is_dir()} == {0o700}
    assert {mode for path, mode in modes.items() if path.is_file()} == {0o600}


def test_a_second_backup_of_a_day_replaces_the_first(site: Site, store: Store, tmp_path: Path) -> None:
    back_up(site, store, site.folder / "backups", DAY)
    _add(store, "C2")
    file = back_up(site, store, site.folder / "backups", DAY)
    assert [path.name for path in file.parent.iterdir()] == [NAME]
    assert _codes(load_site(restore(file, tmp_path / "back").folder).database) == ["C1", "C2"]


def test_no_id_is_given_again_after_a_restore(site: Site, store: Store, tmp_path: Path) -> None:
    with store.write() as session:
        gone = rows.insert(session, casks, {"code": "gone", "wood": "oak", "capacity_ml": 1})
        rows.void(session, casks, gone, 1, by=None, at=NOW)
    folder = restore(back_up(site, store, tmp_path, DAY), tmp_path / "back").folder
    back = open_store(load_site(folder).database)
    with back.write() as session:
        assert rows.insert(session, casks, {"code": "new", "wood": "oak", "capacity_ml": 1}) == gone + 1
    back.close()


def test_nothing_is_restored_over_anything(site: Site, store: Store, tmp_path: Path) -> None:
    file = back_up(site, store, tmp_path, DAY)
    (tmp_path / "used").mkdir()
    (tmp_path / "used" / "note").write_text("mine")
    (tmp_path / "file").write_text("mine")
    for folder in (site.folder, tmp_path / "used", tmp_path / "file"):
        with pytest.raises(FolderInUse):
            restore(file, folder)
    assert [path.name for path in (tmp_path / "used").iterdir()] == ["note"]
    (tmp_path / "empty").mkdir()
    assert restore(file, tmp_path / "empty").rows["casks"] == 1


def _rewritten(file: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    with zipfile.ZipFile(file) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    change(parts)
    with zipfile.ZipFile(file, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return file


def _manifest(parts: dict[str, bytes], **values: object) -> None:
    parts["manifest.json"] = json.dumps({**json.loads(parts["manifest.json"]), **values}).encode()


def _without_rows(parts: dict[str, bytes]) -> None:
    counted = json.loads(parts["manifest.json"])["rows"]
    _manifest(parts, rows={**counted, "casks": 2})


def _escaping(parts: dict[str, bytes]) -> None:
    parts["../outside"] = b""
    listed = json.loads(parts["manifest.json"])["files"]
    _manifest(parts, files={**listed, "../outside": backup._sha256(Path(os.devnull))})


DAMAGES: dict[str, Callable[[dict[str, bytes]], None]] = {
    "a changed file": lambda parts: parts.update({"site.toml": parts["site.toml"] + b"#"}),
    "a missing file": lambda parts: (parts.pop("content/stops/mill/guest.en.md"), None)[1],
    "a file too many": lambda parts: parts.update({"extra": b""}),
    "no manifest": lambda parts: (parts.pop("manifest.json"), None)[1],
    "a manifest of another shape": lambda parts: parts.update({"manifest.json": b"[]"}),
    "a later format": lambda parts: _manifest(parts, format=2),
    "other counts": _without_rows,
    "a name that leads out": _escaping,
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES.keys())
def test_a_damaged_backup_restores_nothing(
    site: Site, store: Store, tmp_path: Path, damage: Callable[[dict[str, bytes]], None]
) -> None:
    file = _rewritten(back_up(site, store, tmp_path / "backups", DAY), damage)
    with pytest.raises(BackupDamaged):
        restore(file, tmp_path / "back" / "estate")
    assert list((tmp_path / "back").iterdir()) == []
    assert not (tmp_path / "outside").exists()


def test_spoilt_bytes_and_other_files_are_told_apart_from_a_backup(
    site: Site, store: Store, tmp_path: Path
) -> None:
    file = back_up(site, store, tmp_path, DAY)
    data = bytearray(file.read_bytes())
    data[200:260] = os.urandom(60)  # in the middle of the packed database
    spoilt = tmp_path / "spoilt.zip"
    spoilt.write_bytes(data)
    (tmp_path / "note.zip").write_text("no archive")
    for path in (spoilt, tmp_path / "note.zip"):
        with pytest.raises(BackupDamaged):
            check_backup(path)


def test_a_backup_that_fails_its_check_is_not_kept_and_the_former_one_stands(
    site: Site, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = back_up(site, store, site.folder / "backups", DAY)
    whole = file.read_bytes()
    monkeypatch.setattr(backup, "_sha256", lambda path: str(path))
    with pytest.raises(BackupDamaged):
        back_up(site, store, site.folder / "backups", DAY)
    assert [path.name for path in file.parent.iterdir()] == [NAME]
    assert file.read_bytes() == whole


def test_a_database_that_the_disk_has_spoilt_is_not_backed_up(sqlite_store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "estate"
    shutil.copytree(NEW_SITE, folder)
    make_secret(folder)
    with sqlite_store.write() as session:
        session.execute(changes.insert().values(subject="casks", n=1))
    sqlite_store.close()
    data = bytearray((tmp_path / "kiosk.sqlite").read_bytes())
    data[3 * 4096 : 3 * 4096 + 64] = os.urandom(64)
    (folder / "kiosk.sqlite").write_bytes(data)
    site = load_site(folder, database=f"sqlite:///{folder / 'kiosk.sqlite'}")
    store = open_store(site.database)
    with pytest.raises(Exception, match=r"damaged|malformed|backed up"):
        back_up(site, store, folder / "backups", DAY)
    store.close()
    assert list((folder / "backups").iterdir()) == []


def test_a_full_disk_leaves_the_former_backup(
    site: Site, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = back_up(site, store, site.folder / "backups", DAY)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup, "_write_archive", full)
    with pytest.raises(OSError, match="No space"):
        back_up(site, store, site.folder / "backups", DAY)
    assert [path.name for path in file.parent.iterdir()] == [NAME]


def test_a_site_comes_back_into_the_database_that_it_names(
    site: Site, store: Store, tmp_path: Path, postgresql: Postgres, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = back_up(site, store, tmp_path, DAY)
    with postgresql.database() as url:
        monkeypatch.setenv("KIOSK_DATABASE", url)
        done = restore(file, tmp_path / "back")
        assert done.rows["casks"] == 1
        assert done.database == make_url(url).render_as_string()
        assert not (done.folder / "kiosk.sqlite").exists()
        assert _codes(url) == ["C1"]
        with pytest.raises(StoreError):  # it is in use now
            restore(file, tmp_path / "second")
    assert not (tmp_path / "second").exists()


def test_a_backup_of_an_earlier_release_is_migrated_and_one_of_a_later_release_refused(
    tmp_path: Path, sqlite_database_url: str
) -> None:
    folder = tmp_path / "estate"
    shutil.copytree(NEW_SITE, folder)
    make_secret(folder)
    shutil.move(tmp_path / "kiosk.sqlite", folder / "kiosk.sqlite")
    site = load_site(folder)
    downgrade(site.database, "0013")
    store = open_store(site.database)
    early = back_up(site, store, tmp_path, DAY)
    with store.write() as session:
        session.connection().exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    late = back_up(site, store, tmp_path / "late", DAY)
    store.close()
    back = open_store(load_site(restore(early, tmp_path / "back").folder).database)
    with back.read() as session:
        found = session.connection().exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
    back.close()
    assert found == newest()
    with pytest.raises(MigrationFault, match="newer release"):
        restore(late, tmp_path / "never")
    assert not (tmp_path / "never").exists()
