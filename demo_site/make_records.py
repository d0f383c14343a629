"""Writes the records of Loma Candil, an invented estate: run it, and the same files come out.

    python demo_site/make_records.py

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
import math
import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path

from kiosk.figures import strength, wash
from kiosk.figures.errors import FigureError
from kiosk.production.importing.kinds import KINDS

RECORDS = Path(__file__).parent / "records"
SEED = 1606
NOW = datetime(2026, 6, 16, 11, 0)  # noqa: DTZ001 - the estate's own clock

SEASONS = [  # first milling, number of millings, days from one to the next
    (date(2023, 6, 21), 9, 7),
    (date(2024, 1, 17), 19, 8),
    (date(2025, 1, 15), 19, 8),
    (date(2026, 1, 14), 18, 8),
]
TODAY_SPIRIT_RUN, TODAY_THIRD_DAY, TODAY_FIRST_DAY = (date(2026, 6, day) for day in (11, 14, 16))

FIELDS = [("LOMA", "criolla", 18_500), ("VEGA", "cristalina", 24_000), ("CEIBA", "morada", 12_700)]
STORES = [("BAJA", "Bodega Baja"), ("ALTA", "Bodega Alta")]
# Loss of pure alcohol and of bulk volume a year: the lower store is humid, so strength falls there.
LOSS = {"BAJA": (0.058, 0.050), "ALTA": (0.071, 0.074)}
SOAKAGE = 0.02  # what the wood drinks in its first two days
CASKS = 60
TANKS = ("T1", "T2", "T3")


@dataclass
class Spirit:
    """What is in a receiver or a cask: litres at 20 °C and litres of pure alcohol."""

    volume_l: float
    alcohol_l: float

    @property
    def abv(self) -> float:
        return 100 * self.alcohol_l / self.volume_l


@dataclass
class Filled:
    """A fill as it truly goes, beside the records of it."""

    code: str
    cask: str
    store: str
    at: datetime
    spirit: Spirit
    loss: tuple[float, float]
    how: str
    emptied_at: datetime | None = None
    taken: list[tuple[datetime, float]] = field(default_factory=list)  # litres drawn or leaked


class Estate:
    """The estate's books and the dice that stand for weather, wood and hands."""

    def __init__(self) -> None:
        self.dice = random.Random(SEED)
        self.rows: dict[str, list[dict[str, object]]] = defaultdict(list)
        self.feints: list[tuple[str, Spirit]] = []
        self.hearts_left: list[tuple[datetime, str, float]] = []
        self.fills: list[Filled] = []
        self.tare_kg: dict[str, float] = {}

    def write(self, file: str, **cells: object) -> None:
        self.rows[file].append(cells)

    def around(self, middle: float, spread: float) -> float:
        return self.dice.gauss(middle, spread)

    def draw(self, source: tuple[str, str], to: tuple[str, str], at: datetime, **amount: float) -> None:
        given = {name: round(value, 3) for name, value in amount.items()}
        (from_kind, from_code), (to_kind, to_code) = source, to
        ends = {"from_kind": from_kind, "from": from_code, "to_kind": to_kind, "to": to_code}
        self.write("draws", **ends, at=at, **given)

    def read(self, abv: float, scale: str = "glass_abv20") -> tuple[dict[str, object], float]:
        """Read a strength off an instrument: the cells, and the strength that they tell."""
        temperature_c = round(self.around(28.5, 1.2) * 2) / 2
        low, high = 0.0, 100.0
        for _ in range(40):
            middle = (low + high) / 2
            try:
                too_low = strength.reading_abv_percent(scale, middle, temperature_c) < abv
            except FigureError:  # warm water reads above nothing: no strength reads so low, or so high
                too_low = middle < 50
            low, high = (middle, high) if too_low else (low, middle)
        reading = round(high, 2 if scale == "density_meter" else 1)
        told = strength.reading_abv_percent(scale, reading, temperature_c)
        return {"scale": scale, "reading": reading, "temperature_c": temperature_c}, told

    def gauge(self, spirit: Spirit, scale: str = "glass_abv20") -> tuple[dict[str, object], Spirit]:
        """Measure a vessel by its dip and a hydrometer: the cells, and what they tell."""
        cells, abv = self.read(spirit.abv, scale)
        at_c = cells["temperature_c"]
        dip_l = round(strength.volume_at(spirit.volume_l, abv, 20.0, at_c), 1)
        volume_l = strength.volume_at(dip_l, abv, at_c, 20.0)
        told = Spirit(volume_l, strength.pure_alcohol_l(volume_l, abv))
        return {"volume_l": dip_l, "volume_temperature_c": at_c, **cells}, told


