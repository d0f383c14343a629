"""Fermentation curves: how the washes that stand in the tanks now have made their alcohol."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.wash import wash_abv_percent
from kiosk.paper.charts import Chart
from kiosk.paper.pictures import CANE, COPPER, INK, REST, Picture
from kiosk.production.chain import gravity_at_20
from kiosk.production.pictures import axes
from kiosk.store.tables.production import vessels, wash_readings, washes
from kiosk.words.catalogs import Words
from kiosk.words.lists import joined
from kiosk.words.numbers import number

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
    found: dict[str, list[tuple[float, float]]] = {}
    first: dict[str, float] = {}
    for tank, set_at, at, value_e4, temperature_mc in read:
        gravity = gravity_at_20(value_e4, temperature_mc)
        original = first.setdefault(tank, gravity)
        made = wash_abv_percent(original, min(gravity, original))
        found.setdefault(tank, []).append(((at - set_at).total_seconds() / 3600, made))
    return found


def fermentation(found: Curves, words: Words) -> Picture | None:
    """Draw a curve for each tank; None while every tank rests."""
    if not found:
        return None
    _ = words.gettext
    longest = max(points[-1][0] for points in found.values())
    most = max(made for points in found.values() for _hours, made in points)
    hours = axes.numbers(0.0, max(longest * 1.06, 24.0), _("hours since setting"), words)
    chart = Chart(hours, axes.numbers(0.0, max(most * 1.15, 4.0), _("alcohol made, % vol"), words))
    for (tank, points), (colour, dashes) in zip(found.items(), HANDS * len(found), strict=False):
        chart.curve(points, colour, dashes)
        chart.dots(points, colour)
        chart.write(*points[-1], tank, colour)
    now = [
        _("{tank}: {number} % vol", tank=tank, number=number(points[-1][1], 1, words))
        for tank, points in found.items()
    ]
    description = _(
        "Alcohol made in each tank, reckoned from gravity. Now: {tanks}.", tanks=joined(now, words)
    )
    head = (_("Tank"), _("hours since setting"), _("alcohol made, % vol"))
    rows = [
        (tank, number(hour, 0, words), number(made, 1, words))
        for tank, points in found.items()
        for hour, made in points
    ]
    return Picture("fermentation", _("What ferments now"), description, chart.drawing, head, rows)
