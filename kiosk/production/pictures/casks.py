"""A cask's life: what was in it and how strong, and how sure that was between the gauges.

A store's life: how much lay in its casks, as far back as there are casks.

What the pictures of the cask store need of all fills: worked out once per change of the records.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from reportlab.lib.colors import Color
from sqlalchemy.orm import Session

from kiosk.figures.casks import Fill, Fit, Measure, contents_now, fit_losses, strength_now
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import CachedQuery
from kiosk.paper import charts
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, REST, REST_SOFT, Picture
from kiosk.production.lineage.fills import read_fills
from kiosk.site.settings import Site
from kiosk.words.catalogs import Words
from kiosk.words.formats import day, joined, number

STEPS = 60


@dataclass(frozen=True, slots=True)
class Fits:
    """What all casks tell of loss, by measure."""

    alcohol: Fit
    volume: Fit


def fits(fills: Sequence[Fill], now: datetime) -> Fits:
    """Fit both measures on every fill."""
    return Fits(fit_losses(fills, now, Measure.ALCOHOL), fit_losses(fills, now, Measure.VOLUME))


def life_of(fills: Sequence[Fill], now: datetime) -> Fill | None:
    """Return the full cask that was gauged most often; None when none was gauged twice."""
    full = [fill for fill in fills if (fill.emptied_at is None or fill.emptied_at > now)]
    told = [fill for fill in full if len(fill.gauges_until(now)) > 1]
    return max(told, key=lambda fill: (len(fill.gauges_until(now)), fill.code), default=None)


def cask_life(fill: Fill, known: Fits, now: datetime, zone: tzinfo, words: Words) -> list[Picture]:
    """Draw a fill's volume and its strength, each with the band in which it likely was."""
    return [_volume(fill, known, now, zone, words), _strength(fill, known, now, zone, words)]


def _times(fill: Fill, now: datetime) -> list[datetime]:
    """Return moments spread over the life, and for each gauge the one before it and its own."""
    span = now - fill.filled_at
    spread = {fill.filled_at + span * n / STEPS for n in range(STEPS + 1)}
    for gauge in fill.gauges_until(now):
        spread |= {gauge.at, gauge.at - timedelta(minutes=1)}
    first = fill.gauges_until(now)[0].at
    return sorted(at for at in spread if at >= first)


def _volume(fill: Fill, known: Fits, now: datetime, zone: tzinfo, words: Words) -> Picture:
    _, fit, band = words.gettext, known.volume, []
    for at in _times(fill, now):
        found = contents_now(fill, at, fit.rates, Measure.VOLUME, fit.soakages)
        band.append((at.timestamp(), found.low_l, found.amount_l, found.high_l))
    gauges = [(g.at.timestamp(), g.volume20_l) for g in fill.gauges_until(now)]
    chart = _chart(fill, now, zone, band, _("volume at 20 °C, L"), words)
    _draw(chart, band, gauges, COPPER, COPPER_SOFT)
    title = _("Cask {cask}: what is in it", cask=fill.cask or fill.code)
    return _picture("cask-volume", title, chart, band[-1], gauges, _("volume at 20 °C, L"), zone, words)


def _strength(fill: Fill, known: Fits, now: datetime, zone: tzinfo, words: Words) -> Picture:
    _, band = words.gettext, []
    for at in _times(fill, now):
        try:
            found = strength_now(fill, at, known.alcohol, known.volume)
        except FigureError:  # drawn empty between two gauges: no strength to tell
            continue
        band.append((at.timestamp(), found.low, found.abv_percent, found.high))
    gauges = [
        (g.at.timestamp(), 100 * g.alcohol_l / g.volume20_l) for g in fill.gauges_until(now) if g.volume20_l
    ]
    chart = _chart(fill, now, zone, band, _("% vol"), words)
    _draw(chart, band, gauges, CANE, CANE_SOFT)
    title = _("Cask {cask}: how strong it is", cask=fill.cask or fill.code)
    return _picture("cask-strength", title, chart, band[-1], gauges, _("% vol"), zone, words)


Band = tuple[float, float, float, float]


def _chart(fill: Fill, now: datetime, zone: tzinfo, band: Sequence[Band], name: str, words: Words) -> Chart:
    low, high = min(at[1] for at in band), max(at[3] for at in band)
    room = max((high - low) * 0.15, 0.5)
    across = charts.months(fill.filled_at.astimezone(zone), now.astimezone(zone), "", words)
    return Chart(across, charts.numbers(max(low - room, 0.0), high + room, name, words))


def _draw(
    chart: Chart, band: Sequence[Band], gauges: Sequence[tuple[float, float]], line: Color, soft: Color
) -> None:
    chart.between([(b[0], b[3]) for b in band], [(b[0], b[1]) for b in band], soft)
    chart.curve([(b[0], b[2]) for b in band], line)
    chart.dots(gauges, line, 3.4)


