"""Writes the records of Loma Candil, an invented estate: run it, and the same files come out.

    python demo_site/make_records.py [FOLDER]

Three harvests of cane go through a mill, open tanks and two pot stills into
casks in two stores and into bottles. The script plays the estate: it decides
what is truly there, then writes what somebody with a hydrometer, a dip rod and
a scale would have read. Where a later record rests on an earlier one (a draw on
a gauge, say), it starts from the reading, as a distiller does.

The last moment played is 16 June 2026, 11:00 by the estate's clock: one spirit
run is under way, one tank is in its third day, one was set this morning.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from cellar import CASKS, STORES, fill_cask, happenings, regauge, regauges
from estate import NOW, Estate, Spirit, at_time
from stills import FIELDS, TANKS, double_distil, ferment, mill

from kiosk.production.importing.kinds import KINDS

RECORDS = Path(__file__).parent / "records"

SEASONS = [  # first milling, number of millings, days from one to the next
    (date(2023, 6, 21), 9, 7),
    (date(2024, 1, 17), 19, 8),
    (date(2025, 1, 15), 19, 8),
    (date(2026, 1, 14), 18, 8),
]
# What was milled on these days is under way at the end: in the spirit still, in its third day, set today.
UNDER_WAY = [date(2026, 6, day) for day in (11, 14, 16)]


@dataclass(frozen=True)
class Bottling:
    """A lot to be bottled: from casks by number, or from hearts kept until then."""

    code: str
    product: str
    day: date
    abv: float
    casks: tuple[int, ...] = ()
    received: str = ""
    solids_g_per_l: float | None = None


BOTTLINGS = [
    Bottling("BL-01", "blanco", date(2024, 3, 12), 40.0),
    Bottling("JE-01", "jengibre", date(2024, 7, 9), 30.0, received="FR-01", solids_g_per_l=60.0),
    Bottling("BL-02", "blanco", date(2025, 6, 17), 40.0),
    Bottling("AN-01", "anejo", date(2025, 9, 16), 42.0, casks=(1, 2, 3)),
    Bottling("RE-01", "reserva", date(2026, 4, 14), 45.0, casks=(4, 6)),
    Bottling("JE-02", "jengibre", date(2026, 5, 5), 30.0, received="FR-02", solids_g_per_l=60.0),
    Bottling("AN-02", "anejo", date(2026, 5, 19), 42.0, casks=(7, 8, 9), received="RS-01"),
    Bottling("BL-03", "blanco", date(2026, 6, 9), 40.0),
]


def receive_from_elsewhere(e: Estate) -> dict[str, Spirit]:
    """Write what came from outside: a cane spirit, in a year when a field grew in, and ginger by lot."""
    cells, told = e.gauge(Spirit(148.0, 148.0 * 0.622), "density_meter")
    e.write(
        "received",
        code="RS-01",
        kind="spirit",
        what="cane spirit from molasses, pot distilled",
        origin="Isla Bruma, Puerto Solano",
        document="PS-1174",
        received_on=date(2025, 11, 4),
        **cells,
    )
    for code, day in (("FR-01", date(2024, 5, 28)), ("FR-02", date(2026, 3, 24))):
        e.write(
            "received",
            code=code,
            kind="fruit",
            what="fresh ginger root",
            origin="Loma Candil",
            received_on=day,
        )
    return {"RS-01": told}


def bottle(e: Estate, lot: Bottling, elsewhere: dict[str, Spirit]) -> None:
    """Bring spirit together, bottle it and write the lot: a hundredth stays in hoses and filters."""
    at, to = at_time(lot.day, 9), ("lot", lot.code)
    alcohol_l = 0.0
    for number in lot.casks:
        fill = e.fills[number - 1]
        fill.emptied_at = at
        told = regauge(e, fill, at, "emptied")
        e.draw(("fill", fill.code), to, at, alcohol_l=told.alcohol_l, volume_l=told.volume_l)
        alcohol_l += told.alcohol_l
    if lot.received:
        spirit = elsewhere.get(lot.received, Spirit(1.0, 0.0))
        e.draw(("received", lot.received), to, at, alcohol_l=spirit.alcohol_l)
        alcohol_l += spirit.alcohol_l
    if not lot.casks:
        ready = [kept for kept in e.hearts_left if kept[0] < at]
        used = ready[-2:] if lot.product == "jengibre" else ready
        e.hearts_left = [kept for kept in e.hearts_left if kept not in used]
        for _, receiver, left_l in used:
            e.draw(("receiver", receiver), to, at, alcohol_l=left_l * 0.998)
            alcohol_l += left_l * 0.998
    bottles = int(alcohol_l * 0.99 / (0.750 * lot.abv / 100))
    basis = "label" if lot.solids_g_per_l else "distilled"
    sizes = {"bottles": bottles, "bottle_ml": 750, "abv_percent": lot.abv, "strength_basis": basis}
    solids = lot.solids_g_per_l or ""
    e.write("lots", code=lot.code, product=lot.product, bottled_on=lot.day, solids_g_per_l=solids, **sizes)


def furnish(e: Estate) -> None:
    """Write what stands still: fields, stores, vessels, casks."""
    for code, variety, area_m2 in FIELDS:
        e.write("fields", code=code, variety=variety, area_m2=area_m2)
    for code, name in STORES:
        e.write("stores", code=code, name=name)
    for code, kind, capacity_l in (*((tank, "tank", 2400) for tank in TANKS), ("WS1", "wash_still", 2500)):
        e.write("vessels", code=code, kind=kind, capacity_l=capacity_l)
    e.write("vessels", code="SS1", kind="spirit_still", capacity_l=900)
    for number in range(1, CASKS + 1):
        code = f"C-{number:03}"
        e.tare_kg[code] = round(2 * e.around(46, 1.5)) / 2
        wood = "used American oak" if number % 4 else "used French oak"
        e.write("casks", code=code, wood=wood, capacity_l=200, tare_kg=e.tare_kg[code])


def play() -> Estate:
    """Play three years of the estate up to its last moment."""
    e = Estate()
    furnish(e)
    millings = [first + timedelta(days=gap * n) for first, times, gap in SEASONS for n in range(times)]
    for number, day in enumerate([*millings, *UNDER_WAY], start=1):
        load = mill(e, number, day)
        alcohol_l = ferment(e, number, day, load, days=4)
        runs_on = day + timedelta(days=4)
        hearts = double_distil(e, number, alcohol_l, load[1], runs_on) if runs_on < NOW.date() else None
        if hearts:
            at = at_time(runs_on + timedelta(days=2), 10)
            into_cask_l = fill_cask(e, *hearts, at)
            e.hearts_left.append((at, hearts[0], hearts[1].alcohol_l - into_cask_l))
    happenings(e)
    elsewhere = receive_from_elsewhere(e)
    for lot in BOTTLINGS:
        bottle(e, lot, elsewhere)
    regauges(e)
    for fill in e.fills:
        times = {"filled_at": fill.at, "emptied_at": fill.emptied_at or ""}
        e.write("fills", code=fill.code, cask=fill.cask, store=fill.store, **times)
    return e


def main(folder: Path = RECORDS) -> None:
    """Write every file, in the order of time where there is one."""
    folder.mkdir(exist_ok=True)
    estate = play()
    for kind in KINDS:
        names = [column.name for column in kind.columns]
        rows = estate.rows[kind.file.removesuffix(".csv")]
        if "at" in names:
            rows.sort(key=lambda row: row["at"])
        with (folder / kind.file).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, names, lineterminator="\n")
            writer.writeheader()
            writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)


def _cell(value: object) -> object:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return f"{value:g}" if isinstance(value, float) and value == round(value, 1) else value


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
