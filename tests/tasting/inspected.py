"""Two days at a small bar with everything that an inspection asks about."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

from kiosk.figures.drinks import DayRestriction
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import permits
from kiosk.tasting.rules import policy
from kiosk.tasting.shift_closing import closing
from tests.tasting_room import HALF_UL, SIX_A_DAY, Tasting, tasting_site

FIRST, LAST = date(2026, 6, 16), date(2026, 6, 17)


def two_days(store: Store, folder: Path, now: datetime) -> Tasting:
    """Serve on a first day, change the rules overnight, serve too much on the second.

    On the first: two samples for guest 1, one refused to guest 2 who was not checked,
    guest 3 under age. On the second guest 1, whose number is over, gets a glass, which
    goes to guest 2; then the service of guest 1 is ended.
    """
    tasting = Tasting.begun(store, tasting_site(folder, rooms=("main", "terrace")), now, guests=3)
    held = {"staff_id": tasting.bea, "kind": "serving", "number": "SP-20"}
    with store.write() as session:
        rows.insert(session, permits, {**held, "valid_from": FIRST, "valid_until": date(2027, 1, 1)})
    one, two, three = tasting.guests
    tasting.check(one)
    tasting.mark(three, "under_age", by=tasting.bea)
    tasting.pour(one)
    tasting.now += timedelta(hours=1)
    tasting.pour(one, "anejo", HALF_UL, by=tasting.bea)
    tasting.pour(two)
    sign(tasting)
    tasting.now += timedelta(hours=22)
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, limits=(SIX_A_DAY,), year=2027))
    with store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=tasting.ana, at=tasting.now)
        word = DayRestriction("day_pours", 2, tasting.now)
        policy.tighten_for_day(session, tasting.site, tasting.origin(), "terrace", word, "a hot day")
    glass = tasting.pour(one, asked=False)
    tasting.correct(glass.key, "reassign", two)
    tasting.now += timedelta(minutes=5)
    tasting.mark(two, "service_stopped")
    sign(tasting)
    return tasting


def sign(tasting: Tasting) -> None:
    """Close the shift of the day."""
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        closing.sign(session, tasting.site, tasting.origin(), "main", day, 24.0, tasting.now)