def _picture(
    name: str,
    title: str,
    chart: Chart,
    last: Band,
    gauges: Sequence[tuple[float, float]],
    unit: str,
    zone: tzinfo,
    words: Words,
) -> Picture:
    low, amount, high = (number(value, 1, words) for value in last[1:])
    description = words.gettext(
        "Rings are gauges; the band is where it likely was between. "
        "Now {amount}, likely {low} to {high} ({unit}).",
        amount=amount,
        low=low,
        high=high,
        unit=unit,
    )
    rows = [(day(datetime.fromtimestamp(at, zone).date(), words), number(v, 1, words)) for at, v in gauges]
    return Picture(name, title, description, chart.drawing, (words.gettext("Gauged"), unit), rows)


STORE_STEPS = 20
HANDS = ((CANE, CANE_SOFT, None), (COPPER, COPPER_SOFT, (7.0, 4.0)), (REST, REST_SOFT, (2.0, 4.0)))


@dataclass(frozen=True, slots=True)
class StoresLife:
    """How much lay in each store at moments from the first filling to now."""

    first: datetime
    now: datetime
    bands: Mapping[str, Sequence[Band]]


def stores_life(fills: Sequence[Fill], known: Fits, now: datetime) -> StoresLife | None:
    """Add up what lay in the casks of each store; a band is the sum of theirs and errs on the wide side."""
    gauged = [fill for fill in fills if fill.gauges_until(now)]
    if not gauged:
        return None
    first = min(fill.filled_at for fill in gauged)
    moments = [first + (now - first) * n / STORE_STEPS for n in range(1, STORE_STEPS + 1)]
    names = sorted({fill.store_at(at) for fill in gauged for at in (fill.filled_at, now)})
    sums = [(at, _then(gauged, known, at)) for at in moments]
    bands = {name: [(at.timestamp(), *then[name]) for at, then in sums] for name in names}
    return StoresLife(first, now, bands)


def _then(fills: Sequence[Fill], known: Fits, at: datetime) -> Mapping[str, tuple[float, float, float]]:
    """Return low, amount and high in each store at a moment."""
    sums: dict[str, tuple[float, float, float]] = defaultdict(lambda: (0.0, 0.0, 0.0))
    for fill in fills:
        there = fill.filled_at <= at and (fill.emptied_at is None or fill.emptied_at > at)
        if there and fill.gauges_until(at):
            found = contents_now(fill, at, known.volume.rates, Measure.VOLUME, known.volume.soakages)
            store = fill.store_at(at)
            low, amount, high = sums[store]
            sums[store] = low + found.low_l, amount + found.amount_l, high + found.high_l
    return sums


def stores_drawn(life: StoresLife, zone: tzinfo, words: Words) -> Picture:
    """Draw a curve for each store with its band."""
    _, bands, first, now = words.gettext, life.bands, life.first, life.now
    most = max(one[3] for band in bands.values() for one in band) or 1.0
    across = charts.months(first.astimezone(zone), now.astimezone(zone), "", words)
    chart = Chart(across, charts.numbers(0.0, most * 1.12, _("volume at 20 °C, L"), words))
    for (store, band), (line, soft, dashes) in zip(bands.items(), HANDS * len(bands), strict=False):
        chart.between([(b[0], b[3]) for b in band], [(b[0], b[1]) for b in band], soft)
        chart.curve([(b[0], b[2]) for b in band], line, dashes)
        chart.write(band[-1][0], band[-1][2], store, line)
    last = [
        _("{store}: {n} L, likely {low} to {high}", store=store, **_told(band[-1], words))
        for store, band in bands.items()
    ]
    said = _(
        "How much spirit lies in the casks; the band is where it likely is. Now: {stores}.",
        stores=joined(last, words),
    )
    head = (_("Cask store"), _("Day"), _("volume at 20 °C, L"))
    rows = [
        (store, day(datetime.fromtimestamp(one[0], zone).date(), words), number(one[2], 0, words))
        for store, band in bands.items()
        for one in band
    ]
    return Picture("stores", _("The cask stores over the years"), said, chart.drawing, head, rows)


def _told(band: Band, words: Words) -> dict[str, str]:
    return {name: number(value, 0, words) for name, value in zip(("low", "n", "high"), band[1:], strict=True)}


@dataclass(frozen=True, slots=True)
class CellarLife:
    """The stores over the years, and the one cask whose life is drawn beside them."""

    now: datetime
    chosen: Fill
    known: Fits
    stores: StoresLife | None


def _life(session: Session, site: Site, now: datetime) -> CellarLife | None:
    """Return what the records tell; None where they tell too little."""
    fills = [fill for fill in read_fills(session).values() if fill.filled_at <= now]
    chosen = life_of(fills, now)
    if chosen is None:
        return None
    try:
        known = fits(fills, now)
        return CellarLife(now, chosen, known, stores_life(fills, known, now))
    except FigureError:  # too few gauges in the whole house to fit a loss
        return None


CELLAR_LIFE = CachedQuery(frozenset({"casks", "draws"}), 6 * 3600, _life)


def drawn(life: CellarLife, zone: tzinfo, words: Words) -> list[Picture]:
    """Draw the stores' life and a cask's."""
    stores = [stores_drawn(life.stores, zone, words)] if life.stores else []
    return [*stores, *cask_life(life.chosen, life.known, life.now, zone, words)]
