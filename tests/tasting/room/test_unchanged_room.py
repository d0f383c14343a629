"""The state of the room answers 304 while it is the same, and never after a write that it shows."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from kiosk.figures.service.policy import NO_ALCOHOL, DayRestriction
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.retention import purge_guests
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import approvals, policies
from kiosk.store.tables.tours import flight_items, guests, tours
from kiosk.tasting.room import room as rooms
from kiosk.tasting.room.pouring import PresetEntry
from kiosk.tasting.room.preset_glasses import PresetGlassesEntry, record_preset_glass, seat_or_clear
from kiosk.tasting.rules.policy import tighten_for_day
from tests.actors import hire
from tests.bar import opened, told
from tests.costs import cost
from tests.plans import scanned
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def site(tmp_path):
    """A site whose rules ask whoever pours for a permit."""
    site = tasting_site(tmp_path)
    return replace(site, policy=replace(site.policy, server_permit="server"))


class Room:
    """A tablet at the room of a tasting, and the acts of others there."""

    def __init__(self, screen, tasting, clock):
        self.screen, self.tasting, self.clock = screen, tasting, clock
        self.first, self.second = tasting.guests
        self.path = f"/staff/tours/{tasting.tour}/tasting/state"

    def get(self, etag=""):
        return self.screen.get(self.path, headers={"If-None-Match": etag} if etag else {})

    def write(self, work):
        with self.tasting.store.write() as session:
            return work(session)

    def change(self, table, row_id, values):
        (revision,) = self.write(
            lambda s: s.execute(select(table.c.revision).where(table.c.id == row_id)).one()
        )
        self.write(lambda s: rows.change(s, table, row_id, revision, values, by=None, at=self.clock.at))

    def other_tour(self, room="main"):
        """Record a tour at the same time with a guest who was checked, and return the guest."""
        here = self.tasting
        values = {"letter": "B", "starts_at": here.now, "route": "main", "languages": ["en"], "room": room}
        tour = self.write(lambda s: rows.insert(s, tours, {**values, "places": 9, "private": False}))
        elsewhere = replace(here, tour=tour, guests=[])
        day = here.site.service_day(here.now)
        self.write(lambda s: elsewhere._record_guests(s, 1, day, first=9))
        elsewhere.check()
        return elsewhere.guests[0]

    def preset(self, seat="1"):
        entry = PresetEntry(self.tasting.origin(), self.tasting.tour, seat, "blanco", QUARTER_UL)
        return self.write(lambda s: record_preset_glass(s, self.tasting.site, entry, self.tasting.now)).key

    def seated(self, key, kind, guest=None):
        entry = PresetGlassesEntry(self.tasting.origin(), kind, (key,), guest)
        self.write(lambda s: seat_or_clear(s, self.tasting.site, entry, self.tasting.now))


@pytest.fixture
def room(bar, tasting, clock):
    """The room as Celia's tablet shows it; Celia and Ana may pour."""
    room = Room(bar, tasting, clock)
    for one in (bar.person, tasting.ana):
        permit(room, one)
    return room


def permit(room, staff_id, **changes):
    day = room.tasting.site.service_day(room.tasting.now)
    values = {
        "staff_id": staff_id,
        "kind": "server",
        "number": "invented",
        "valid_from": day,
        "valid_until": day,
    }
    room.write(lambda s: rows.insert(s, permits, {**values, **changes}))


def poured(room, guest=None, **more):
    answer = room.tasting.pour(guest or room.first, **more)
    assert answer.outcome == "poured"
    return answer.key


def signs_in(room):
    celia = room.screen.person
    somebody = hire(room.tasting.store, room.tasting.site, room.clock.at, "Eva", ("guide",))
    room.screen.sign_in(somebody)
    room.screen.post("/staff/step-in", page="/staff/", person=celia)


def low_blanco(room):
    """Open bottles of which the blanco still holds exactly what the two guests need."""
    opened(room.tasting, "anejo")
    bottle = opened(room.tasting)
    told(room.tasting, bottle, "spill", volume_ul=750_000 - 2 * QUARTER_UL)
    room.tasting.now += timedelta(seconds=1)
    return bottle


