"""The run so far: strength at the parrot against what has run off, with its cuts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import groupby, pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.cuts import Reading
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE_SOFT, COPPER, COPPER_SOFT, LINE, REST_SOFT, Picture
from kiosk.production.pictures import axes
from kiosk.production.run_readings import read_runs
from kiosk.store.tables.production import batches, runs
from kiosk.words.catalogs import Words
from kiosk.words.dates import moment
from kiosk.words.numbers import number
from kiosk.words.units import CUT_NAMES

COLOURS = {"low_wines": CANE_SOFT, "heads": REST_SOFT, "hearts": COPPER_SOFT, "tails": LINE}


@dataclass(frozen=True, slots=True)
class Run:
    """A run with its readings in the order of time."""

    code: str
    ended: bool
    readings: Sequence[Reading]


def latest_run(session: Session, now: datetime) -> Run | None:
    """Return the spirit run that was begun last, None where none has two readings."""
    found = session.execute(
        select(runs.c.id, batches.c.code, runs.c.ended_at)
        .join(batches, batches.c.id == runs.c.id)
        .where(runs.c.kind == "spirit", runs.c.started_at <= now)
        .order_by(runs.c.started_at.desc())
        .limit(1)
    ).first()
    if found is None:
        return None
    readings = [reading for _id, reading in read_runs(session, [found.id], now).get(found.id, ())]
    return Run(found.code, found.ended_at is not None, readings) if len(readings) > 1 else None


def run_so_far(run: Run, now: datetime, zone: tzinfo, words: Words) -> Picture:
    """Draw a run: the curve of its strength, what lies under each cut, the last reading named."""
    _, readings = words.gettext, run.readings
    last = readings[-1]
    litres = axes.numbers(0.0, last.collected_l * 1.04, _("collected, L"), words)
    chart = Chart(litres, axes.numbers(0.0, 90.0, _("% vol"), words))
    for cut, part in _parts(readings):
        name, colour = CUT_NAMES.get(cut, cut), COLOURS.get(cut, LINE)
        points = [(one.collected_l, one.abv_percent) for one in part]
        chart.under(points, colour)
        chart.upright(points[0][0])
        chart.write((points[0][0] + points[-1][0]) / 2, chart.up.high, _(name))
    chart.curve([(one.collected_l, one.abv_percent) for one in readings], COPPER)
    chart.dots([(one.collected_l, one.abv_percent) for one in readings], COPPER)
    strength = _("{number} % vol", number=number(last.abv_percent, 1, words))
    chart.write(last.collected_l, last.abv_percent, strength)
    title = _("Run {code}", code=run.code) if run.ended else _("Run {code}, so far", code=run.code)
    description = _(
        "The strength falls from {first} to {last} % vol while {litres} L run off; the cuts are marked.",
        first=number(readings[0].abv_percent, 1, words),
        last=number(last.abv_percent, 1, words),
        litres=number(last.collected_l, 0, words),
    )
    head = (_("When"), _("Cut"), _("collected, L"), _("% vol"))
    rows = [_row(one, now, zone, words) for one in readings]
    return Picture("run", title, description, chart.drawing, head, rows)


def _row(one: Reading, now: datetime, zone: tzinfo, words: Words) -> tuple[str, ...]:
    name = words.gettext(CUT_NAMES[one.cut]) if one.cut in CUT_NAMES else one.cut
    litres, strength = number(one.collected_l, 1, words), number(one.abv_percent, 1, words)
    return moment(one.at, zone, words, now), name, litres, strength


def _parts(readings: Sequence[Reading]) -> list[tuple[str, list[Reading]]]:
    """Return the cuts in order; each reaches to the first reading of the next, which the cut was made at."""
    parts = [(cut, list(of_it)) for cut, of_it in groupby(readings, key=lambda one: one.cut)]
    for (_cut, part), (_next, following) in pairwise(parts):
        part.append(following[0])
    return parts