def at_time(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute))


def mill(e: Estate, number: int, day: date) -> tuple[str, float, float, float]:
    """Mill one load of cane; return its code, juice in litres, °Bx and kg of sugar."""
    plot = FIELDS[number % len(FIELDS)][0]
    code = f"L-{day:%y%m%d}"
    milled_at = at_time(day, 8, e.dice.choice((10, 15, 20, 25)))
    cane_kg = round(e.around(3300, 140), -1)
    brix = round(e.around(16.4, 0.5), 1)
    juice_kg = cane_kg * e.around(0.60, 0.012)
    juice_l = round(juice_kg / (wash.specific_gravity(brix) * 0.9982))
    cut_on = day - timedelta(days=e.dice.choice((0, 0, 1)))
    e.write("loads", code=code, cut_on=cut_on, milled_at=milled_at, cane_kg=cane_kg, juice_l=juice_l, brix=brix)
    e.draw(("field", plot), ("load", code), milled_at, cane_kg=cane_kg)
    return code, juice_l, brix, juice_l * wash.specific_gravity(brix) * 0.9982 * brix / 100


def ferment(
    e: Estate, number: int, day: date, load: tuple[str, float, float, float], days: int
) -> tuple[str, float]:
    """Set a wash and read it twice a day; return its code and the pure alcohol that the readings tell."""
    load_code, juice_l, brix, sugar_kg = load
    code, set_at = f"W-{day:%y%m%d}", at_time(day, 9, 30)
    ended_at = at_time(day + timedelta(days=days), 6, 40)
    done = ended_at < NOW
    tank = TANKS[number % len(TANKS)]
    e.write("washes", code=code, tank=tank, set_at=set_at, ended_at=ended_at if done else "", volume_l=juice_l)
    e.draw(("load", load_code), ("wash", code), set_at, sugar_kg=sugar_kg, volume_l=juice_l)
    begins, ends = wash.specific_gravity(brix), e.around(0.9985, 0.0008)
    pace_days = e.around(1.45, 0.08)
    moments = [set_at + timedelta(minutes=30), *_rounds(day, days), ended_at - timedelta(minutes=10)]
    told = []
    for at in (moment for moment in moments if moment < NOW):
        passed = (at - moments[0]) / timedelta(days=1)
        gravity = ends + (begins - ends) * math.exp(-((passed / pace_days) ** 1.5))
        told.append(_read_wash(e, code, at, gravity, warm=math.exp(-(((passed - 1.5) / 1.2) ** 2))))
    return code, juice_l * wash.wash_abv_percent(told[0], min(told)) / 100


def _rounds(day: date, days: int) -> list[datetime]:
    later = [day + timedelta(days=n) for n in range(1, days)]
    return [at_time(day, 16), *(at_time(one, hour) for one in later for hour in (7, 16))]


def _read_wash(e: Estate, code: str, at: datetime, gravity: float, warm: float) -> float:
    """Write a hydrometer reading (and at seven a pH); return the gravity at 20 °C that it tells."""
    temperature_c = round(e.around(29 + 3.5 * warm, 0.3) * 2) / 2
    grown = wash.gravity_at_20(1.02, temperature_c) / 1.02
    reading = round(gravity / grown, 4)
    e.write("wash_readings", wash=code, at=at, kind="gravity", value=reading, temperature_c=temperature_c)
    if at.hour == 7:
        e.write("wash_readings", wash=code, at=at, kind="ph", value=round(e.around(4.4, 0.1), 2))
    return wash.gravity_at_20(reading, temperature_c)