def first_of_flight(room):
    with room.tasting.store.read() as session:
        return session.scalars(select(flight_items.c.id).where(flight_items.c.product == "blanco")).one()


def approval_of(room, product="blanco"):
    with room.tasting.store.read() as session:
        return session.scalars(select(approvals.c.id).where(approvals.c.product == product)).one()


def restrict(room):
    word = DayRestriction(NO_ALCOHOL, 0, room.tasting.now)
    room.write(
        lambda s: tighten_for_day(s, room.tasting.site, room.tasting.origin(), "main", word, "a storm")
    )


def other_rules(room):
    at = room.tasting.now
    values = {"key": new_key(), "at": at, "recorded_at": at, "by": room.tasting.ana, "digest": "0" * 64}
    room.write(lambda s: ledgers.append(s, policies, {**values, "body": {}, "basis": "house rule"}))


def new_guest(room):
    day = room.tasting.site.service_day(room.tasting.now)
    room.write(lambda s: room.tasting._record_guests(s, 1, day, first=3))


NOTHING = (lambda room: None,)
WRITES = {
    "a document is seen": (*NOTHING, lambda room, _: room.tasting.check(room.second)),
    "a sample is declined": (*NOTHING, lambda room, _: room.tasting.mark(room.first, "declined", "blanco")),
    "service is stopped": (*NOTHING, lambda room, _: room.tasting.mark(room.first, "service_stopped")),
    "a guest has left": (*NOTHING, lambda room, _: room.tasting.mark(room.first, "gone")),
    "a glass is poured": (*NOTHING, lambda room, _: poured(room)),
    "a glass is told afterwards": (*NOTHING, lambda room, _: poured(room, room.second, asked=False)),
    "a glass is void": (poured, lambda room, key: room.tasting.correct(key, "void")),
    "a glass was not served": (poured, lambda room, key: room.tasting.correct(key, "not_served")),
    "a glass went to another": (poured, lambda room, key: room.tasting.correct(key, "reassign", room.second)),
    "a glass is set out": (*NOTHING, lambda room, _: room.preset()),
    "a guest sits down": (Room.preset, lambda room, key: room.seated(key, "seated", room.first)),
    "a glass is cleared": (Room.preset, lambda room, key: room.seated(key, "cleared")),
    "the tour ends with glasses set out": (Room.preset, lambda room, _: room.tasting.step("finish")),
    "a guest says their name": (
        *NOTHING,
        lambda room, _: room.change(guests, room.first, {"first_name": "Wren"}),
    ),
    "a guest names an allergen": (
        *NOTHING,
        lambda room, _: room.change(guests, room.first, {"language": "es", "allergens": ["milk"]}),
    ),
    "a name is forgotten": (
        lambda room: room.change(guests, room.first, {"first_name": "Wren"}),
        lambda room, _: purge_guests(
            room.tasting.store,
            room.tasting.site.service_day(room.tasting.now) + timedelta(days=1),
            room.tasting.now,
            lambda: None,
        ),
    ),
    "a guest is checked in": (*NOTHING, lambda room, _: new_guest(room)),
    "the flight pours more": (
        *NOTHING,
        lambda room, _: room.change(flight_items, first_of_flight(room), {"volume_ul": 2 * QUARTER_UL}),
    ),
    "the tour has another letter": (
        *NOTHING,
        lambda room, _: room.change(tours, room.tasting.tour, {"letter": "C"}),
    ),
    "an approval ends": (
        *NOTHING,
        lambda room, _: room.change(approvals, approval_of(room), {"ended_at": room.tasting.now}),
    ),
    "a product is approved": (
        *NOTHING,
        lambda room, _: room.write(
            lambda s: room.tasting.approval(s, "reserva", room.tasting.site.service_day(room.tasting.now))
        ),
    ),
    "the day is restricted": (*NOTHING, lambda room, _: restrict(room)),
    "other rules are confirmed": (*NOTHING, lambda room, _: other_rules(room)),
    "a bottle is opened": (*NOTHING, lambda room, _: opened(room.tasting)),
    "a bottle is closed": (
        lambda room: (opened(room.tasting, "anejo"), opened(room.tasting))[1],
        lambda room, bottle: told(room.tasting, bottle, "close", at=room.tasting.now + timedelta(seconds=1)),
    ),
    "a bottle is spilt": (
        low_blanco,
        lambda room, bottle: told(room.tasting, bottle, "spill", volume_ul=1000),
    ),
    "another tour drinks of the bottle": (
        lambda room: (low_blanco(room), room.other_tour())[1],
        lambda room, guest: poured(room, guest),
    ),
    "what another tour drank is void": (
        lambda room: (low_blanco(room), poured(room, room.other_tour()))[1],
        lambda room, key: room.tasting.correct(key, "void"),
    ),
    "the server's permit is recorded": (
        lambda room: room.write(
            lambda s: s.execute(permits.update().values(valid_until=permits.c.valid_from - timedelta(days=1)))
        ),
        lambda room, _: permit(room, room.screen.person),
    ),
    "the reader speaks Spanish": (*NOTHING, lambda room, _: room.screen.get("/language/es")),
    "a minute passes": (poured, lambda room, _: room.clock.pass_s(60)),
}


