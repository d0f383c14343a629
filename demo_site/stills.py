"""From cane to hearts: the mill, the open tanks and the two pot stills."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from itertools import pairwise

from estate import NOW, Estate, Kept, Spirit, at_time

from kiosk.figures import making

FIELDS = [  # code, variety, square metres, cut from; RIBERA was planted in September 2022
    ("LOMA", "criolla", 5_200, date(2021, 1, 1)),
    ("VEGA", "cristalina", 6_000, date(2022, 1, 1)),
    ("YAGRUMO", "morada", 5_500, date(2022, 1, 1)),
    ("RIBERA", "cristalina", 5_800, date(2024, 1, 1)),
]
APART = ("YAGRUMO",)  # fields whose cane is bottled alone: their feints go into no other field's charge
TANKS = ("T1", "T2", "T3")


def plot_of(number: int, day: date) -> str:
    """Return the field whose turn it is, of those that have grown in."""
    grown = [code for code, _, _, cut_from in FIELDS if cut_from <= day]
    return grown[number % len(grown)]


def mill(e: Estate, number: int, day: date) -> tuple[str, float, float, float]:
    """Mill one load of cane; return its code, juice in litres, °Bx and kg of sugar."""
    plot = plot_of(number, day)
    code = f"L-{number:03}"
    milled_at = at_time(day, 8, e.dice.choice((10, 15, 20, 25)))
    cane_kg = round(e.around(3300, 140), -1)
    brix = round(min(17.4, e.around(17.0, 0.25)), 1)
    juice_kg = cane_kg * e.around(0.60, 0.012)
    juice_l = round(juice_kg / (making.specific_gravity(brix) * 0.9982))
    cut_on = day - timedelta(days=e.dice.choice((0, 0, 1)))
    e.write(
        "loads", code=code, cut_on=cut_on, milled_at=milled_at, cane_kg=cane_kg, juice_l=juice_l, brix=brix
    )
    e.draw(("field", plot), ("load", code), milled_at, cane_kg=cane_kg)
    return code, juice_l, brix, juice_l * making.specific_gravity(brix) * 0.9982 * brix / 100


def ferment(e: Estate, number: int, day: date, load: tuple[str, float, float, float], days: int) -> float:
    """Set a wash and read it twice a day; return the litres of pure alcohol that the readings tell."""
    load_code, juice_l, brix, sugar_kg = load
    code, set_at = f"W-{number:03}", at_time(day, 9, 30)
    ended_at = at_time(day + timedelta(days=days), 6, 40)
    done = ended_at < NOW
    tank = TANKS[number % len(TANKS)]
    e.write(
        "washes", code=code, tank=tank, set_at=set_at, ended_at=ended_at if done else "", volume_l=juice_l
    )
    e.draw(("load", load_code), ("wash", code), set_at, sugar_kg=sugar_kg, volume_l=juice_l)
    begins, ends = making.specific_gravity(brix), e.around(0.9987, 0.0006)
    pace_days = e.around(1.8, 0.08)
    moments = [set_at + timedelta(minutes=30), *_rounds(day, days), ended_at - timedelta(minutes=10)]
    told = []
    for at in (moment for moment in moments if moment < NOW):
        passed = (at - moments[0]) / timedelta(days=1)
        gravity = ends + (begins - ends) * math.exp(-((passed / pace_days) ** 1.5))
        told.append(_read_wash(e, code, at, gravity, warm=math.exp(-(((passed - 1.7) / 1.4) ** 2))))
    return juice_l * making.wash_abv_percent(told[0], min(told)) / 100


def _rounds(day: date, days: int) -> list[datetime]:
    later = [day + timedelta(days=n) for n in range(1, days)]
    return [at_time(day, 16), *(at_time(one, hour) for one in later for hour in (7, 16))]


def _read_wash(e: Estate, code: str, at: datetime, gravity: float, warm: float) -> float:
    """Write a hydrometer reading (and at seven a pH); return the gravity at 20 °C that it tells."""
    temperature_c = round(e.around(29 + 3.5 * warm, 0.3) * 2) / 2
    grown = making.gravity_at_20(1.02, temperature_c) / 1.02
    reading = round(gravity / grown, 4)
    e.write("wash_readings", wash=code, at=at, kind="gravity", value=reading, temperature_c=temperature_c)
    if at.hour == 7:
        e.write("wash_readings", wash=code, at=at, kind="ph", value=round(e.around(4.4, 0.1), 2))
    return making.gravity_at_20(reading, temperature_c)


Point = tuple[str, float, float]  # cut, litres since the run began, true % vol at the parrot


def wash_curve(alcohol_l: float, abv: float) -> list[Point]:
    """Return the course of a wash run: strength falls nearly straight as the wash is spent."""
    litres, steps = 100 * alcohol_l / abv, (0.01, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9, 1.0)
    return [("low_wines", litres * f, 2 * abv - 1 - (2 * abv - 2) * f) for f in steps]


def spirit_curve(alcohol_l: float, stronger: float) -> list[Point]:
    """Return the course of a spirit run: heads, hearts falling ever faster, tails.

    One day's cut is `stronger` than another's, in % vol.
    """
    steps = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
    weaker = [2.5 + 62.2 * (1 - f) ** 1.3 for f in steps]
    mean = sum(a + b for a, b in pairwise(weaker)) / 2 / (len(steps) - 1)
    heads = 0.04 * alcohol_l / 0.785
    hearts = 0.70 * alcohol_l / (0.7262 + stronger / 100)
    tails = 0.252 * alcohol_l / (mean / 100)
    points = [("heads", heads * f, 80 + stronger - 2 * f) for f in (0.05, 0.5)]
    points += [("hearts", heads + hearts * n / 8, 77.5 + stronger - 12.8 * (n / 8) ** 1.6) for n in range(8)]
    points += [("tails", heads + hearts + tails * f, abv) for f, abv in zip(steps, weaker, strict=True)]
    return points


HEADS_MINUTES = 30


def minute_of(litres: float, points: list[Point], minutes: float) -> float:
    """Return the minute of a run at which so much has run off: heating first, heads slowly, the rest evenly.

    The heads take half an hour.
    """
    slow_l = (
        next((at_l for cut, at_l, _ in points if cut != "heads"), 0.0) if points[0][0] == "heads" else 0.0
    )
    heated = 0.07 * minutes
    if litres < slow_l:
        return heated + HEADS_MINUTES * litres / slow_l
    begun = heated + (HEADS_MINUTES if slow_l else 0)
    return begun + (minutes - begun) * (litres - slow_l) / (points[-1][1] - slow_l)


def watch(e: Estate, run: str, points: list[Point], starts: datetime, ends: datetime) -> dict[str, Spirit]:
    """Read the parrot along a run; return what truly ran into each cut by then."""
    minutes, ran = (ends - starts) / timedelta(minutes=1), {cut: Spirit(0.0, 0.0) for cut, _, _ in points}
    cut_before, litres_before, abv_before = points[0][0], 0.0, points[0][2]
    for cut, litres, abv in points:
        at = starts + timedelta(minutes=round(minute_of(litres, points, minutes)))
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
    e: Estate, kind: str, number: int, day: date, charge: list[tuple[tuple[str, str], float, float]]
) -> dict[str, tuple[str, Spirit]]:
    """Charge a still and run it; return each receiver's code and what its gauge told."""
    still, letters = ("WS1", "WR") if kind == "wash" else ("SS1", "SR")
    run, starts = f"{letters}-{number:03}", at_time(day, 7, 5)
    ends = starts + timedelta(minutes=round(e.around(340 if kind == "wash" else 530, 8)))
    done = ends < NOW
    e.write("runs", code=run, still=still, kind=kind, started_at=starts, ended_at=ends if done else "")
    for source, alcohol_l, volume_l in charge:
        e.draw(source, ("run", run), starts, alcohol_l=alcohol_l, volume_l=volume_l)
    alcohol_l = sum(amount for _, amount, _ in charge)
    curve = (
        wash_curve(alcohol_l * 0.975, e.around(27.0, 0.8))
        if kind == "wash"
        else spirit_curve(alcohol_l, e.around(0.0, 0.6))
    )
    ran = watch(e, run, curve, starts, ends)
    if not done:
        return {}
    left = sum(volume for _, _, volume in charge) - sum(cut.volume_l for cut in ran.values())
    ran["pot"] = Spirit(left, alcohol_l * (0.018 if kind == "wash" else 0.004))
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


def double_distil(
    e: Estate, number: int, alcohol_l: float, volume_l: float, day: date, plot: str
) -> Kept | None:
    """Wash run on `day`, spirit run the day after; return the hearts as kept, None while it runs."""
    cuts = distil(e, "wash", number, day, [(("wash", f"W-{number:03}"), alcohol_l, volume_l)])
    own = plot if plot in APART else ""
    charged = [cuts["low_wines"], *e.feints.get(own, ())]
    charge = [(("receiver", code), spirit.alcohol_l, spirit.volume_l) for code, spirit in charged]
    cuts = distil(e, "spirit", number, day + timedelta(days=1), charge)
    if not cuts:
        return None
    e.feints[own] = [cuts["heads"], cuts["tails"]]
    receiver, hearts = cuts["hearts"]
    e.kept.append(Kept(at_time(day + timedelta(days=2), 9), receiver, plot, hearts.alcohol_l * 0.998))
    return e.kept[-1]
