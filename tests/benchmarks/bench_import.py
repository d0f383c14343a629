"""How long a large cellar takes to come in: `python tests/benchmarks/bench_import.py [casks]`.

A plain script, not collected with the tests. It writes CSV files of that many casks
(100 000 unless told), each filled, drawn into and gauged three times, imports them into
a new SQLite site, imports them again, and says the seconds by the clock and of the
processor, and the most memory. Times depend on the machine.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from kiosk.cli.site import start_site

NOW = datetime(2026, 6, 16, 12, 0, tzinfo=UTC)
BEGAN = datetime(2020, 1, 6, 8, 0)  # noqa: DTZ001 - the site's own clock
CASKS_A_DAY = 60
SEED = 7


def write_records(folder: Path, casks: int) -> None:
    """Write casks, their fills, the draws into them from received spirit, and three gauges of each."""
    random_ = random.Random(SEED)
    folder.mkdir()
    tables: dict[str, list[str]] = {
        "stores.csv": ["code,name", "LOW,Lower store"],
        "casks.csv": ["code,wood,capacity_l,tare_kg"],
        "received.csv": [
            "code,kind,what,received_on,volume_l,volume_temperature_c,scale,reading,temperature_c"
        ],
        "fills.csv": ["code,cask,store,filled_at,emptied_at"],
        "gauges.csv": ["fill,at,how,volume_l,volume_temperature_c,gross_kg,scale,reading,temperature_c"],
        "draws.csv": ["from_kind,from,to_kind,to,at,alcohol_l,volume_l"],
    }
    for n in range(casks):
        day, place = divmod(n, CASKS_A_DAY)
        filled = BEGAN + timedelta(days=day, minutes=place)
        if not place:
            litres = CASKS_A_DAY * 200
            tables["received.csv"].append(
                f"R-{day},spirit,cane spirit,{filled:%Y-%m-%d},{litres},20,density_meter,63,20"
            )
        tables["casks.csv"].append(f"C-{n},used oak,200,{random_.uniform(43, 50):.1f}")
        tables["fills.csv"].append(f"F-{n},C-{n},LOW,{filled:%Y-%m-%d %H:%M},")
        tables["draws.csv"].append(f"received,R-{day},fill,F-{n},{filled:%Y-%m-%d %H:%M},119.7,190")
        for gauge in range(3):
            at = filled + timedelta(days=90 * gauge)
            volume, warm = 190 - 4 * gauge - random_.random(), random_.randrange(50, 64) / 2
            reading = 63 - 0.4 * gauge - random_.random() / 5
            tables["gauges.csv"].append(
                f"F-{n},{at:%Y-%m-%d %H:%M},dip,{volume:.1f},{warm},,density_meter,{reading:.1f},{warm}"
            )
    for name, lines in tables.items():
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def timed(name: str, records: Path, site: Path) -> None:
    """Run the command once and say how long it took."""
    command = [sys.executable, "-m", "kiosk", "import", str(records), "--site", str(site), "--yes"]
    wall, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    wall, after = time.perf_counter() - wall, resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"{name}: {wall:.1f} s, {cpu:.1f} s of processor, most memory {after.ru_maxrss / 1024:.0f} MB")
    print("  " + "; ".join(said))


def main() -> None:
    """Write, import, import again."""
    casks = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as scratch:
        records, folder = Path(scratch) / "records", Path(scratch) / "site"
        write_records(records, casks)
        size = sum(path.stat().st_size for path in records.iterdir()) / 1e6
        print(f"{casks} casks, {3 * casks} gauges, {size:.0f} MB of CSV")
        start_site(folder, NOW)
        timed("first import", records, folder)
        timed("again", records, folder)


if __name__ == "__main__":
    main()