def shown(answer):
    """Return what a room shows, without the moment."""
    return {name: part for name, part in answer.get_json().items() if name not in ("as_of", "known_at")}


@pytest.mark.parametrize("write", WRITES)
def test_a_write_that_the_room_shows_changes_its_etag(room, write):
    before, act = WRITES[write]
    made = before(room)
    first = room.get()
    act(room, made)
    again = room.get(first.headers["ETag"])
    assert again.status_code == 200
    assert shown(again) != shown(first)


def test_an_unchanged_room_is_not_rendered(room, store):
    poured(room)
    room.get()
    first = room.get()
    with cost(store) as spent:
        again = room.get(first.headers["ETag"])
    assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", first.headers["ETag"])
    assert (spent.templates, spent.calls(rooms.room)) == ([], 0)
    assert len(spent.queries) <= 4


def test_what_happens_elsewhere_leaves_the_room_as_it_is(room):
    guest = room.other_tour()
    etag = room.get().headers["ETag"]
    room.write(lambda s: rows.touch(s, "casks", "runs"))
    poured(room, guest)  # of no bottle of this room
    assert room.get(etag).status_code == 304


MARKS, CORRECTIONS = ("id_check", "gone", "no_alcohol"), ("void", "not_served", "reassign", "unfinished")
acts = st.lists(
    st.tuples(
        st.sampled_from([*MARKS, *CORRECTIONS, "pour", "fact", "open"]),
        st.integers(0, 2),
        st.integers(0, 20),
    ),
    max_size=8,
)


@given(acts)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_room_that_shows_something_else_has_another_version(three_guests, history):
    tasting, keys = three_guests, []
    before = seen(tasting)
    for act, guest, which in history:
        if act in ("pour", "fact"):
            answer = tasting.pour(tasting.guests[guest], asked=act == "pour")
            keys += [answer.key] if answer.outcome == "poured" else []
        elif act == "open":
            opened(tasting)
        elif act in MARKS:
            tasting.mark(tasting.guests[guest], act)
        elif keys:
            key = keys[which % len(keys)]
            tasting.correct(key, act, tasting.guests[guest] if act == "reassign" else None)
        now = seen(tasting)
        assert now[0] != before[0] or now[1:] == before[1:]
        before = now


def seen(tasting):
    with tasting.store.read() as session:
        version = rooms.room_version(session, tasting.site, tasting.tour, tasting.now)
        view = rooms.room(session, tasting.site, tasting.tour, tasting.now)
        return (
            version,
            view.tiles,
            view.context.offers,
            rooms.bottles_running_low(session, tasting.site, view),
        )


@pytest.fixture
def three_guests(sqlite_store, now, tmp_path):
    begun = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, guests=3)
    begun.check()
    return begun


def test_the_version_reads_no_ledger_from_end_to_end(tasting):
    opened(tasting)
    tasting.pour(tasting.guests[0])

    def look():
        with tasting.store.read() as session:
            rooms.room_version(session, tasting.site, tasting.tour, tasting.now)

    assert scanned(tasting.store, look) <= {"policies", "changes"}
