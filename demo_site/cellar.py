"""The two stores: casks filled, regauged, sampled, moved; one leaks."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from estate import NOW, Estate, Filled, Spirit, at_time

from kiosk.figures import strength

STORES = [("BAJA", "Bodega Baja"), ("ALTA", "Bodega Alta")]
# Loss of pure alcohol and of bulk volume a year: the lower store is humid, so strength falls there.
LOSS = {"BAJA": (0.058, 0.050), "ALTA": (0.071, 0.074)}
SOAKAGE = 0.02  # what the wood drinks in its first two days
CASKS = 60


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
    for number, months, kind, litres in (
        (4, 14, "sample", 0.5),
        (7, 20, "sample", 0.5),
        (15, 12, "sample", 0.35),
    ):
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
        last = fill.emptied_at - timedelta(days=20) if fill.emptied_at else NOW
        while at < last:
            regauge(e, fill, at, fill.how)
            at += timedelta(days=round(e.around(185, 10)))
