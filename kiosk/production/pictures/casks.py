"""Pictures of the cask store: one cask's volume and strength between its gauges, and every store's stock.

What they need of all fills is computed once per change of the records.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from reportlab.lib.colors import Color
from sqlalchemy.orm import Session

from kiosk.figures.casks import Fill, Fit, Measure, contents_now, fit_losses, strength_now
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import CachedQuery, Unit
from kiosk.paper import charts
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, REST, REST_SOFT, Picture
from kiosk.production.lineage.fills import read_fills
from kiosk.site.settings import Site, Units
from kiosk.words.catalogs import Words
from kiosk.words.formats import day, joined, number
from kiosk.words.units import scale

STEPS = 60


@dataclass(frozen=True, slots=True)
class Fits:
    """The losses fitted to all casks, by measure."""

    alcohol: Fit
    volume: Fit


def fits(fills: Sequence[Fill], now: datetime) -> Fits:
    """Fit both measures on every fill."""
    return Fits(fit_losses(fills, now, Measure.ALCOHOL), fit_losses(fills, now, Measure.VOLUME))


def life_of(fills: Sequence[Fill], now: datetime) -> Fill | None:
    """Return the full cask that was gauged most often; None when none was gauged twice."""
    full = [fill for fill in fills if (fill.emptied_at is None or fill.emptied_at > now)]
    gauged = [fill for fill in full if len(fill.gauges_until(now)) > 1]
    return max(gauged, key=lambda fill: (len(fill.gauges_until(now)), fill.code), default=None)


def cask_life(
    fill: Fill, losses: Fits, now: datetime, zone: tzinfo, words: Words, units: str = Units.METRIC
) -> list[Picture]:
    """Draw a fill's volume and its strength, each with its band of confidence."""
    return [_volume(fill, losses, now, zone, words, units), _strength(fill, losses, now, zone, words)]


def _times(fill: Fill, now: datetime) -> list[datetime]:
    """Return moments spread over the fill's life, and for each gauge its own and the one just before."""
    span = now - fill.filled_at
    spread = {fill.filled_at + span * n / STEPS for n in range(STEPS + 1)}
    for gauge in fill.gauges_until(now):
        spread |= {gauge.at, gauge.at - timedelta.resolution}
    first = fill.gauges_until(now)[0].at
    return sorted(at for at in spread if at >= first)


def _volume(fill: Fill, losses: Fits, now: datetime, zone: tzinfo, words: Words, units: str) -> Picture:
    _, fit, band = words.gettext, losses.volume, []
    per_l, unit = scale(Unit.L, words, units)
    for at in _times(fill, now):
        contents = contents_now(fill, at, fit.rates, Measure.VOLUME, fit.soakages)
        litres = (contents.low_l, contents.amount_l, contents.high_l)
        band.append(_scaled((at.timestamp(), *litres), per_l))
    gauges = [(g.at.timestamp(), g.volume20_l * per_l) for g in fill.gauges_until(now)]
    title = _("Cask {cask}: what is in it", cask=fill.cask or fill.code)
    colours, axis = (COPPER, COPPER_SOFT), _("volume at 20 °C, {unit}", unit=unit)
    return _cask_picture(
        "cask-volume", title, axis, colours, band, gauges, (fill.filled_at, now), zone, words
    )


def _strength(fill: Fill, losses: Fits, now: datetime, zone: tzinfo, words: Words) -> Picture:
    _, band = words.gettext, []
    for at in _times(fill, now):
        try:
            strength = strength_now(fill, at, losses.alcohol, losses.volume)
        except FigureError:  # drawn empty between two gauges: it has no strength
            continue
        band.append((at.timestamp(), strength.low, strength.abv_percent, strength.high))
    gauges = [
        (g.at.timestamp(), 100 * g.alcohol_l / g.volume20_l) for g in fill.gauges_until(now) if g.volume20_l
    ]
    title = _("Cask {cask}: how strong it is", cask=fill.cask or fill.code)
    life, colours = (fill.filled_at, now), (CANE, CANE_SOFT)
    return _cask_picture("cask-strength", title, _("% vol"), colours, band, gauges, life, zone, words)


Band = tuple[float, float, float, float]
"""A moment in seconds, with the low bound, the estimate and the high bound then."""


def _scaled(band: Band, factor: float) -> Band:
    at, low, amount, high = band
    return at, low * factor, amount * factor, high * factor


def _cask_picture(
    name: str,
    title: str,
    unit: str,
    colours: tuple[Color, Color],
    band: Sequence[Band],
    gauges: Sequence[tuple[float, float]],
    life: tuple[datetime, datetime],
    zone: tzinfo,
    words: Words,
) -> Picture:
    low, high = min(at[1] for at in band), max(at[3] for at in band)
    margin = max((high - low) * 0.15, 0.5)
    first, last = (at.astimezone(zone) for at in life)
    up = charts.numbers(max(low - margin, 0.0), high + margin, unit, words)
    chart = Chart(charts.months(first, last, "", words), up)
    chart.between([(b[0], b[3]) for b in band], [(b[0], b[1]) for b in band], colours[1])
    chart.curve([(b[0], b[2]) for b in band], colours[0])
    chart.dots(gauges, colours[0], 3.4)
    amounts = zip(("low", "amount", "high"), (number(value, 1, words) for value in band[-1][1:]), strict=True)
    description = words.gettext(
        "Rings are gauges; the band is where it likely was between. "
        "Now {amount}, likely {low} to {high} ({unit}).",
        **dict(amounts),
        unit=unit,
    )
    rows = [(day(datetime.fromtimestamp(at, zone).date(), words), number(v, 1, words)) for at, v in gauges]
    return Picture(name, title, description, chart.drawing, (words.gettext("Gauged"), unit), rows)


