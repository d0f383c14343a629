"""An import that is killed on the way leaves nothing and can be repeated; pours go on meanwhile."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from sqlalchemy import func, select

from kiosk.production.importing.files import files_in, read_files
from kiosk.production.importing.previews import import_records
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import RECORDING
from kiosk.site.settings import Site
from kiosk.store.engine import Store, open_store
from kiosk.store.tables.production import batches, held, imports
from kiosk.store.tables.shared import changes
from kiosk.store.tables.tasting import pours
from tests.production.folder import write
from tests.tasting_room import Tasting, tasting_site

pytestmark = pytest.mark.faults

ROOT = Path(__file__).parents[3]
KILLED = """
import os, signal, sys
from datetime import datetime
from pathlib import Path
from kiosk.production.importing.files import files_in, read_files
from kiosk.production.importing.previews import import_records
from kiosk.store.engine import open_store
from kiosk.store.staging import Staging
from tests.tasting_room import tasting_site

folder, url, at, point = sys.argv[1:]
ends = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)
if point == "prepared":
    Staging.record = ends
elif point == "half recorded":
    from kiosk.store import staging
    real, seen = staging.touch, []
    staging.touch = lambda *given: (real(*given), seen.append(1), ends() if len(seen) > 6 else None)
site = tasting_site(Path(folder))
read = read_files(files_in(Path(folder) / "records"), "records", site.zone)
import_records(open_store(url), site, read, None, by=None, at=datetime.fromisoformat(at))
"""


def counts(store: Store) -> dict[str, int]:
    """Return how many rows each table has that an import writes, those without rows left out."""
    tables = [*(kind.table for kind in KINDS), batches, held, imports, changes]
    with store.read() as session:
        every = {one.name: session.scalar(select(func.count()).select_from(one)) or 0 for one in tables}
    return {name: many for name, many in every.items() if many}


@pytest.mark.parametrize("point", ["prepared", "half recorded"])
def test_an_import_that_is_killed_leaves_nothing_and_can_be_repeated(
    database_url: str, tmp_path: Path, now: datetime, point: str
) -> None:
    write(tmp_path / "records")
    arguments = [str(tmp_path), database_url, now.isoformat(), point]
    killed = subprocess.run([sys.executable, "-c", KILLED, *arguments], cwd=ROOT, env=os.environ, timeout=120)
    assert killed.returncode == -signal.SIGKILL
    store, site = open_store(database_url), tasting_site(tmp_path)
    assert counts(store) == {}
    read = read_files(files_in(tmp_path / "records"), "records", site.zone)
    report = import_records(store, site, read, None, by=None, at=now)
    assert counts(store)["imports"] == 1
    assert report.written > 10
    store.close()


def test_a_pour_is_recorded_while_an_import_is_prepared(store: Store, tmp_path: Path, now: datetime) -> None:
    write(tmp_path / "records")
    site: Site = tasting_site(tmp_path)
    tasting, poured = Tasting.begun(store, site, now), list[int]()
    tasting.check()

    def pour(items: Iterable[Any], many: int, doing: str) -> Iterable[Any]:
        """Pour once while records are being prepared, as a tablet does from a thread of its own."""
        if doing == RECORDING and not poured:
            tablet = Thread(target=tasting.pour, args=(tasting.guests[0],))
            tablet.start()
            tablet.join(5)
            with store.read() as session:
                poured.append(session.scalar(select(func.count()).select_from(pours)) or 0)
        return items

    read = read_files(files_in(tmp_path / "records"), "records", site.zone)
    import_records(store, site, read, None, by=None, at=now, progress=pour)
    assert poured == [1]
