"""A tasting on the records of a small site: guests, flight, approvals and rules in force."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from kiosk.entries.entries import Answer, EntryOrigin, record_entry
from kiosk.entries.guest_marks import GUEST_MARKS, MarkEntry
from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Kind,
    Limit,
    ServiceHours,
    ServicePolicy,
    parse_drinks,
    parse_volume_ul,
)
from kiosk.site.settings import Measure, Mixer, Product, Recipe, Site
from kiosk.staff.people import roles_of
from kiosk.store import ledgers, rows
from kiosk.store.engine import Store
from kiosk.store.ledgers import new_key
from kiosk.store.tables import tours as tour_tables
from kiosk.store.tables.staff import devices, staff, staff_roles
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.room.corrections import (
    CORRECTIONS,
    GIVING_BACK,
    ROUND_CORRECTIONS,
    CorrectionEntry,
    RoundCorrection,
)
from kiosk.tasting.room.pouring import Belief, PourEntry, pour
from kiosk.tasting.room.room import RoomView, room
from kiosk.tasting.rules import policy
from tests.actors import small_site

US = STANDARD_DRINKS["US"]
QUARTER_UL = parse_volume_ul("0.25 fl oz", round_up=False)
HALF_UL = parse_volume_ul("0.5 fl oz", round_up=False)

SIX_A_DAY = Limit("day_pours", Kind.POURS, "day", 6, basis="invented for a test", year=2026)
LIMITS = (
    Limit("largest", Kind.LARGEST, "pour", parse_volume_ul("0.5 fl oz", round_up=True)),
    SIX_A_DAY,
    Limit("day_volume", Kind.VOLUME, "day", parse_volume_ul("1.5 fl oz", round_up=True)),
    Limit("day_drinks", Kind.DRINKS, "day", parse_drinks("1.5 drinks", US)),
)
HOURS = (ServiceHours(frozenset(range(7)), time(9), time(18)),)


def product(name: str, abv_e2: int) -> Product:
    """Return an invented product."""
    return Product(name, {"en": name.title(), "es": name.title()}, {"en": "", "es": ""}, {}, abv_e2, "label")


PRODUCTS = {
    p.id: p
    for p in (
        product("blanco", 4000),
        product("anejo", 4200),
        product("reserva", 4500),
        product("jengibre", 3000),
        product("ponche-sin", 0),
    )
}

_BOTH = {"en": "tall glass", "es": "vaso alto"}
_JUICE = Mixer({"en": "juice", "es": "jugo"}, 90_000)
_CREAM = Mixer({"en": "cream", "es": "crema"}, 15_000, ("milk",))
_CHERRY = Mixer({"en": "cherry", "es": "cereza"}, 0, ("sulphites",))
OUNCE_UL = parse_volume_ul("1 fl oz", round_up=False)
RECIPES = {
    r.id: r
    for r in (
        Recipe(
            "welcome",
            {"en": "Welcome", "es": "Bienvenida"},
            _BOTH,
            (_JUICE, _CREAM, _CHERRY),
            "jengibre",
            OUNCE_UL,
            QUARTER_UL,
            "welcome-sin",
        ),
        Recipe("welcome-sin", {"en": "Welcome Without", "es": "Bienvenida sin"}, _BOTH, (_JUICE, _CHERRY)),
    )
}
"""A welcome drink of 1 fl oz at 30 % in juice and cream, and its twin of juice."""


def tasting_site(folder: Path, *, limits: Iterable[Limit] = LIMITS, **changes: Any) -> Site:
    """Return a small site with service rules, products and a measure."""
    rules = ServicePolicy(21, "invented for a test", 2026, tuple(limits), HOURS)
    values = {
        "policy": rules,
        "standard_drink": US,
        "products": PRODUCTS,
        "recipes": RECIPES,
        "measures": (Measure("quarter-ounce", QUARTER_UL), Measure("half-ounce", HALF_UL)),
        **changes,
    }
    return small_site(folder, **values)


@dataclass
class Tasting:
    """A tour's tasting and the acts of those who pour; every act is a transaction of its own."""

    store: Store
    site: Site
    now: datetime
    tour: int = 0
    guests: list[int] = field(default_factory=list)
    ana: int = 0
    bea: int = 0
    tablet: int = 0
    other_tablet: int = 0

    @classmethod
    def begun(
        cls,
        store: Store,
        site: Site,
        now: datetime,
        *,
        guests: int = 2,
        flight: Iterable[tuple[str, int | None]] = (("blanco", QUARTER_UL), ("anejo", QUARTER_UL)),
        welcome: str | None = None,
        approved: Iterable[str] = ("blanco", "anejo", "jengibre"),
    ) -> Tasting:
        """Record a tour with guests not yet checked, what is approved, and the rules confirmed.

        Ana is a manager and acts unless a test says otherwise; Bea works at the bar.
        """
        here = cls(store, site, now)
        day = site.service_day(now)
        with store.write() as session:
            here.ana, here.bea = (
                rows.insert(session, staff, {"name": name, "pin_hash": "x", "languages": ["en"]})
                for name in ("Ana", "Bea")
            )
            for one, role in ((here.ana, "manager"), (here.bea, "bar")):
                session.execute(staff_roles.insert().values(staff_id=one, role=role))
            here.tablet, here.other_tablet = (
                rows.insert(
                    session,
                    devices,
                    {"name": name, "kind": "tablet", "token_hash": new_key() * 2, "enrolled_at": now},
                )
                for name in ("tablet", "other tablet")
            )
            here._record_tour(session, flight, welcome, now)
            here._record_guests(session, guests, day)
            for name in approved:
                here.approval(session, name, day)
            policy.confirm(session, site, key=new_key(), by=here.ana, at=now - timedelta(days=1))
        return here

    def _record_tour(
        self, session: Any, flight: Iterable[tuple[str, int | None]], welcome: str | None, now: datetime
    ) -> None:
        flight_id = rows.insert(
            session, tour_tables.flights, {"name": f"short {self.tour}", "archived": False}
        )
        planned = [(0, welcome, None)] if welcome else []
        for pos, name, volume_ul in [*planned, *((n, *one) for n, one in enumerate(flight, 1))]:
            values = {"flight_id": flight_id, "pos": pos, "product": name, "volume_ul": volume_ul}
            rows.insert(session, tour_tables.flight_items, values)
        values = {
            "letter": "A",
            "starts_at": now - timedelta(hours=1),
            "route": "main",
            "languages": ["en"],
            "flight_id": flight_id,
            "room": "main",
            "places": 22,
            "private": False,
        }
        self.tour = rows.insert(session, tour_tables.tours, values)

    def _record_guests(self, session: Any, n: int, day: date, first: int = 1) -> None:
        party = rows.insert(
            session, tour_tables.bookings, {"tour_id": self.tour, "size": n, "language": "en"}
        )
        for number in range(first, first + n):
            values = {
                "booking_id": party,
                "tour_id": self.tour,
                "day": day,
                "number": number,
                "place": number - first + 1,
                "language": "en" if number % 2 else "es",
                "link_no": 0,
            }
            self.guests.append(rows.insert(session, tour_tables.guests, values))

    def ticket(self, kind: str | None) -> None:
        """Say which kind of ticket the party bought."""
        with self.store.write() as session:
            session.execute(tour_tables.bookings.update().values(ticket=kind))

    def approval(self, session: Any, name: str, day: date, **changes: Any) -> int:
        """Record a signed approval of a product for the main room."""
        values = {
            "code": f"R-{name}-{new_key()[:6]}",
            "kind": "bottled",
            "product": name,
            "abv_e2": None,
            "abv_basis": "label",
            "rooms": ["main"],
            "from_on": day,
            "signed_by": self.ana,
            **changes,
        }
        return rows.insert(session, approvals, values)

    def origin(
        self, key: str | None = None, by: int | None = None, tablet: int | None = None, **more: Any
    ) -> EntryOrigin:
        """Return what an entry of Ana's, or of somebody else's, carries."""
        by = by or self.ana
        with self.store.read() as session:
            known = {"checked": True, "here": True, "roles": roles_of(session, by), **more}
        return EntryOrigin(key or new_key(), by, tablet or self.tablet, **known)

    def check(self, *guests: int) -> None:
        """See a document of each guest."""
        for guest in guests or self.guests:
            self.mark(guest, "id_check")

    def mark(self, guest: int, kind: str, detail: str | None = None, **origin: Any) -> Answer:
        """Mark a guest."""
        entry = MarkEntry(self.origin(**origin), guest, kind, detail)
        with self.store.write() as session:
            return record_entry(session, self.site, GUEST_MARKS, entry, self.now)

    def pour(
        self,
        guest: int,
        name: str = "blanco",
        volume_ul: int = QUARTER_UL,
        *,
        asked: bool = True,
        neat: bool = True,
        believed: Belief | None = None,
        **origin: Any,
    ) -> Answer:
        """Tap a pour."""
        sent = PourEntry(self.origin(**origin), guest, name, volume_ul, neat, asked, belief=believed)
        with self.store.write() as session:
            return pour(session, self.site, sent, self.now)

    def correct(
        self,
        pour_key: str,
        kind: str,
        to: int | None = None,
        *,
        reason: str | None = "entered_twice",
        **origin: Any,
    ) -> Answer:
        """Correct a pour; what gives it back has a reason unless a test takes it away."""
        why = reason if kind in GIVING_BACK else None
        entry = CorrectionEntry(self.origin(**origin), pour_key, kind, to, why)
        with self.store.write() as session:
            return record_entry(session, self.site, CORRECTIONS, entry, self.now)

    def correct_round(self, act: str, kind: str = "void", reason: str | None = None, **origin: Any) -> Answer:
        """Take back a round."""
        entry = RoundCorrection(self.origin(**origin), act, kind, reason)
        with self.store.write() as session:
            return record_entry(session, self.site, ROUND_CORRECTIONS, entry, self.now)

    def named(self, guest: int, codes: list[str]) -> None:
        """Write down the allergens that a guest names."""
        with self.store.write() as session:
            values = {"allergens": codes}
            rows.change(session, tour_tables.guests, guest, 1, values, by=self.ana, at=self.now)

    def step(self, kind: str) -> None:
        """Record a step of the tour."""
        values = {
            "key": new_key(),
            "at": self.now,
            "recorded_at": self.now,
            "tour_id": self.tour,
            "kind": kind,
        }
        with self.store.write() as session:
            ledgers.append(session, tour_tables.steps, values)

    def room(self) -> RoomView:
        """Look at the room."""
        with self.store.read() as session:
            return room(session, self.site, self.tour, self.now)