STORE_STEPS = 20
HANDS = ((CANE, CANE_SOFT, None), (COPPER, COPPER_SOFT, (7.0, 4.0)), (REST, REST_SOFT, (2.0, 4.0)))


@dataclass(frozen=True, slots=True)
class CellarLife:
    """The stores from the first filling to `now`, and the one cask whose life is drawn beside them.

    `bands` are how much lay in each store over time: the sums over its casks, whose bands together are
    rather too wide.
    """

    first: datetime
    now: datetime
    bands: Mapping[str, Sequence[Band]]
    chosen: Fill
    losses: Fits


def cellar_life(fills: Iterable[Fill], now: datetime) -> CellarLife | None:
    """Return what the pictures need; None where the fills have too few gauges for it."""
    made = [fill for fill in fills if fill.filled_at <= now]
    chosen = life_of(made, now)
    if chosen is None:
        return None
    try:
        losses = fits(made, now)
    except FigureError:  # too few gauges in the whole house to fit a loss
        return None
    gauged = [fill for fill in made if fill.gauges_until(now)]
    first = min(fill.filled_at for fill in gauged)
    moments = [first + (now - first) * n / STORE_STEPS for n in range(1, STORE_STEPS + 1)]
    names = sorted({fill.store_at(at) for fill in gauged for at in (fill.filled_at, now)})
    sums = [(at, _then(gauged, losses, at)) for at in moments]
    bands = {name: [(at.timestamp(), *then[name]) for at, then in sums] for name in names}
    return CellarLife(first, now, bands, chosen, losses)


def _then(fills: Sequence[Fill], losses: Fits, at: datetime) -> Mapping[str, tuple[float, float, float]]:
    """Return low, amount and high in each store at a moment."""
    sums: dict[str, tuple[float, float, float]] = defaultdict(lambda: (0.0, 0.0, 0.0))
    for fill in fills:
        there = fill.filled_at <= at and (fill.emptied_at is None or fill.emptied_at > at)
        if there and fill.gauges_until(at):
            contents = contents_now(fill, at, losses.volume.rates, Measure.VOLUME, losses.volume.soakages)
            store = fill.store_at(at)
            low, amount, high = sums[store]
            sums[store] = low + contents.low_l, amount + contents.amount_l, high + contents.high_l
    return sums


def stores_drawn(life: CellarLife, zone: tzinfo, words: Words, units: str = Units.METRIC) -> Picture:
    """Draw a curve for each store with its band."""
    _, first, now = words.gettext, life.first, life.now
    per_l, unit = scale(Unit.L, words, units)
    axis = _("volume at 20 °C, {unit}", unit=unit)
    bands = {store: [_scaled(one, per_l) for one in band] for store, band in life.bands.items()}
    most = max(one[3] for band in bands.values() for one in band) or 1.0
    across = charts.months(first.astimezone(zone), now.astimezone(zone), "", words)
    chart = Chart(across, charts.numbers(0.0, most * 1.12, axis, words))
    for (store, band), (line, soft, dashes) in zip(bands.items(), HANDS * len(bands), strict=False):
        chart.between([(b[0], b[3]) for b in band], [(b[0], b[1]) for b in band], soft)
        chart.curve([(b[0], b[2]) for b in band], line, dashes)
        chart.write(band[-1][0], band[-1][2], store, line)
    last = [
        _("{store}: {n} {unit}, likely {low} to {high}", store=store, unit=unit, **_amounts(band[-1], words))
        for store, band in bands.items()
    ]
    description = _(
        "How much spirit lies in the casks; the band is where it likely is. Now: {stores}.",
        stores=joined(last, words),
    )
    head = (_("Cask store"), _("Day"), axis)
    rows = [
        (store, day(datetime.fromtimestamp(one[0], zone).date(), words), number(one[2], 0, words))
        for store, band in bands.items()
        for one in band
    ]
    return Picture("stores", _("The cask stores over the years"), description, chart.drawing, head, rows)


def _amounts(band: Band, words: Words) -> dict[str, str]:
    return {name: number(value, 0, words) for name, value in zip(("low", "n", "high"), band[1:], strict=True)}


def _life(session: Session, site: Site, now: datetime) -> CellarLife | None:
    return cellar_life(read_fills(session).values(), now)


CELLAR_LIFE = CachedQuery(frozenset({"casks", "draws"}), 6 * 3600, _life)


def cellar_pictures(life: CellarLife, zone: tzinfo, words: Words, units: str) -> list[Picture]:
    """Draw the stock of the stores and the life of a cask."""
    return [
        stores_drawn(life, zone, words, units),
        *cask_life(life.chosen, life.losses, life.now, zone, words, units),
    ]
