"""Uploads awaiting confirmation: rows of files that were sent, read once and kept under their digest."""

import hashlib
import json
import os
import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.production.records.building import Row
from kiosk.production.records.fields import Field
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import ReadRows

KEPT_FOR = timedelta(hours=12)
_MARK = re.compile(r"[0-9a-f]{64}", re.ASCII)


def keep_upload(folder: Path, read: ReadRows, now: datetime) -> str:
    """Keep rows and return their mark; uploads that were not confirmed in time go."""
    folder.mkdir(mode=0o700, exist_ok=True)
    for kept in folder.iterdir():
        if now.timestamp() - kept.stat().st_mtime > KEPT_FOR.total_seconds():
            kept.unlink(missing_ok=True)
    data = _json(read)
    mark = hashlib.sha256(data).hexdigest()
    with NamedTemporaryFile(dir=folder, delete=False) as file:
        file.write(data)
    os.utime(file.name, (now.timestamp(), now.timestamp()))
    Path(file.name).replace(folder / mark)
    return mark


def load_upload(folder: Path, mark: str, zone: ZoneInfo) -> ReadRows | None:
    """Return the rows that have this mark, or None where they are gone or not what they were."""
    if not _MARK.fullmatch(mark) or not (folder / mark).is_file():
        return None
    data = (folder / mark).read_bytes()
    if hashlib.sha256(data).hexdigest() != mark:
        return None
    fields = {kind.file: kind.fields for kind in KINDS}
    return ReadRows(
        {kind: [_row(one, fields[kind], zone) for one in rows] for kind, rows in json.loads(data).items()}
    )


def forget_upload(folder: Path, mark: str) -> None:
    """Delete the rows that have this mark."""
    if _MARK.fullmatch(mark):
        (folder / mark).unlink(missing_ok=True)


def _json(read: ReadRows) -> bytes:
    kept = {
        kind.file: [
            [one.file, one.row, one.digest, *(field.to_json(one[field.name]) for field in kind.fields)]
            for one in read.rows[kind.file]
        ]
        for kind in KINDS
        if kind.file in read.rows
    }
    return json.dumps(kept).encode()


def _row(kept: Sequence[Any], fields: Sequence[Field], zone: ZoneInfo) -> Row:
    file, row, digest, *values = kept
    pairs = zip(fields, values, strict=True)
    return Row(row, {field.name: field.from_json(value, zone) for field, value in pairs}, digest, file=file)