Point = tuple[str, float, float]  # cut, litres since the run began, true % vol at the parrot


def wash_curve(alcohol_l: float) -> list[Point]:
    """Return the course of a wash run: strength falls nearly straight as the wash is spent."""
    litres = alcohol_l / 0.27
    return [("low_wines", litres * f, 53 - 52 * f) for f in (0.01, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9, 1.0)]


def spirit_curve(alcohol_l: float) -> list[Point]:
    """Return the course of a spirit run: heads, hearts falling ever faster, tails."""
    heads = 0.025 * alcohol_l / 0.785
    hearts = 0.715 * alcohol_l / 0.709
    tails = 0.195 * alcohol_l / 0.34
    points = [("heads", heads * f, 80 - 2 * f) for f in (0.2, 0.6)]
    points += [("hearts", heads + hearts * n / 8, 76.5 - 14.5 * (n / 8) ** 1.6) for n in range(8)]
    points += [("tails", heads + hearts + tails * f, 62 - 55 * f) for f in (0.0, 0.25, 0.5, 0.75, 1.0)]
    return points


def watch(e: Estate, run: str, points: list[Point], starts: datetime, ends: datetime) -> dict[str, Spirit]:
    """Read the parrot along a run; return what truly ran into each cut by then."""
    total, ran = points[-1][1], {cut: Spirit(0.0, 0.0) for cut, _, _ in points}
    cut_before, litres_before, abv_before = points[0][0], 0.0, points[0][2]
    for cut, litres, abv in points:
        share = litres / total
        at = starts + timedelta(minutes=round((ends - starts).total_seconds() / 60 * (0.08 + 0.92 * share)))
        if at >= NOW:
            break
        cells, _ = e.read(abv)
        e.write("run_readings", run=run, at=at, cut=cut, collected_l=round(litres, 1), **cells)
        step = litres - litres_before
        ran[cut_before].volume_l += step
        ran[cut_before].alcohol_l += step * (abv + abv_before) / 200
        cut_before, litres_before, abv_before = cut, litres, abv
    return ran


def distil(
    e: Estate, kind: str, day: date, charge: list[tuple[tuple[str, str], float, float]]
) -> dict[str, tuple[str, Spirit]]:
    """Charge a still and run it; return each receiver's code and what its gauge told."""
    still, letters = ("WS1", "WR") if kind == "wash" else ("SS1", "SR")
    run, starts = f"{letters}-{day:%y%m%d}", at_time(day, 7, 5)
    ends = starts + timedelta(minutes=round(e.around(340 if kind == "wash" else 450, 8)))
    done = ends < NOW
    e.write("runs", code=run, still=still, kind=kind, started_at=starts, ended_at=ends if done else "")
    for source, alcohol_l, volume_l in charge:
        e.draw(source, ("run", run), starts, alcohol_l=alcohol_l, volume_l=volume_l)
    alcohol_l = sum(amount for _, amount, _ in charge)
    curve = wash_curve(alcohol_l * 0.962) if kind == "wash" else spirit_curve(alcohol_l)
    ran = watch(e, run, curve, starts, ends)
    if not done:
        return {}
    left = sum(volume for _, _, volume in charge) - sum(cut.volume_l for cut in ran.values())
    ran["pot"] = Spirit(left, alcohol_l * (0.018 if kind == "wash" else 0.03))
    return {cut: receive(e, run, cut, spirit, ends) for cut, spirit in ran.items()}


FATES = {"low_wines": "tank", "heads": "feints", "hearts": "cask", "tails": "feints", "pot": "destroyed"}
SIGNS = {"low_wines": "LW", "heads": "HD", "hearts": "HT", "tails": "TL", "pot": "PT"}


def receive(e: Estate, run: str, cut: str, spirit: Spirit, ended: datetime) -> tuple[str, Spirit]:
    """Gauge a receiver at the end of a run."""
    code, at = f"{run}-{SIGNS[cut]}", ended + timedelta(minutes=20)
    cells, told = e.gauge(spirit, "density_meter" if cut == "pot" else "glass_abv20")
    e.write("receivers", code=code, run=run, cut=cut, gauged_at=at, **cells, fate=FATES[cut])
    e.draw(("run", run), ("receiver", code), at, alcohol_l=told.alcohol_l, volume_l=told.volume_l)
    return code, told


