"""The demo's bar: what may be poured, bottles opened, rounds poured, and yesterday's shift signed."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.demo.records import Row, moment
from kiosk.entries.entries import EntryOrigin
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables import production, tasting, tours
from kiosk.tasting.bottles import bottle_entries, stock
from kiosk.tasting.bottles.bottle_entries import Opening
from kiosk.tasting.room import pouring
from kiosk.tasting.room.pouring import PourEntry
from kiosk.tasting.shift_closing import closing
from kiosk.tasting.shift_closing.balances import Typed

RECEIVED, OPENED, CLOSED = time(15), time(8, 5), time(17, 40)
"""When bottles are received, two days before today; when they are opened, and the shift closed, yesterday."""
ROOM_C = 24.0
"""Temperature of the room and its bottles then."""


def add_approvals(session: Session, table: Sequence[Row], by: int) -> None:
    """Record what may be poured, signed by `by`."""
    b = production.batches.c
    lots = dict(session.execute(select(b.code, b.id).where(b.kind == "lot")).all())
    same = ("code", "kind", "product", "abv_basis", "document", "formula", "rooms", "from_on")
    for row in table:
        density = row["density_g_per_ml"]
        values = {
            **{name: row[name] for name in same},
            "batch_id": lots[row["lot"]] if row["lot"] else None,
            "abv_e2": round(row["abv_percent"] * 100),
            "density_e4": None if density is None else round(density * 10_000),
            "signed_by": by,
        }
        rows.insert(session, tasting.approvals, values)


def _origin(by: int) -> EntryOrigin:
    return EntryOrigin(new_key(), by, None, checked=True)


def open_bar(session: Session, site: Site, table: Sequence[Row], today: date, by: int) -> None:
    """Record for each row sealed bottles received two days ago, and one of them opened yesterday morning."""
    ids = _approval_ids(session)
    received = datetime.combine(today - timedelta(days=2), RECEIVED, site.zone)
    opened = datetime.combine(today - timedelta(days=1), OPENED, site.zone)
    for row in table:
        approval, room, size_ml = ids[row["approval"]], row["room"], row["size_ml"]
        line = stock.Line(approval, room, "received", row["received"], size_ml, row["document"])
        stock.record(session, site, _origin(by), line, received)
        grams, mc = row["opened_g"], round(ROOM_C * 1000)
        opening = Opening(approval, room, size_ml, gross_g=grams, temperature_mc=mc)
        bottle_entries.record_opening(session, site, _origin(by), opening, opened)


def pour_rounds(
    session: Session,
    site: Site,
    rounds: Sequence[Row],
    tour_ids: Mapping[tuple[date, str], int],
    staff: Mapping[str, int],
) -> None:
    """Pour each round of a flight for the guests of a tour who may have it; the rules decide every glass.

    Raises ValueError for a round of which a glass is refused.
    """
    for row in rounds:
        tour_id, at = tour_ids[row["day"], row["tour"]], moment(site, row, "at")
        i, t = tours.flight_items.c, tours.tours.c
        item = select(i.product, i.volume_ul).join(tours.tours, t.flight_id == i.flight_id)
        glass = session.execute(item.where(t.id == tour_id, i.pos == row["pos"])).one()
        free = site.products[glass.product].abv_e2 == 0
        for guest_id in _guests(session, tour_id, checked=not free):
            origin = _origin(staff[row["server"]])
            poured = pouring.pour(
                session, site, PourEntry(origin, guest_id, glass.product, glass.volume_ul), at
            )
            if poured.outcome != "poured":
                raise ValueError(f"round {row['pos']} of tour {row['tour']}: {poured.reasons}")


def _guests(session: Session, tour_id: int, *, checked: bool) -> Sequence[int]:
    """Return the ids of a tour's guests by number; with `checked` only of those whose ID was checked."""
    g, m = tours.guests.c, tours.marks.c
    query = select(g.id).where(g.tour_id == tour_id).order_by(g.number)
    if checked:
        query = query.where(g.id.in_(select(m.guest_id).where(m.kind == "id_check")))
    return session.scalars(query).all()


def close_shift(session: Session, site: Site, table: Sequence[Row], day: date, by: int) -> None:
    """Weigh the open bottles, count the sealed ones and sign the shift of each room on a day."""
    b, at = tasting.bottles.c, datetime.combine(day, CLOSED, site.zone)
    bottles = dict(session.execute(select(b.approval_id, b.id)).all())
    ids = _approval_ids(session)
    for room in sorted({row["room"] for row in table}):
        here = [(ids[row["approval"]], row) for row in table if row["room"] == room]
        weights = {bottles[approval]: row["closed_g"] for approval, row in here}
        counts = {(approval, row["size_ml"]): row["received"] - 1 for approval, row in here}
        typed = Typed(at, ROOM_C, weights, counts)
        closing.sign(session, site, _origin(by), room, day, ROOM_C, at, typed)


def _approval_ids(session: Session) -> Mapping[str, int]:
    """Return the ids of what may be poured, by code."""
    approvals = tasting.approvals.c
    return dict(session.execute(select(approvals.code, approvals.id)).all())
