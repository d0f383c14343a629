"""A cask's life: what was in it and how strong, and how sure that was between the gauges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from reportlab.lib.colors import Color

from kiosk.figures.casks import Fill, Fit, Measure, contents_now, fit_losses, strength_now
from kiosk.figures.errors import FigureError
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, Picture
from kiosk.production.pictures import axes
from kiosk.words.catalogs import Words
from kiosk.words.dates import day
from kiosk.words.numbers import number

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
    across = axes.months(fill.filled_at.astimezone(zone), now.astimezone(zone), "", words)
    return Chart(across, axes.numbers(max(low - room, 0.0), high + room, name, words))


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
