"""Migration 0014: a site with data in every renamed table and kind keeps it under the present names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, MetaData, Table, func, insert, inspect, select, text, update
from sqlalchemy.exc import DBAPIError

from kiosk.figures.drinks import Mark, Pour, PourMark, ServiceState, counted, guest_state
from kiosk.store import migrate, rows
from kiosk.store.engine import Store, open_engine, open_store
from kiosk.store.migrate import downgrade, upgrade
from kiosk.store.tables import metadata
from kiosk.store.tables.production import held
from kiosk.store.tables.shared import changes, history
from kiosk.store.tables.tasting import (
    approvals,
    bottles,
    day_restrictions,
    pour_marks,
    pours,
    refusals,
    shift_closings,
    stock_entries,
)
from kiosk.store.tables.tours import bookings, flights, guests, marks
from kiosk.store.triggers import trigger_names
from tests.databases import NOW, sqlite_url

FORMER = "0013"
RENAMED = {
    "releases": "approvals",
    "day_rules": "day_restrictions",
    "parties": "bookings",
    "closings": "shift_closings",
}
MARKED = {  # of each guest: the former kinds in order, and the state that they add up to
    1: (("document", "none_today", "drinks_today", "stopped", "lifted"), ServiceState.MAY_BE_SERVED),
    2: (("document", "stopped"), ServiceState.SERVICE_STOPPED),
    3: (("document", "none_today"), ServiceState.NO_ALCOHOL),
    4: (("document", "under_age", "gone", "liked"), ServiceState.UNDER_AGE),
}
CORRECTED = (None, "mis_tap", "not_served", "cleared", "left", "emptied", "to_guest")
"""What was said later of each of the pours for the first guest; the last went to the second."""
SERVED = {1: 4, 2: 1}
"""How many glasses count for a guest: the first also sat down at a preset one."""


@pytest.fixture
def former_url(empty_url: str) -> str:
    """The address of a database with the tables of the revision before, and data in them."""
    _make(empty_url)
    return empty_url


def _make(url: str) -> None:
    migrate._migrate(url, lambda config: command.upgrade(config, FORMER))
    engine = open_engine(url)
    with engine.begin() as connection:
        _Former(connection).fill()
    engine.dispose()


class _Former:
    """Fills the former tables as the former release did."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._tables = MetaData()
        self._tables.reflect(connection)
        self._keys = 0

    def add(self, table: str, **values: Any) -> Any:
        of = self._tables.tables[table]
        done = self._connection.execute(insert(of).values(values))
        return done.inserted_primary_key[0] if done.inserted_primary_key else None

    def enter(self, ledger: str, **values: Any) -> str:
        self._keys += 1
        key, at = f"{self._keys:032x}", NOW + timedelta(minutes=self._keys)
        self.add(ledger, key=key, at=at, recorded_at=at, **values)
        return key

    def fill(self) -> None:
        ana = self.add("staff", name="Ana", pin_hash="x", languages=["en"])
        flight = self.add("flights", name="short", retired=True)
        tour = {"letter": "A", "starts_at": NOW, "route": "main", "languages": ["en"], "room": "main"}
        self.tour = self.add("tours", **tour, flight_id=flight, places=9, private=False)
        party = self.add("parties", tour_id=self.tour, size=4, language="en", ticket="T-1", source_key="s")
        for number in MARKED:
            whose = {"party_id": party, "tour_id": self.tour, "day": date(2026, 6, 16), "language": "en"}
            self.add("guests", **whose, number=number, link_no=0)
        self._stock(ana)
        self._serve()
        self._judge()
        self._keep_history(flight, party)

    def _stock(self, ana: int) -> None:
        signed = {"kind": "bottled", "product": "blanco", "abv_basis": "label", "rooms": ["main"]}
        signed |= {"from_on": date(2026, 6, 1), "signed_by": ana}
        release = self.add("releases", code="R-1", **signed)
        lost = self.add("releases", code="R-2", **signed)
        self._connection.execute(self._tables.tables["releases"].delete().where(text(f"id = {lost}")))
        self.add("bottles", code="R-1/1", release_id=release, room="main", kind="bottle", size_ml=750)
        sealed = {"room": "main", "kind": "received", "bottles": 6, "size_ml": 750}
        self.enter("stock_entries", release_id=release, **sealed)

    def _serve(self) -> None:
        for guest_id, (kinds, _state) in MARKED.items():
            for kind in kinds:
                self.enter("marks", guest_id=guest_id, kind=kind)
        for kind in CORRECTED:
            pour = self._pour(guest_id=1)
            if kind:
                self.enter("pour_marks", pour_key=pour, kind=kind, guest_id=2 if kind == "to_guest" else None)
        self.enter("pour_marks", pour_key=self._pour(place="P1"), kind="seated", guest_id=1)
        self._pour(place="P2")

    def _pour(self, **whose: Any) -> str:
        glass = {"product": "blanco", "volume_ul": 7393, "abv_e2": 4000, "neat": True, "asked": True}
        rest = {"server_checked": True, "policy_key": "", "clock_ms": 0, "tour_id": self.tour}
        return self.enter("pours", **glass, **rest, **whose)

    def _judge(self) -> None:
        refused = {"product": "blanco", "volume_ul": 7393, "policy_key": ""}
        for reasons in (["none_today"], ["stopped", "wait"], ["not_released"], ["day_pours"]):
            self.enter("refusals", guest_id=1, reasons=reasons, **refused)
        self.enter("day_rules", day=date(2026, 6, 16), room="", rule="day_pours", most=2, why="hot")
        body = {
            "products": [
                {"product": "blanco", "set_out_ul": 7393, "served_ul": 29572, "disbelieved": ["R-1/1"]}
            ],
            "breaches": {"servings": 1, "reasons": {"stopped": 1, "day_pours": 2}},
            "refusals": {"asked": 4, "reasons": {"none_today": 1, "not_released": 1}},
            "pours": 8,
        }
        self.enter("closings", room="main", day=date(2026, 6, 16), revision=1, body=body)

    def _keep_history(self, flight: int, party: int) -> None:
        was = {"revision": 1, "at": NOW, "why": ""}
        for table, before in (
            ("releases", {"code": "R-2", "document": None}),
            ("bottles", {"code": "R-1/0", "release_id": 2}),
            ("parties", {"size": 3}),
            ("guests", {"party_id": party, "number": 9}),
            ("flights", {"name": "long", "retired": False}),
            ("casks", {"code": "C-1"}),
        ):
            act = "changed" if table in ("flights", "parties") else "withdrawn"
            row_id = flight if table == "flights" else 9
            self.add("history", table_name=table, row_id=row_id, act=act, before=before, **was)
        self.add("changes", subject="releases", n=7)
        for kind, sent in (
            ("marks", {"ledger": "marks", "guest": 99, "kind": "stopped", "detail": "document"}),
            ("pour_marks", {"ledger": "pour_marks", "pour": "0" * 32, "kind": "left"}),
            ("pours", {"ledger": "pours", "tour": 99, "place": "P1", "product": "blanco"}),
            ("", {"kind": ["stopped"], "place": 5}),
        ):
            self.add("held", kind=kind, payload=sent, reasons=["unknown_guest"], at=NOW)


