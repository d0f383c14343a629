"""Every figure of production again by another road: plain Python over the demo's own tables.

Casks are in test_casks_from_files.py. Nothing of the house is used but the providers under test.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq, curve_fit

from kiosk.production.live import PROVIDERS
from tests.outside.demo_tables import (
    DAY_BEGINS,
    NOW,
    YEAR_BEGINS,
    Figures,
    Line,
    Value,
    abv,
    alcohol_l,
    at,
    brix_of_gravity,
    hours,
    juice_kg,
    strength,
    table,
)
from tests.outside.test_independent_paths import abv_of_fraction, fraction_of_abv, rho


def test_cane_of_the_land_of_today_and_of_the_season(value: Value) -> None:
    loads = [load for load in table("loads") if at(load["milled_at"]) <= NOW]
    today = [load for load in loads if at(load["milled_at"]) >= DAY_BEGINS]
    season = [load for load in loads if at(load["milled_at"]).year == 2026]  # it rested from May to January
    assert value("cane_area") == pytest.approx(sum(float(f["area_m2"]) for f in table("fields")) / 1e4)
    assert value("cane_milled_today") == pytest.approx(sum(float(one["cane_kg"]) for one in today) / 1000)
    assert value("cane_season") == pytest.approx(sum(float(one["cane_kg"]) for one in season) / 1000)
    assert value("loads_season") == len(season)
    newest = max(season, key=lambda load: at(load["milled_at"]))
    assert value("cane_last_load") == pytest.approx(float(newest["cane_kg"]) / 1000)
    cut_on = {load["code"]: load["cut_on"] for load in loads}
    last_cut: dict[str, str] = {}
    for draw in table("draws"):
        if draw["from_kind"] == "field" and draw["to"] in cut_on:
            last_cut[draw["from"]] = max(last_cut.get(draw["from"], ""), cut_on[draw["to"]])
    longest = date.fromisoformat(min(last_cut.values()))
    assert value("cane_standing") == (NOW.date() - longest).days + 1
    juice = sum(map(juice_kg, today))
    sugar = sum(juice_kg(one) * float(one["brix"]) for one in today)
    assert value("juice_brix_today") == pytest.approx(sugar / juice, abs=1e-6)
    per_tonne = sum(map(juice_kg, season)) / sum(float(one["cane_kg"]) for one in season) * 1000
    assert value("juice_per_tonne_season") == pytest.approx(per_tonne, rel=1e-6)


def test_tanks_and_their_wash(value: Value, figures: Figures) -> None:
    standing = [wash for wash in table("washes") if not wash["ended_at"]]
    assert value("tanks_at_work") == len(standing)
    assert value("wash_fermenting") == pytest.approx(sum(float(one["volume_l"]) for one in standing))
    for wash in standing:
        set_on = (at(wash["set_at"]) - timedelta(hours=5)).date()
        assert value("wash_day", wash["tank"]) == (NOW.date() - set_on).days + 1
        read = gravities(wash["code"])
        assert value("wash_gravity_now", wash["tank"]) == pytest.approx(read[-1][1], abs=1e-4)
        oe, ae = brix_of_gravity(read[0][1]), brix_of_gravity(min(read[0][1], read[-1][1]))
        real = 0.1808 * oe + 0.8192 * ae
        by_mass = (oe - real) / (2.0665 - 0.010665 * oe)
        made = by_mass * min(read[0][1], read[-1][1]) * 998.201 / 789.24
        assert value("wash_abv_now", wash["tank"]) == pytest.approx(made, abs=0.02)


def gravities(wash: str) -> list[tuple[float, float]]:
    """Return hours since setting and the gravity, brought to 20 °C by the expansion of glass and of water."""
    lines = [r for r in table("wash_readings") if r["wash"] == wash and r["kind"] == "gravity"]
    first = at(lines[0]["at"])

    def at_20(line: Line) -> float:
        celsius = float(line["temperature_c"])
        glass = float(line["value"]) * (1 - 25e-6 * (celsius - 20))
        return glass * rho(0.0, 20.0) / rho(0.0, celsius)

    return [(hours(first, at(line["at"])), at_20(line)) for line in lines if at(line["at"]) <= NOW]


def test_the_end_of_a_wash_lies_among_the_ends_of_three_plain_curves(figures: Figures) -> None:
    """Straight, exponential and logistic curves through all points, fitted by scipy to Brix itself."""
    figure = figures["wash_ends_in", "T2"]
    assert figure.value is not None
    points = gravities("W-193")[1:]
    since = hours(at("2026-04-14 09:30"), NOW)
    times = np.array([t for t, _ in points])
    brix = np.array([brix_of_gravity(g) for _, g in points])
    start, end = brix_of_gravity(gravities("W-193")[0][1]), brix_of_gravity(0.998)

    def straight(t: float, a: float, b: float) -> float:
        return a + b * t

    def falling(t: float, a: float, b: float) -> float:
        return end + (a - end) * np.exp(b * t)

    def s_shaped(t: float, a: float, b: float) -> float:
        return end + (start - end) / (1 + np.exp(-b * (t - a)))

    ends = []
    for curve, guess in ((straight, (start, -0.2)), (falling, (start, -0.02)), (s_shaped, (40.0, -0.05))):
        found, _ = curve_fit(curve, times, brix, p0=guess)
        ends.append(brentq(lambda t, f=curve, p=found: f(t, *p) - end - 0.2, 1.0, 2000.0) - since)
    assert min(ends) <= figure.value <= max(ends)


def test_the_run_under_way(value: Value) -> None:
    run = [r for r in table("run_readings") if r["run"] == "SR-192" and at(r["at"]) <= NOW]
    last = run[-1]
    assert value("run_abv_now") == pytest.approx(abv(last), abs=0.01)
    assert value("run_cut_now") == ("low_wines", "heads", "hearts", "tails").index(last["cut"])
    assert value("run_collected_now") == pytest.approx(float(last["collected_l"]))
    pure = hearts_by_readings("SR-192")
    assert value("hearts_alcohol_today") == pytest.approx(pure, rel=1e-3)


def hearts_by_readings(run: str) -> float:
    """Return the pure alcohol that ran as hearts, strength straight between two readings."""
    read = [r for r in table("run_readings") if r["run"] == run and at(r["at"]) <= NOW]
    pure = 0.0
    for low, high in pairwise(read):
        if low["cut"] == "hearts":
            litres = float(high["collected_l"]) - float(low["collected_l"])
            pure += litres * (abv(low) + abv(high)) / 200
    return pure


def test_the_account_of_the_last_run(value: Value) -> None:
    ended = [run for run in table("runs") if run["kind"] == "spirit" and run["ended_at"]]
    last = max(ended, key=lambda run: run["ended_at"])["code"]
    went_in = sum(float(d["alcohol_l"]) for d in table("draws") if d["to_kind"] == "run" and d["to"] == last)
    received = {r["cut"]: alcohol_l(r)[0] for r in table("receivers") if r["run"] == last}
    assert value("recovery_last_run") == pytest.approx(sum(received.values()) / went_in, rel=1e-3)
    differs = abs(received["hearts"] - hearts_by_readings(last)) / received["hearts"]
    assert value("hearts_gauge_less_readings") == pytest.approx(differs, abs=5e-4)


def test_readings_of_today(value: Value) -> None:
    read = [r["at"] for name in ("run_readings", "wash_readings", "gauges") for r in table(name)]
    assert value("readings_today") == sum(DAY_BEGINS <= at(one) <= NOW for one in read)


def test_bottlings_of_the_year(value: Value, figures: Figures) -> None:
    begun, today = YEAR_BEGINS.date().isoformat(), NOW.date().isoformat()
    lots = [lot for lot in table("lots") if begun <= lot["bottled_on"] <= today]
    assert figures["bottled_today", ""].missing == "resting"
    assert value("bottled_this_year") == sum(int(lot["bottles"]) for lot in lots)
    receivers = {r["code"]: r for r in table("receivers")}
    received = {r["code"]: r for r in table("received")}
    water_l = spirit_l = 0.0
    for lot in (one for one in lots if not one["solids_g_per_l"]):
        spirit_kg = pure_l = 0.0
        for draw in (d for d in table("draws") if d["to_kind"] == "lot" and d["to"] == lot["code"]):
            pure = float(draw["alcohol_l"] or 0)
            if not pure:
                continue
            if draw["volume_l"]:
                p = fraction_of_abv(100 * pure / float(draw["volume_l"]))
            else:
                p = strength({**receivers, **received}[draw["from"]])
            spirit_kg += pure / (abv_of_fraction(p) / 100) * rho(p, 20.0) / 1000
            pure_l += pure
            spirit_l += pure / (abv_of_fraction(p) / 100)
        litres = int(lot["bottles"]) * int(lot["bottle_ml"]) / 1000
        p = fraction_of_abv(float(lot["abv_percent"]))
        kept = litres * float(lot["abv_percent"]) / 100 / pure_l
        water_l += (litres * rho(p, 20.0) / 1000 - kept * spirit_kg) / rho(0.0, 20.0) * 1000
    assert value("water_of_reduction_this_year") == pytest.approx(water_l, rel=0.002)
    assert value("water_share_this_year") == pytest.approx(water_l / (water_l + spirit_l), rel=0.002)


def upstream(lot: str) -> dict[tuple[str, str], list[Line]]:
    """Return every draw behind a lot by what it was drawn into."""
    into: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for draw in table("draws"):
        into[draw["to_kind"], draw["to"]].append(draw)
    found, waiting = {}, [("lot", lot)]
    while waiting:
        batch = waiting.pop()
        if batch not in found:
            found[batch] = into[batch]
            waiting += [(d["from_kind"], d["from"]) for d in into[batch]]
    return found


def amount(draw: Line) -> float:
    return float(draw["cane_kg"] or draw["sugar_kg"] or draw["alcohol_l"] or 0)


def behind(lot: str, of_load: Callable[[Line], float]) -> float:
    """Share out from the loads down, each batch by what was drawn from it and what it still holds."""
    destroyed = {r["code"] for r in table("receivers") if r["fate"] == "destroyed"}
    drawn = [d for d in table("draws") if at(d["at"]) <= NOW and d["to"] not in destroyed]
    out: dict[tuple[str, str], float] = defaultdict(float)
    into: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for draw in drawn:
        out[draw["from_kind"], draw["from"]] += amount(draw)
        into[draw["to_kind"], draw["to"]].append(draw)
    gauged = {("receiver", r["code"]): alcohol_l(r)[0] for r in table("receivers") if r["gauged_at"]}
    known = {("load", load["code"]): of_load(load) for load in table("loads")}

    def carried(batch: tuple[str, str]) -> float:
        if batch not in known:
            known[batch] = 0.0
            for draw in into[batch]:
                source = (draw["from_kind"], draw["from"])
                holds = out[source] + max(gauged.get(source, 0.0) - out[source], 0.0)
                if amount(draw):
                    known[batch] += carried(source) * amount(draw) / holds
        return known[batch]

    return carried(("lot", lot))


def test_cane_and_juice_behind_a_bottle_of_the_newest_lot(value: Value) -> None:
    bottles = next(int(lot["bottles"]) for lot in table("lots") if lot["code"] == "BL-21")
    cane_kg = behind("BL-21", lambda load: float(load["cane_kg"]))
    assert value("cane_in_a_bottle") == pytest.approx(cane_kg / bottles, rel=0.003)
    assert value("juice_in_a_bottle") == pytest.approx(behind("BL-21", juice_kg) / bottles, rel=0.003)


def test_casks_behind_a_bottle_from_the_wood(value: Value) -> None:
    bought = {("received", r["code"]) for r in table("received") if r["kind"] == "spirit"}
    for lot in sorted(table("lots"), key=lambda one: one["bottled_on"], reverse=True):
        behind = upstream(lot["code"])
        casks = {code for kind, code in behind if kind == "fill"}
        if casks and not bought & behind.keys():
            assert value("casks_behind_a_bottle") == len(casks)
            return
    pytest.fail("no lot from the wood")


def test_no_figure_of_production_was_left_out() -> None:
    """Whoever adds a figure reckons it again here."""
    files = Path(__file__).parent.glob("test_*_from_files.py")
    source = "".join(file.read_text(encoding="utf-8") for file in files)
    names = {spec.name for provider in PROVIDERS for spec in provider.specs}
    elsewhere = {"run_proof_now", "hearts_volume_today", "hearts_abv_today"}  # test_independent_paths.py
    assert {name for name in names - elsewhere if f'"{name}"' not in source} == set()
