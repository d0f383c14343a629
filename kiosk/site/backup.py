"""The backup of a whole site: one archive, checked when it is written and again when it is restored.

The archive is a zip file with the database as one SQLite file, whichever database the
site uses, the settings, the secret, the content and the files of records. Its
`manifest.json` has the SHA-256 of each file and the number of rows of each table.
Whoever has the archive has the secret and the names in it: it is its owner's alone.
"""

import hashlib
import json
import os
import shutil
import tempfile
import tomllib
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from kiosk import __version__
from kiosk.site.faults import FolderInUse
from kiosk.site.loading import CLOCK_FILE, DATABASE_FILE, database_address
from kiosk.site.secret import NAME as SECRET
from kiosk.site.settings import Site
from kiosk.store import sqlite
from kiosk.store.copying import copy_database, copy_to_file, rows_in_file
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import newest, upgrade
from kiosk.words.catalogs import N_

SETTINGS = ("site.toml", "products.toml", SECRET)
FOLDERS = ("content", "records")
MANIFEST = "manifest.json"
FORMAT = 1
UNFINISHED = ".part"
"""The end of the names of what a killed run may leave behind."""

_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, FileExistsError)
_MALFORMED = (KeyError, TypeError, AttributeError, ValueError)


class BackupDamaged(Exception):
    """Raised for an archive in which `what` is missing, changed or unknown; nothing was restored or kept."""

    message = N_(
        "{file} is damaged, or is no backup of a site: {what} is not as it was backed up. "
        "Nothing was restored from it."
    )

    def __init__(self, file: Path, what: str) -> None:
        super().__init__(f"{file}: {what}")
        self.facts = {"file": str(file), "what": what}


@dataclass(frozen=True, slots=True)
class Restored:
    """A site brought back: its folder, its database without a password, and the rows of each table."""

    folder: Path
    database: str
    rows: Mapping[str, int]


def back_up(site: Site, store: Store, folder: Path, day: date) -> Path:
    """Write a site's backup into `folder`, named by its day, and return its path.

    A second backup of a day replaces the first. Raises like `write_backup`.
    """
    folder.mkdir(mode=0o700, exist_ok=True)
    return write_backup(site, store, folder / f"{site.key}-{day.isoformat()}.zip")


def write_backup(site: Site, store: Store, file: Path) -> Path:
    """Write a site's backup, check it, give it its name and return that; the site may be in use.

    Raises BackupDamaged for a backup that does not pass its check, OSError where the disk is
    full; a former file of that name then stands.
    """
    with _scratch(file.parent, file.name) as scratch:
        database, archive = scratch / DATABASE_FILE, scratch / file.name
        database.touch(mode=0o600)
        rows = copy_to_file(store, database)
        archive.touch(mode=0o600)
        _write_archive(archive, site, {DATABASE_FILE: database, **_files_of(site)}, rows)
        database.unlink()
        check_backup(archive)
        return archive.replace(file)


def check_backup(file: Path) -> None:
    """Read a backup as `restore` does and keep nothing. Raises BackupDamaged."""
    with _scratch(file.parent, file.name) as scratch:
        _unpack(file, scratch)


def restore(file: Path, folder: Path) -> Restored:
    """Bring a site back from its backup into a new or empty folder, and return what is there now.

    Its database becomes the file in the folder, or, where KIOSK_DATABASE or the site's
    settings name another one, that one, which must be empty. Everything is checked before
    the folder appears. Raises FolderInUse, BackupDamaged, and what `upgrade` and
    `copy_database` raise.
    """
    folder = folder.resolve()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FolderInUse(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    with _scratch(folder.parent, folder.name) as place:
        rows = _unpack(file, place)
        upgrade(sqlite.address_of(place / DATABASE_FILE), backup=False)
        setting = tomllib.loads((place / "site.toml").read_text("utf-8")).get("database")
        address = database_address(folder, setting)
        if sqlite.file_of(address) != folder / DATABASE_FILE:
            rows = _copy_elsewhere(place / DATABASE_FILE, address)
        if folder.exists():
            folder.rmdir()
        place.rename(folder)
    return Restored(folder, sqlite.parse_address(address).render_as_string(), rows)


def _copy_elsewhere(file: Path, address: str) -> Mapping[str, int]:
    store = open_store(sqlite.address_of(file))
    try:
        sums = copy_database(store, address)
    finally:
        store.close()
    file.unlink()
    return {name: one.rows for name, one in sums.items()}


@contextmanager
def _scratch(folder: Path, name: str) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix=f".{name}-", suffix=UNFINISHED, dir=folder) as scratch:
        yield Path(scratch)


def _files_of(site: Site) -> Mapping[str, Path]:
    """Return the files of a site's folder that a backup holds, by their names in it."""
    folder = site.folder
    every = [folder / name for name in (*SETTINGS, *(one.name for one in site.images.files))]
    every += [path for path in (folder / CLOCK_FILE,) if path.is_file()]
    for part in FOLDERS:
        every += sorted(path for path in (folder / part).rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path for path in every}


def _write_archive(archive: Path, site: Site, files: Mapping[str, Path], rows: Mapping[str, int]) -> None:
    manifest = {"format": FORMAT, "site": site.key, "version": __version__, "tables": newest()}
    digests = {name: _sha256(path) for name, path in files.items()}
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed:
        for name, path in files.items():
            packed.write(path, name)
        packed.writestr(MANIFEST, json.dumps({**manifest, "files": digests, "rows": dict(rows)}, indent=1))
    with archive.open("rb+") as written:
        os.fsync(written.fileno())


def _unpack(archive: Path, folder: Path) -> Mapping[str, int]:
    """Write an archive's files into a folder for their owner alone and return the rows of its database."""
    reading = MANIFEST
    try:
        with zipfile.ZipFile(archive) as packed:
            manifest = json.loads(packed.read(MANIFEST))
            _require_whole(manifest, packed)
            for reading, digest in manifest["files"].items():
                _unpack_file(packed, reading, folder)
                _require(_sha256(folder / reading) == digest)
        reading = DATABASE_FILE
        rows = rows_in_file(folder / DATABASE_FILE)
        _require(bool(rows) and rows == manifest["rows"])
    except (*_UNREADABLE, *_MALFORMED, sqlite.driver().module.Error) as error:
        raise BackupDamaged(archive, reading) from error
    return rows


def _require(true: bool) -> None:
    if not true:
        raise ValueError("not as it was backed up")


def _require_whole(manifest: Mapping[str, Any], packed: zipfile.ZipFile) -> None:
    """Raise ValueError unless the archive has the files that it lists, those of every site among them."""
    listed = set(manifest["files"])
    _require(manifest["format"] == FORMAT and listed >= {DATABASE_FILE, *SETTINGS})
    _require({*packed.namelist()} == {*listed, MANIFEST})


def _unpack_file(packed: zipfile.ZipFile, name: str, folder: Path) -> None:
    target = folder / name
    _require(target.resolve().is_relative_to(folder.resolve()))
    for inside in reversed(target.relative_to(folder).parents[:-1]):
        (folder / inside).mkdir(mode=0o700, exist_ok=True)
    with packed.open(name) as source, open(target, "xb", opener=_private) as written:
        shutil.copyfileobj(source, written)


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
