"""Pictures of a still run and of the washes in the tanks, and the pictures of each stop."""

from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from itertools import groupby, pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Unit
from kiosk.figures.making import wash_abv_percent
from kiosk.figures.making.cuts import Reading
from kiosk.paper import charts
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, INK, LINE, REST, REST_SOFT, Picture
from kiosk.production.lineage.chain import gravity_at_20
from kiosk.production.pictures import casks
from kiosk.production.runs.account import Account, read_account
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import Units
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.production import runs, vessels, wash_readings, washes
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import joined, moment, number
from kiosk.words.units import CUT_NAMES, amount, scale

COLOURS = {"low_wines": CANE_SOFT, "heads": REST_SOFT, "hearts": COPPER_SOFT, "tails": LINE}


def latest_run(session: Session, now: datetime) -> Account | None:
    """Return the account of the spirit run started last; None where it has fewer than two readings."""
    r = runs.c
    begun = select(r.id).where(r.kind == "spirit", r.started_at <= now)
    try:
        account = read_account(session, begun.order_by(r.started_at.desc()).limit(1).scalar_subquery(), now)
    except NoSuchRow:
        return None
    return account if len(account.readings) > 1 else None


def run_so_far(run: Account, now: datetime, zone: tzinfo, words: Words, units: str = Units.METRIC) -> Picture:
    """Draw a run: the curve of its strength, what lies under each cut, the last reading named."""
    _, readings = words.gettext, run.readings
    last = readings[-1]
    per_l, unit = scale(Unit.L, words, units)
    collected = charts.numbers(0.0, last.collected_l * per_l * 1.04, _("collected, {unit}", unit=unit), words)
    chart = Chart(collected, charts.numbers(0.0, 90.0, _("% vol"), words))
    for cut, part in _parts(readings):
        name, colour = CUT_NAMES.get(cut, cut), COLOURS.get(cut, LINE)
        points = [(one.collected_l * per_l, one.abv_percent) for one in part]
        chart.under(points, colour)
        chart.upright(points[0][0])
        chart.write((points[0][0] + points[-1][0]) / 2, chart.up.high, _(name))
    curve = [(one.collected_l * per_l, one.abv_percent) for one in readings]
    chart.curve(curve, COPPER)
    chart.dots(curve, COPPER)
    strength = _("{number} % vol", number=number(last.abv_percent, 1, words))
    chart.write(*curve[-1], strength)
    message = N_("Run {code}") if run.row.ended_at else N_("Run {code}, so far")
    description = _(
        "The strength falls from {first} to {last} % vol while {volume} run off; the cuts are marked.",
        first=number(readings[0].abv_percent, 1, words),
        last=number(last.abv_percent, 1, words),
        volume=amount(last.collected_l, Unit.L, 0, words, units),
    )
    head = (_("When"), _("Cut"), _("collected"), _("% vol"))
    rows = [_row(one, now, zone, words, units) for one in readings]
    return Picture("run", _(message, code=run.row.code), description, chart.drawing, head, rows)


def _row(one: Reading, now: datetime, zone: tzinfo, words: Words, units: str) -> tuple[str, ...]:
    name = words.gettext(CUT_NAMES[one.cut]) if one.cut in CUT_NAMES else one.cut
    collected = str(amount(one.collected_l, Unit.L, 1, words, units))
    return moment(one.at, zone, words, now), name, collected, number(one.abv_percent, 1, words)


def _parts(readings: Sequence[Reading]) -> list[tuple[str, list[Reading]]]:
    """Return the cuts in order; each reaches to the first reading of the next, which the cut was made at."""
    parts = [(cut, list(of_it)) for cut, of_it in groupby(readings, key=lambda one: one.cut)]
    for (_cut, part), (_next, following) in pairwise(parts):
        part.append(following[0])
    return parts


HANDS = ((CANE, None), (COPPER, (7.0, 4.0)), (REST, (2.0, 4.0)), (INK, (10.0, 3.0, 2.0, 3.0)))
"""Curves differ by dash as well as by colour."""

Curves = Mapping[str, Sequence[tuple[float, float]]]


def curves(session: Session, now: datetime) -> Curves:
    """Return by tank the hours since setting and % vol at each gravity of the wash that stands there."""
    r = wash_readings.c
    read = session.execute(
        select(vessels.c.code, washes.c.set_at, r.at, r.value_e4, r.temperature_mc)
        .join(washes, washes.c.id == r.wash_id)
        .join(vessels, vessels.c.id == washes.c.vessel_id)
        .where(washes.c.ended_at.is_(None), r.kind == "gravity", r.at <= now)
        .order_by(vessels.c.code, r.at)
    )
    points: dict[str, list[tuple[float, float]]] = {}
    first: dict[str, float] = {}
    for tank, set_at, at, value_e4, temperature_mc in read:
        gravity = gravity_at_20(value_e4, temperature_mc)
        original = first.setdefault(tank, gravity)
        abv_percent = wash_abv_percent(original, min(gravity, original))
        points.setdefault(tank, []).append(((at - set_at).total_seconds() / 3600, abv_percent))
    return points


def fermentation(tanks: Curves, words: Words) -> Picture | None:
    """Draw a curve for each tank; None while every tank rests."""
    if not tanks:
        return None
    _ = words.gettext
    longest = max(points[-1][0] for points in tanks.values())
    most = max(abv_percent for points in tanks.values() for _hours, abv_percent in points)
    hours = charts.numbers(0.0, max(longest * 1.06, 24.0), _("hours since setting"), words)
    chart = Chart(hours, charts.numbers(0.0, max(most * 1.15, 4.0), _("alcohol made, % vol"), words))
    for (tank, points), (colour, dashes) in zip(tanks.items(), HANDS * len(tanks), strict=False):
        chart.curve(points, colour, dashes)
        chart.dots(points, colour)
        chart.write(*points[-1], tank, colour)
    now = [
        _("{tank}: {number} % vol", tank=tank, number=number(points[-1][1], 1, words))
        for tank, points in tanks.items()
    ]
    description = _(
        "Alcohol made in each tank, reckoned from gravity. Now: {tanks}.", tanks=joined(now, words)
    )
    head = (_("Tank"), _("hours since setting"), _("alcohol made, % vol"))
    rows = [
        (tank, number(hour, 0, words), number(abv_percent, 1, words))
        for tank, points in tanks.items()
        for hour, abv_percent in points
    ]
    return Picture("fermentation", _("What ferments now"), description, chart.drawing, head, rows)


def stop_pictures(session: Session, slug: str, reader: PageReader) -> list[Picture]:
    """Return the pictures of the records at a stop; none where the records are too few to draw."""
    now, words, zone = reader.now, reader.words, reader.zone
    if slug == "still-house":
        run = latest_run(session, now)
        return [run_so_far(run, now, zone, words, reader.units)] if run else []
    if slug == "fermentation":
        picture = fermentation(curves(session, now), words)
        return [picture] if picture else []
    life = reader.figures.cached(casks.CELLAR_LIFE) if slug == "cask-store" else None
    return casks.cellar_pictures(life, zone, words, reader.units) if life else []
