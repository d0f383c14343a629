"""The two stores: casks filled, regauged, sampled, moved; one leaks."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from estate import NOW, Estate, Filled, Kept, Spirit, at_time

from kiosk.figures import strength

STORES = [("BAJA", "Bodega Baja"), ("ALTA", "Bodega Alta")]
# Loss of pure alcohol and of bulk volume a year: the lower store is humid, so strength falls there.
LOSS = {"BAJA": (0.047, 0.030), "ALTA": (0.064, 0.067)}
SOAKAGE = 0.02  # what the wood drinks in its first two days; half of it where it drank before
CASKS = 206
MOST_FILLINGS = 3


def fill_cask(e: Estate, kept: list[Kept], at: datetime) -> None:
    """Reduce kept hearts with water and fill a cask: one that came free, else the next of the unused."""
    free = [cask for cask in e.empty_casks if e.times_filled[cask] < MOST_FILLINGS]
    if not free:
        return
    abv, volume_l = e.around(60.5, 1.0), e.around(190.5, 1.2)
    volume_l = min(volume_l, sum(one.left_l for one in kept) * 0.97 / (abv / 100))
    number, cask = len(e.fills) + 1, free[0]
    code, store = f"F-{number:03}", "BAJA" if number % 5 in (1, 2, 4) else "ALTA"
    e.empty_casks.remove(cask)
    e.times_filled[cask] += 1
    cells, told = e.read(abv, "density_meter")
    net_kg = strength.mass_of_volume(volume_l, told, 20.0)
    gross_kg = round(2 * (e.tare_kg[cask] + net_kg)) / 2
    volume_l = strength.volume_of_mass(gross_kg - e.tare_kg[cask], told, 20.0)
    spirit = Spirit(volume_l, strength.pure_alcohol_l(volume_l, told))
    e.write("gauges", fill=code, at=at, how="weight", gross_kg=gross_kg, **cells)
    e.take(kept, spirit.alcohol_l, ("fill", code), at, told)
    of_its_own = math.exp(e.around(0, 0.10))
    loss = (LOSS[store][0] * of_its_own, LOSS[store][1] * of_its_own)
    soaked = SOAKAGE if e.times_filled[cask] == 1 else SOAKAGE / 2
    how = "weight" if number % 2 else "dip"
    e.fills.append(Filled(code, cask, store, at, spirit, loss, soaked, how))


def truly_there(fill: Filled, at: datetime) -> Spirit:
    """Return what is truly in a cask: soakage, then the angels, and what people took."""
    years = (at - fill.at) / timedelta(days=365.25)
    soaked = 1 - fill.soakage * min(1.0, years * 365.25 / 2)
    moved_at, loss_there = fill.moved or (at, fill.loss)
    there = max(0.0, (at - moved_at) / timedelta(days=365.25))
    alcohol, volume = (
        soaked * math.exp(-here * (years - there) - elsewhere * there)
        for here, elsewhere in zip(fill.loss, loss_there, strict=True)
    )
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
    """Samples, one leak and moves, as a store's book has them, of casks that were never emptied."""
    full = [fill for fill in e.fills if not fill.emptied_at]
    for number, months, litres in ((4, 14, 0.5), (9, 20, 0.5), (15, 12, 0.35), (24, 24, 0.5), (40, 9, 0.35)):
        _take(e, full[number], months, "sample", litres)
    for number in range(50, 120, 9):
        _take(e, full[number], 6 + number % 5, "sample", 0.2)
    _take(e, full[18], 11, "leak", 21.0)
    for number, months in ((10, 16), (22, 9), (35, 20), (47, 12), (61, 15), (78, 8), (90, 10)):
        fill = full[number]
        at = at_time(fill.at.date() + timedelta(days=30 * months), 14)
        other = "ALTA" if fill.store == "BAJA" else "BAJA"
        e.write("cask_events", fill=fill.code, at=at, kind="move", to_store=other)
        fill.moved = (at, LOSS[other])


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
        last = fill.emptied_at - timedelta(days=20) if fill.emptied_at else NOW
        while at < last:
            regauge(e, fill, at, fill.how)
            at += timedelta(days=round(e.around(185, 10)))