def _dump(url: str) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table, as JSON and numbers, by the table's name."""
    engine, tables = open_engine(url), MetaData()
    with engine.connect() as connection:
        tables.reflect(connection)
        rows_of = {
            table.name: sorted(map(tuple, connection.execute(select(table))), key=repr)
            for table in tables.sorted_tables
            if table.name != "alembic_version"
        }
    engine.dispose()
    return rows_of


def _all(store: Store, table: Table, *columns: Any) -> list[Any]:
    with store.read() as session:
        first = list(table.primary_key.columns)
        return list(session.execute(select(*(columns or table.c)).order_by(*first)).all())


@pytest.fixture
def upgraded(former_url: str) -> Iterator[Store]:
    """The site after the upgrade that `serve` makes."""
    upgrade(former_url)
    store = open_store(former_url)
    yield store
    store.close()


def test_no_row_is_lost_and_going_back_gives_every_former_value(former_url: str) -> None:
    before = _dump(former_url)
    assert all(before[table] for table in RENAMED)
    upgrade(former_url)
    after = _dump(former_url)
    kept = {RENAMED.get(name, name): len(found) for name, found in before.items()}
    later = ("display_names", "feeds", "service_days", "set_up_ticks", "stop_closures", "typed_entries")
    since = dict.fromkeys(later, 0)  # tables of the revisions after
    assert {name: len(found) for name, found in after.items()} == kept | since
    assert after != before
    downgrade(former_url, FORMER)
    assert _dump(former_url) == before


def test_states_and_served_glasses_add_up_as_before(upgraded: Store) -> None:
    told: dict[int, list[Mark]] = {}
    for guest_id, *mark in _all(
        upgraded, marks, marks.c.guest_id, marks.c.key, marks.c.at, marks.c.kind, marks.c.by
    ):
        told.setdefault(guest_id, []).append(Mark(*mark))
    assert {guest: guest_state(found) for guest, found in told.items()} == {
        guest: state for guest, (_kinds, state) in MARKED.items()
    }
    p, m = pours.c, pour_marks.c
    poured = _all(upgraded, pours, p.key, p.at, p.guest_id, p.tour_id, p.product, p.volume_ul, p.abv_e2)
    said = _all(upgraded, pour_marks, m.key, m.at, m.pour_key, m.kind, m.guest_id)
    served = counted([Pour(*row) for row in poured], [PourMark(*row) for row in said])
    assert {guest: sum(one.guest_id == guest for one in served) for guest in SERVED} == SERVED
    assert sum(one.done_at is not None for one in served) == 2  # one unfinished, one finished