def double_distil(e: Estate, wash_code: str, alcohol_l: float, volume_l: float, day: date) -> None:
    """Wash run on `day`, spirit run the day after, then hearts into a cask and the rest kept."""
    cuts = distil(e, "wash", day, [(("wash", wash_code), alcohol_l, volume_l)])
    charge = [(("receiver", code), s.alcohol_l, s.volume_l) for code, s in [cuts["low_wines"], *e.feints]]
    next_day = day + timedelta(days=1)
    cuts = distil(e, "spirit", next_day, charge)
    if not cuts:
        return
    e.feints = [cuts["heads"], cuts["tails"]]
    code, hearts = cuts["hearts"]
    at = at_time(next_day + timedelta(days=1), 10)
    into_cask_l = fill_cask(e, code, hearts, at)
    e.hearts_left.append((at, code, hearts.alcohol_l - into_cask_l))


def fill_cask(e: Estate, receiver: str, hearts: Spirit, at: datetime) -> float:
    """Reduce hearts with water and fill the next cask; return the pure alcohol that went in."""
    number = len(e.fills) + 1
    if number > CASKS or len(e.rows["runs"]) % 32 == 0:  # every sixteenth run goes to bottles whole
        return 0.0
    abv, volume_l = e.around(60.5, 1.0), e.around(190.5, 1.2)
    volume_l = min(volume_l, hearts.alcohol_l * 0.97 / (abv / 100))
    code, cask, store = f"F-{number:03}", f"C-{number:03}", "BAJA" if number % 5 in (1, 2, 4) else "ALTA"
    tare_kg = e.tare_kg[cask]
    cells, told = e.read(abv, "density_meter")
    net_kg = strength.mass_of_volume(volume_l, told, 20.0)
    gross_kg = round(2 * (tare_kg + net_kg)) / 2
    volume_l = strength.volume_of_mass(gross_kg - tare_kg, told, 20.0)
    spirit = Spirit(volume_l, strength.pure_alcohol_l(volume_l, told))
    e.write("gauges", fill=code, at=at, how="weight", gross_kg=gross_kg, **cells)
    e.draw(("receiver", receiver), ("fill", code), at, alcohol_l=spirit.alcohol_l, volume_l=volume_l)
    of_its_own = math.exp(e.around(0, 0.12))
    loss = tuple(rate * of_its_own for rate in LOSS[store])
    how = "weight" if number % 2 else "dip"
    e.fills.append(Filled(code, cask, store, at, spirit, loss, how))
    return spirit.alcohol_l


def truly_there(fill: Filled, at: datetime) -> Spirit:
    """Return what is truly in a cask: soakage, then the angels, and what people took."""
    years = (at - fill.at) / timedelta(days=365.25)
    soaked = 1 - SOAKAGE * min(1.0, years * 365.25 / 2)
    alcohol = soaked * math.exp(-fill.loss[0] * years)
    volume = soaked * math.exp(-fill.loss[1] * years)
    for when, litres in fill.taken:
        if when < at:
            share = 1 - litres / (fill.spirit.volume_l * 0.97)
            alcohol, volume = alcohol * share, volume * share
    return Spirit(fill.spirit.volume_l * volume, fill.spirit.alcohol_l * alcohol)


def regauge(e: Estate, fill: Filled, at: datetime, how: str) -> Spirit:
    """Write a regauge as hands and eyes find it; return what it tells."""
    true = truly_there(fill, at)
    seen = Spirit(true.volume_l + e.around(0, 0.5), 0.0)
    seen.alcohol_l = seen.volume_l * (true.abv + e.around(0, 0.12)) / 100
    if how != "weight":
        cells, told = e.gauge(seen)
    else:
        cells, abv = e.read(seen.abv)
        tare_kg = e.tare_kg[fill.cask]
        gross_kg = round(2 * (tare_kg + strength.mass_of_volume(seen.volume_l, abv, 20.0))) / 2
        volume_l = strength.volume_of_mass(gross_kg - tare_kg, abv, 20.0)
        cells = {"gross_kg": gross_kg, **cells}
        told = Spirit(volume_l, strength.pure_alcohol_l(volume_l, abv))
    e.write("gauges", fill=fill.code, at=at, how=how, **cells)
    return told


