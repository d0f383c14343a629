"""The records of a house of three seasons, as the files of its office, with the counts that follow from them.

Each batch is that of `tests.production.folder` at another size and on other days.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random

from tests.production.folder import FILES

SEASONS = (2025, 2026, 2027)
BATCHES = 6
DAYS_APART = 7
BOTTLES = {"blanco": 40, "anejo": 36}
"""The bottles of a season's lot of each product."""
LOST_A_YEAR = 0.06
NET_KG, TARE_KG = 132.0, 45.0
"""What a filled cask holds, and what it weighs empty."""


@dataclass(frozen=True)
class Records:
    """The files by name, and what a person counts in them."""

    files: dict[str, str]
    rows: int
    casks: int
    lots: tuple[str, ...]


class _Books:
    """The lines of each file under its headings."""

    def __init__(self) -> None:
        self._lines: dict[str, list[str]] = defaultdict(list)

    def write(self, name: str, *cells: object) -> None:
        """Add a row to a file; a time is written as a clock shows it."""
        self._lines[name].append(",".join(_cell(cell) for cell in cells))

    def files(self) -> dict[str, str]:
        """Return the files whole."""
        return {
            f"{name}.csv": "\n".join([FILES[f"{name}.csv"].partition("\n")[0], *lines, ""])
            for name, lines in self._lines.items()
        }

    @property
    def rows(self) -> int:
        """How many rows were written."""
        return sum(map(len, self._lines.values()))


def _cell(cell: object) -> str:
    if isinstance(cell, datetime):
        return f"{cell:%Y-%m-%d %H:%M}"
    return f"{cell:.6g}" if isinstance(cell, float) else str(cell)


def three_seasons(seed: int) -> Records:
    """Return the records of three seasons, each of six batches of cane in turn, a cask of each batch."""
    random, books = Random(seed), _Books()
    _house(books)
    number = 0
    for year in SEASONS:
        first = datetime(year, 1, 18, 8, tzinfo=UTC)
        casks = range(number + 1, number + BATCHES + 1)
        for number in casks:
            begins = first + timedelta(days=DAYS_APART * (number - casks[0]))
            _batch(books, number, begins, random.uniform(0.95, 1.05))
        _lots(books, year, casks)
    lots = tuple(f"{product[:2].upper()}-{year}" for year in SEASONS for product in BOTTLES)
    return Records(books.files(), books.rows, number, lots)


def _house(books: _Books) -> None:
    books.write("stores", "LOW", "Lower store")
    for code, kind, capacity_l in (
        ("T1", "tank", 2400),
        ("WS", "wash_still", 2500),
        ("SS", "spirit_still", 900),
    ):
        books.write("vessels", code, kind, capacity_l)
    books.write("fields", "HILL", "striped", 12000)


def _batch(books: _Books, n: int, day: datetime, size: float) -> None:
    """Write one load of cane, its wash, its two runs and the cask that they fill."""
    load, wash, low, spirit, fill = (f"{kind}-{n}" for kind in ("L", "W", "WR", "SR", "F"))
    juice_l, set_at, ended_at = 1700 * size, day + timedelta(hours=2), day + timedelta(hours=95)
    books.write("loads", load, f"{day:%Y-%m-%d}", day, 3000 * size, juice_l, 16)
    books.write("washes", wash, "T1", set_at, ended_at, juice_l)
    for hours, kind, value, warm_c in (
        (1, "gravity", "1.0630", 30),
        (40, "gravity", "1.0280", 32),
        (92, "gravity", "0.9960", 30),
        (92, "ph", "4.3", ""),
    ):
        books.write("wash_readings", wash, set_at + timedelta(hours=hours), kind, value, warm_c)
    first, second = ended_at + timedelta(hours=1), ended_at + timedelta(hours=25)
    books.write("runs", low, "WS", "wash", first, first + timedelta(hours=6))
    books.write("runs", spirit, "SS", "spirit", second, second + timedelta(hours=7))
    for minutes, cut, share_l, strength in (
        (30, "heads", 2, 79),
        (60, "hearts", 6, 77),
        (240, "tails", 156, 62),
        (390, "tails", 256, 10),
    ):
        at = second + timedelta(minutes=minutes)
        books.write("run_readings", spirit, at, cut, share_l * size, "density_meter", strength, 28)
    _receivers(books, n, size, first + timedelta(hours=7), second + timedelta(hours=8))
    _draws(books, n, size, day, second + timedelta(days=1))
    _cask(books, n, fill, second + timedelta(days=1))


