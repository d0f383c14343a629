"""Writes the records of Loma Candil, an invented estate: run it, and the same files come out.

    python demo_site/make_records.py [FOLDER]

Five years of cane go through a mill, open tanks and two pot stills into
casks in two stores and into bottles. The script plays the estate: it decides
what is truly there, then writes what somebody with a hydrometer, a dip rod and
a scale would have read. Where a later record rests on an earlier one (a draw on
a gauge, say), it starts from the reading, as a distiller does.

The last moment played is that of `clock.toml`, a morning in April: one spirit run
is under way, one tank is in its third day, one was set this morning.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from cellar import CASKS, STORES, fill_cask, happenings, regauge, regauges
from estate import NOW, Estate, Spirit, at_time
from stills import FIELDS, TANKS, double_distil, ferment, mill, plot_of

from kiosk.production.records.kinds import KINDS

RECORDS = Path(__file__).parent / "records"

SEASONS = [  # in the dry months: first milling, number of millings, days from one to the next
    (date(2021, 3, 2), 8, 6),
    (date(2022, 1, 11), 36, 3),
    (date(2023, 1, 10), 36, 3),
    (date(2024, 1, 9), 42, 3),
    (date(2025, 1, 7), 42, 3),
    (date(2026, 1, 18), 27, 3),
]
# What was milled on these days is under way at the end: in the spirit still, in its third day, set today.
UNDER_WAY = [date(2026, 4, day) for day in (10, 14, 16)]


@dataclass(frozen=True)
class Bottling:
    """A lot to be bottled: fills by number, litres of pure alcohol of hearts, what was bought."""

    code: str
    product: str
    day: date
    abv: float
    fills: tuple[int, ...] = ()
    hearts_l: float = 0.0
    received: tuple[str, ...] = ()
    solids_g_per_l: float | None = None
    plot: str = ""  # where the lot is of one field's cane alone
    bottle_ml: int = 750


GINGER, COCONUT, PINEAPPLE, CACAO = 110.0, 210.0, 35.0, 20.0  # grams of sugar in a litre

BOTTLINGS = [  # by hand, by four people: no more than 800 bottles on a day
    Bottling("BL-01", "blanco", date(2022, 5, 24), 40.0, hearts_l=220),
    Bottling("BL-02", "blanco", date(2022, 5, 25), 40.0, hearts_l=220),
    Bottling("BL-03", "blanco", date(2022, 5, 26), 40.0, hearts_l=220),
    Bottling(
        "CO-01", "coco", date(2022, 9, 6), 26.0, hearts_l=70, received=("FR-01",), solids_g_per_l=COCONUT
    ),
    Bottling("BL-04", "blanco", date(2023, 5, 23), 40.0, hearts_l=220),
    Bottling("BL-05", "blanco", date(2023, 5, 24), 40.0, hearts_l=220),
    Bottling("BL-06", "blanco", date(2023, 5, 25), 40.0, hearts_l=220),
    Bottling("BL-07", "blanco", date(2023, 5, 26), 40.0, hearts_l=220),
    Bottling("AN-01", "anejo", date(2023, 6, 13), 42.0, fills=(1, 2)),
    Bottling(
        "PI-01", "pina", date(2023, 8, 8), 32.0, hearts_l=80, received=("FR-02",), solids_g_per_l=PINEAPPLE
    ),
    Bottling(
        "JE-01", "jengibre", date(2024, 3, 19), 30.0, received=("FR-03", "RS-01"), solids_g_per_l=GINGER
    ),
    Bottling("BL-08", "blanco", date(2024, 5, 27), 40.0, hearts_l=220),
    Bottling("BL-09", "blanco", date(2024, 5, 28), 40.0, hearts_l=220),
    Bottling("BL-10", "blanco", date(2024, 5, 29), 40.0, hearts_l=220),
    Bottling("BL-11", "blanco", date(2024, 5, 30), 40.0, hearts_l=220),
    Bottling("BL-12", "blanco", date(2024, 5, 31), 40.0, hearts_l=220),
    Bottling("AN-02", "anejo", date(2024, 6, 11), 42.0, fills=(4, 6)),
    Bottling("CA-01", "cacao", date(2024, 10, 8), 35.0, received=("FR-04", "RS-02"), solids_g_per_l=CACAO),
    Bottling("RE-01", "reserva", date(2024, 12, 3), 45.0, fills=(3, 5)),
    Bottling("CE-01", "cepa", date(2025, 5, 20), 46.0, hearts_l=130, plot="YAGRUMO"),
    Bottling("BL-13", "blanco", date(2025, 5, 26), 40.0, hearts_l=220),
    Bottling("BL-14", "blanco", date(2025, 5, 27), 40.0, hearts_l=220),
    Bottling("BL-15", "blanco", date(2025, 5, 28), 40.0, hearts_l=220),
    Bottling("BL-16", "blanco", date(2025, 5, 29), 40.0, hearts_l=220),
    Bottling("BL-17", "blanco", date(2025, 5, 30), 40.0, hearts_l=220),
    Bottling("AN-03", "anejo", date(2025, 6, 10), 42.0, fills=(7, 9)),
    Bottling("EN-01", "ensayo-1", date(2025, 10, 14), 43.0, fills=(40,), bottle_ml=500),
    Bottling("AN-04", "anejo", date(2025, 11, 11), 42.0, fills=(14, 16)),
    Bottling("EN-02", "ensayo-2", date(2026, 2, 17), 48.0, hearts_l=12, bottle_ml=500),
    Bottling(
        "CA-02", "cacao", date(2026, 2, 24), 35.0, hearts_l=90, received=("FR-05",), solids_g_per_l=CACAO
    ),
    Bottling(
        "JE-02", "jengibre", date(2026, 3, 10), 30.0, hearts_l=100, received=("FR-06",), solids_g_per_l=GINGER
    ),
    Bottling("RE-02", "reserva", date(2026, 3, 17), 45.0, fills=(8, 10, 13)),
    Bottling("AN-05", "anejo", date(2026, 3, 24), 42.0, fills=(11, 91)),
    Bottling("CE-02", "cepa", date(2026, 3, 26), 46.0, hearts_l=140, plot="YAGRUMO"),
    Bottling("BL-18", "blanco", date(2026, 3, 30), 40.0, hearts_l=220),
    Bottling("BL-19", "blanco", date(2026, 3, 31), 40.0, hearts_l=220),
    Bottling("BL-20", "blanco", date(2026, 4, 1), 40.0, hearts_l=220),
    Bottling(
        "CO-02", "coco", date(2026, 4, 7), 26.0, hearts_l=80, received=("FR-07",), solids_g_per_l=COCONUT
    ),
    Bottling(
        "PI-02", "pina", date(2026, 4, 8), 32.0, hearts_l=90, received=("FR-08",), solids_g_per_l=PINEAPPLE
    ),
    Bottling("BL-21", "blanco", date(2026, 4, 13), 40.0, hearts_l=220),
]
# Bought while the new field grew in; it went into liqueurs and flavored rum, and into no rum of the house.
BOUGHT = [
    ("RS-01", date(2022, 11, 8), 150.0, 62.2, "PS-1174"),
    ("RS-02", date(2023, 10, 17), 120.0, 61.4, "PS-1302"),
]
FRUIT = [
    ("FR-01", "ripe coconut, grated", "Loma Candil", date(2022, 9, 5)),
    ("FR-02", "ripe pineapple", "Loma Candil", date(2023, 8, 1)),
    ("FR-03", "fresh ginger root", "Loma Candil", date(2024, 2, 20)),
    ("FR-04", "toasted cacao nibs", "Isla Sotaluz, Valle Hondo", date(2024, 9, 10)),
    ("FR-05", "toasted cacao nibs", "Isla Sotaluz, Valle Hondo", date(2026, 1, 27)),
    ("FR-06", "fresh ginger root", "Loma Candil", date(2026, 2, 10)),
    ("FR-07", "ripe coconut, grated", "Loma Candil", date(2026, 4, 6)),
    ("FR-08", "ripe pineapple", "Loma Candil", date(2026, 4, 1)),
]


def receive_from_elsewhere(e: Estate) -> dict[str, Spirit]:
    """Write what came in: cane spirit bought while a new field grew in, and fruit and spice by lot."""
    told = {}
    for code, day, volume_l, abv, document in BOUGHT:
        cells, told[code] = e.gauge(Spirit(volume_l, volume_l * abv / 100), "density_meter")
        what, origin = "cane spirit from molasses, pot distilled", "Isla Sotaluz, Puerto Solano"
        known = {"kind": "spirit", "what": what, "origin": origin, "document": document}
        e.write("received", code=code, received_on=day, **known, **cells)
    for code, what, origin, day in FRUIT:
        e.write("received", code=code, kind="fruit", what=what, origin=origin, received_on=day)
    return told


def bottle(e: Estate, lot: Bottling, elsewhere: dict[str, Spirit]) -> None:
    """Bring spirit together, bottle it and write the lot: a hundredth stays in hoses and filters."""
    at, to = at_time(lot.day, 9), ("lot", lot.code)
    alcohol_l = 0.0
    for number in lot.fills:
        fill = e.fills[number - 1]
        fill.emptied_at = at
        e.empty_casks.insert(0, fill.cask)
        told = regauge(e, fill, at, "emptied")
        e.draw(("fill", fill.code), to, at, alcohol_l=told.alcohol_l, volume_l=told.volume_l)
        alcohol_l += told.alcohol_l
    for code in lot.received:
        spirit = elsewhere.get(code, Spirit(1.0, 0.0))
        e.draw(("received", code), to, at, alcohol_l=spirit.alcohol_l)
        alcohol_l += spirit.alcohol_l
    ready = [kept for kept in e.kept if kept.at < at and lot.plot in ("", kept.plot)]
    alcohol_l += e.take(ready, lot.hearts_l, to, at)
    bottles = int(alcohol_l * 0.99 / (lot.bottle_ml / 1000 * lot.abv / 100))
    basis = "label" if lot.solids_g_per_l else "distilled"
    sizes = {"bottles": bottles, "bottle_ml": lot.bottle_ml, "abv_percent": lot.abv, "strength_basis": basis}
    solids = lot.solids_g_per_l or ""
    e.write("lots", code=lot.code, product=lot.product, bottled_on=lot.day, solids_g_per_l=solids, **sizes)


def furnish(e: Estate) -> None:
    """Write what stands still: fields, stores, vessels, casks."""
    for code, variety, area_m2, _ in FIELDS:
        e.write("fields", code=code, variety=variety, area_m2=area_m2)
    for code, name in STORES:
        e.write("stores", code=code, name=name)
    for code, kind, capacity_l in (*((tank, "tank", 2400) for tank in TANKS), ("WS1", "wash_still", 2500)):
        e.write("vessels", code=code, kind=kind, capacity_l=capacity_l)
    e.write("vessels", code="SS1", kind="spirit_still", capacity_l=1200)
    for number in range(1, CASKS + 1):
        code = f"C-{number:03}"
        e.tare_kg[code] = round(2 * e.around(46, 1.5)) / 2
        wood = "used American oak" if number % 4 else "used French oak"
        e.write("casks", code=code, wood=wood, capacity_l=200, tare_kg=e.tare_kg[code])
        e.empty_casks.append(code)


def play() -> Estate:
    """Play five years of the estate up to its last moment."""
    e = Estate()
    furnish(e)
    elsewhere = receive_from_elsewhere(e)
    to_bottle = list(BOTTLINGS)
    millings = [first + timedelta(days=gap * n) for first, times, gap in SEASONS for n in range(times)]
    for number, day in enumerate([*millings, *UNDER_WAY], start=1):
        while to_bottle and to_bottle[0].day < day:
            bottle(e, to_bottle.pop(0), elsewhere)
        work(e, number, day, days=6 if number % 4 == 0 and day not in UNDER_WAY else 5)
    happenings(e)
    regauges(e)
    for fill in e.fills:
        times = {"filled_at": fill.at, "emptied_at": fill.emptied_at or ""}
        e.write("fills", code=fill.code, cask=fill.cask, store=fill.store, **times)
    return e


def work(e: Estate, number: int, day: date, days: int) -> None:
    """Take one load of cane as far as it comes: mill, tank, both stills, casks."""
    load = mill(e, number, day)
    alcohol_l = ferment(e, number, day, load, days)
    runs_on = day + timedelta(days=days)
    if runs_on >= NOW.date():
        return
    hearts = double_distil(e, number, alcohol_l, load[1], runs_on, plot_of(number, day))
    if hearts is None:
        return
    at = at_time(runs_on + timedelta(days=2), 10)
    fill_cask(e, [hearts], at)
    waiting = [kept for kept in e.kept if kept is not hearts]
    if number % 8 == 0 and sum(kept.left_l for kept in waiting) > 300:
        fill_cask(e, waiting, at + timedelta(hours=1))


def main(folder: Path = RECORDS) -> None:
    """Write every file, in the order of time where there is one."""
    folder.mkdir(exist_ok=True)
    estate = play()
    for kind in KINDS:
        names = [field.name for field in kind.fields]
        rows = estate.rows[kind.file.removesuffix(".csv")]
        if not rows:
            continue
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