def happenings(e: Estate) -> None:
    """Samples, one leak and two moves, as a store's book has them."""
    for number, months, kind, litres in ((4, 14, "sample", 0.5), (7, 20, "sample", 0.5), (15, 12, "sample", 0.35)):
        _take(e, e.fills[number], months, kind, litres)
    _take(e, e.fills[18], 11, "leak", 21.0)
    for number, months in ((10, 16), (22, 9)):
        fill = e.fills[number]
        at = at_time(fill.at.date() + timedelta(days=30 * months), 14)
        other = "ALTA" if fill.store == "BAJA" else "BAJA"
        e.write("cask_events", fill=fill.code, at=at, kind="move", to_store=other)


def _take(e: Estate, fill: Filled, months: int, kind: str, litres: float) -> None:
    at = at_time(fill.at.date() + timedelta(days=30 * months), 15)
    abv = truly_there(fill, at).abv
    cells, _ = e.gauge(Spirit(litres, litres * abv / 100))
    e.write("cask_events", fill=fill.code, at=at, kind=kind, **cells)
    fill.taken.append((at, litres))


def regauges(e: Estate) -> None:
    """Regauge every cask about twice a year, by rod or by scale, until it was emptied."""
    for fill in e.fills:
        at = fill.at + timedelta(days=round(e.around(150, 15)), minutes=e.dice.randrange(240))
        while at < (fill.emptied_at or NOW) - timedelta(days=20):
            regauge(e, fill, at, fill.how)
            at += timedelta(days=round(e.around(185, 10)))


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
    Bottling("BL-2024-1", "blanco", date(2024, 3, 12), 40.0),
    Bottling("JE-2024-1", "jengibre", date(2024, 7, 9), 30.0, received="FR-2024-1", solids_g_per_l=60.0),
    Bottling("BL-2025-1", "blanco", date(2025, 6, 17), 40.0),
    Bottling("AN-2025-1", "anejo", date(2025, 9, 16), 42.0, casks=(1, 2, 3)),
    Bottling("RE-2026-1", "reserva", date(2026, 4, 14), 45.0, casks=(4, 6)),
    Bottling("JE-2026-1", "jengibre", date(2026, 5, 5), 30.0, received="FR-2026-1", solids_g_per_l=60.0),
    Bottling("AN-2026-1", "anejo", date(2026, 5, 19), 42.0, casks=(7, 8, 9), received="RS-2025-1"),
    Bottling("BL-2026-1", "blanco", date(2026, 6, 9), 40.0),
]


def receive_from_elsewhere(e: Estate) -> dict[str, Spirit]:
    """Write what came from outside: a cane spirit, in a year when a field grew in, and ginger by lot."""
    cells, told = e.gauge(Spirit(148.0, 148.0 * 0.622), "density_meter")
    e.write(
        "received",
        code="RS-2025-1",
        kind="spirit",
        what="cane spirit from molasses, pot distilled",
        origin="Isla Bruma, Puerto Solano",
        document="PS-1174",
        received_on=date(2025, 11, 4),
        **cells,
    )
    for code, day in (("FR-2024-1", date(2024, 5, 28)), ("FR-2026-1", date(2026, 3, 24))):
        e.write("received", code=code, kind="fruit", what="fresh ginger root", origin="Loma Candil", received_on=day)
    return {"RS-2025-1": told}


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
    for number, day in enumerate([*millings, TODAY_SPIRIT_RUN, TODAY_THIRD_DAY, TODAY_FIRST_DAY]):
        load = mill(e, number, day)
        wash_code, alcohol_l = ferment(e, number, day, load, days=4)
        runs_on = day + timedelta(days=4)
        if runs_on < NOW.date():
            double_distil(e, wash_code, alcohol_l, load[1], runs_on)
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
    main()
