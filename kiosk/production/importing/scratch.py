"""Files that somebody sent and has not said yes to: kept in the site's folder by a mark of what they say."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import mkdtemp

from kiosk.production.importing.sources import Files

KEPT_FOR = timedelta(hours=12)
_MARK = re.compile(r"[0-9a-f]{64}", re.ASCII)


def put(folder: Path, files: Files, now: datetime) -> str:
    """Keep files and return their mark; what nobody came back for goes."""
    folder.mkdir(mode=0o700, exist_ok=True)
    _forget_old(folder, now)
    mark, made = _mark(files), Path(mkdtemp(dir=folder))
    # A name comes from whoever sent it: it is written into a file and never used as one.
    for number, (name, data) in enumerate(files.items()):
        (made / f"{number}.name").write_text(name, encoding="utf-8")
        (made / f"{number}.data").write_bytes(data)
    if (folder / mark).exists():
        shutil.rmtree(made)
    else:
        made.rename(folder / mark)
    os.utime(folder / mark, (now.timestamp(), now.timestamp()))
    return mark


def take(folder: Path, mark: str) -> dict[str, bytes] | None:
    """Return the files that have this mark, or None where they are gone or not what they were."""
    kept = folder / mark
    if not _MARK.fullmatch(mark) or not kept.is_dir():
        return None
    files = {
        name.read_text(encoding="utf-8"): name.with_suffix(".data").read_bytes()
        for name in sorted(kept.glob("*.name"), key=lambda path: int(path.stem))
    }
    return files if _mark(files) == mark else None


def forget(folder: Path, mark: str) -> None:
    """Delete the files that have this mark."""
    if _MARK.fullmatch(mark):
        shutil.rmtree(folder / mark, ignore_errors=True)


def _forget_old(folder: Path, now: datetime) -> None:
    for kept in folder.iterdir():
        if now.timestamp() - kept.stat().st_mtime > KEPT_FOR.total_seconds():
            shutil.rmtree(kept, ignore_errors=True)


def _mark(files: Files) -> str:
    found = hashlib.sha256()
    for name, data in files.items():
        found.update(f"{len(name.encode())}:{name}{len(data)}:".encode() + data)
    return found.hexdigest()