def test_kinds_codes_and_former_selves_have_the_present_names(upgraded: Store) -> None:
    assert {kind for (kind,) in _all(upgraded, pour_marks, pour_marks.c.kind)} == {
        *("void", "not_served", "cleared", "unfinished", "finished", "reassign", "seated")
    }
    assert [seat for (seat,) in _all(upgraded, pours, pours.c.seat) if seat] == ["P1", "P2"]
    assert [codes for (codes,) in _all(upgraded, refusals, refusals.c.reasons)] == [
        *(["no_alcohol"], ["service_stopped", "wait"], ["not_approved"], ["day_pours"])
    ]
    ((body,),) = _all(upgraded, shift_closings, shift_closings.c.body)
    assert body == {
        "products": [{"product": "blanco", "preset_ul": 7393, "served_ul": 29572, "rejected": ["R-1/1"]}],
        "breaches": {"servings": 1, "reasons": {"service_stopped": 1, "day_pours": 2}},
        "refusals": {"asked": 4, "reasons": {"no_alcohol": 1, "not_approved": 1}},
        "pours": 8,
    }
    h = history.c
    assert {
        name: (act, before) for name, act, before in _all(upgraded, history, h.table_name, h.act, h.before)
    } == {
        "approvals": ("voided", {"code": "R-2", "document": None}),
        "bottles": ("voided", {"code": "R-1/0", "approval_id": 2}),
        "bookings": ("changed", {"size": 3}),
        "guests": ("voided", {"booking_id": 1, "number": 9}),
        "flights": ("changed", {"name": "long", "archived": False}),
        "casks": ("voided", {"code": "C-1"}),
    }
    assert _all(upgraded, changes) == [("approvals", 7)]
    assert [payload for (payload,) in _all(upgraded, held, held.c.payload)] == [
        {"ledger": "marks", "guest": 99, "kind": "service_stopped", "detail": "document"},
        {"ledger": "pour_marks", "pour": "0" * 32, "kind": "unfinished"},
        {"ledger": "pours", "tour": 99, "seat": "P1", "product": "blanco"},
        {"kind": ["stopped"], "place": 5},
    ]
    assert _all(upgraded, flights, flights.c.archived) == [(True,)]


def test_references_lead_to_the_renamed_tables(upgraded: Store) -> None:
    with upgraded.read() as session:
        joined = select(func.count()).select_from(bottles.join(approvals))
        assert session.scalar(joined) == 1
        assert session.scalar(select(func.count()).select_from(stock_entries.join(approvals))) == 1
        assert session.scalar(select(func.count()).select_from(guests.join(bookings))) == len(MARKED)
        assert session.scalar(select(func.count()).select_from(day_restrictions)) == 1
    with pytest.raises(DBAPIError), upgraded.write() as session:
        rows.insert(
            session, bottles, {"code": "X", "approval_id": 99, "room": "main", "kind": "jug", "size_ml": 1}
        )


def test_the_id_of_a_release_that_is_gone_is_not_given_again(upgraded: Store) -> None:
    values = {"code": "R-3", "kind": "bottled", "product": "blanco", "abv_basis": "label", "rooms": ["main"]}
    with upgraded.write() as session:
        assert rows.insert(session, approvals, {**values, "from_on": date(2026, 6, 1), "signed_by": 1}) == 3


def test_every_ledger_refuses_changes_again(upgraded: Store) -> None:
    ledgers = [table for table in metadata.sorted_tables if table.info["kind"] == "ledger"]
    for table in (
        marks,
        pours,
        pour_marks,
        refusals,
        day_restrictions,
        shift_closings,
        stock_entries,
        history,
    ):
        column = next(column for column in table.c if not column.primary_key)
        with pytest.raises(DBAPIError, match="only ever added"), upgraded.write() as session:
            session.execute(update(table).values({column.name: column}))
    named = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    if upgraded.dialect == "postgresql":
        named = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    with upgraded.read() as session:
        assert set(session.scalars(text(named))) == {
            name for table in ledgers for name in trigger_names(table.name, upgraded.dialect)
        }


def test_tables_indexes_and_constraints_are_those_of_the_code(upgraded: Store) -> None:
    with upgraded.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        inspector = inspect(connection)
        for table in metadata.sorted_tables:
            found = [
                *inspector.get_foreign_keys(table.name),
                *inspector.get_unique_constraints(table.name),
                *inspector.get_check_constraints(table.name),
            ]
            wanted = {str(one.name) for one in table.constraints if one is not table.primary_key}
            assert {str(one["name"]) for one in found} == wanted
        declared = "SELECT sql || name FROM sqlite_master WHERE sql IS NOT NULL"
        if upgraded.dialect == "postgresql":
            declared = "SELECT relname FROM pg_class UNION SELECT conname FROM pg_constraint"
        former = re.compile(r"(?<![a-z])(releases?|part(y_id|ies)|day_rules|(?<!shift_)closings)(?![a-z])")
        assert [one for one in connection.scalars(text(declared)) if former.search(one)] == []


def test_serve_keeps_a_copy_from_before_the_upgrade(tmp_path: Path) -> None:
    url = sqlite_url(tmp_path / "kiosk.sqlite")
    _make(url)
    before = _dump(url)
    copy = upgrade(url)
    assert copy == tmp_path / f"kiosk.from-{FORMER}.1.sqlite"
    assert _dump(sqlite_url(copy)) == before