def _receivers(books: _Books, n: int, size: float, first: datetime, second: datetime) -> None:
    for code, run, cut, at, volume_l, strength, fate in (
        (f"WR-{n}-LW", f"WR-{n}", "low_wines", first, 530, 27, "tank"),
        (f"SR-{n}-HD", f"SR-{n}", "heads", second, 5, 78, "feints"),
        (f"SR-{n}-HT", f"SR-{n}", "hearts", second, 150, 72, "cask"),
        (f"SR-{n}-TL", f"SR-{n}", "tails", second, 100, 25, "feints"),
    ):
        books.write("receivers", code, run, cut, at, volume_l * size, 20, "density_meter", strength, 28, fate)


def _draws(books: _Books, n: int, size: float, day: datetime, filled_at: datetime) -> None:
    first, second = day + timedelta(hours=98), day + timedelta(hours=122)
    hearts_l = 108 * size
    cells: Iterable[tuple[object, ...]] = (
        ("field", "HILL", "load", f"L-{n}", day, 3000 * size, "", "", ""),
        ("load", f"L-{n}", "wash", f"W-{n}", day + timedelta(hours=2), "", 289 * size, "", 1700 * size),
        ("wash", f"W-{n}", "run", f"WR-{n}", first, "", "", 148 * size, 1700 * size),
        (
            "run",
            f"WR-{n}",
            "receiver",
            f"WR-{n}-LW",
            first + timedelta(hours=6),
            "",
            "",
            143.1 * size,
            530 * size,
        ),
        ("receiver", f"WR-{n}-LW", "run", f"SR-{n}", second, "", "", 143.1 * size, 530 * size),
        (
            "run",
            f"SR-{n}",
            "receiver",
            f"SR-{n}-HT",
            second + timedelta(hours=7),
            "",
            "",
            hearts_l,
            150 * size,
        ),
        ("receiver", f"SR-{n}-HT", "fill", f"F-{n}", filled_at, "", "", 82.0, 140.0),
    )
    for row in cells:
        books.write("draws", *row)


def _cask(books: _Books, n: int, fill: str, filled_at: datetime) -> None:
    """Write a cask, its filling, and a weighing in each March that followed."""
    books.write("casks", f"C-{n}", "used oak", 200, TARE_KG)
    books.write("fills", fill, f"C-{n}", "LOW", filled_at, "")
    books.write("gauges", fill, filled_at, "weight", "", "", TARE_KG + NET_KG, "density_meter", 60, 28)
    for year in SEASONS:
        weighed_at = datetime(year, 3, 20, 9, tzinfo=UTC)
        if weighed_at - filled_at > timedelta(days=200):
            years = (weighed_at - filled_at) / timedelta(days=365)
            left_kg = NET_KG * (1 - LOST_A_YEAR) ** years
            books.write(
                "gauges",
                fill,
                weighed_at,
                "weight",
                "",
                "",
                TARE_KG + left_kg,
                "density_meter",
                60 - years,
                28,
            )


def _lots(books: _Books, year: int, casks: range) -> None:
    """Write the season's two lots, of the hearts of its first and its second batch."""
    for n, (product, bottles) in zip(casks, BOTTLES.items(), strict=False):
        code, on = f"{product[:2].upper()}-{year}", datetime(year, 3, 10, 9, tzinfo=UTC)
        books.write("lots", code, product, f"{on:%Y-%m-%d}", bottles, 750, 40, "", "distilled")
        alcohol_l = bottles * 0.75 * 0.4
        books.write("draws", "receiver", f"SR-{n}-HT", "lot", code, on, "", "", alcohol_l, "")
