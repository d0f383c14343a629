"""A store's life: how much lay in its casks, as far back as there are casks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from kiosk.figures.casks import Fill, Measure, contents_now
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, REST, REST_SOFT, Picture
from kiosk.production.pictures import axes
from kiosk.production.pictures.cask import Band, Fits
from kiosk.words.catalogs import Words
from kiosk.words.dates import day
from kiosk.words.lists import joined
from kiosk.words.numbers import number

STEPS = 20
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
    moments = [first + (now - first) * n / STEPS for n in range(1, STEPS + 1)]
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
    across = axes.months(first.astimezone(zone), now.astimezone(zone), "", words)
    chart = Chart(across, axes.numbers(0.0, most * 1.12, _("volume at 20 °C, L"), words))
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
