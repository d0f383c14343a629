"""Migration 0015 on a site with data, and the names that staff give to experiments and varieties."""

from __future__ import annotations

import pytest
from alembic import command
from sqlalchemy import insert, select, text

from kiosk.store import migrate
from kiosk.store.engine import Store, open_engine, open_store
from kiosk.store.errors import NoSuchRow, Stale
from kiosk.store.migrate import downgrade, upgrade
from kiosk.store.names import (
    EXPERIMENT,
    VARIETY,
    NamedThing,
    NameFault,
    declared_experiments,
    read_names,
    save_names,
    things_to_name,
    typed_names,
)
from kiosk.store.tables.production import batches, fields, lots
from kiosk.store.tables.shared import history
from kiosk.store.tables.tours import flights
from tests.databases import NOW

PRODUCTS = ("blanco",)
TRIAL = {"en": "First Trial", "es": "Primer ensayo"}


@pytest.fixture
def former_url(empty_url: str) -> str:
    """The address of a database at the revision before, with a flight in it."""
    _make(empty_url)
    return empty_url


def _make(url: str) -> None:
    migrate._migrate(url, lambda config: command.upgrade(config, "0014"))
    engine = open_engine(url)
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO flights (name, archived) VALUES ('short', false)"))
    engine.dispose()


def test_a_flight_keeps_its_name_and_gets_more_and_back(former_url: str) -> None:
    upgrade(former_url, backup=False)
    store = open_store(former_url)
    with store.write() as session:
        assert [tuple(row) for row in session.execute(select(flights.c.name, flights.c.names))] == [
            ("short", None)
        ]
        session.execute(flights.update().values(names={"en": "Short", "es": "Corta"}))
        _record(session)
        save_names(session, PRODUCTS, NamedThing(EXPERIMENT, "trial-1", 0, {}), TRIAL, by=None, at=NOW)
    with store.read() as session:
        assert session.scalar(select(flights.c.names)) == {"en": "Short", "es": "Corta"}
        assert read_names(session) == {(EXPERIMENT, "trial-1"): TRIAL}
    store.close()
    downgrade(former_url, "0014")
    engine = open_engine(former_url)
    with engine.connect() as connection:
        assert connection.execute(text("SELECT name FROM flights")).scalar() == "short"
    engine.dispose()


def _record(session) -> None:
    """Record a lot of a product, one of an experiment, and a field."""
    for n, product in enumerate(("blanco", "trial-1", "trial-2"), 1):
        session.execute(insert(batches).values(id=n, kind="lot", code=f"L-{n}"))
        given = {"bottled_on": NOW.date(), "bottles": 1, "bottle_ml": 500, "strength_basis": "label"}
        session.execute(
            insert(lots).values(id=n, product=product, abv_e2=4000, recorded_at=NOW, source="test", **given)
        )
    session.execute(insert(batches).values(id=9, kind="field", code="F"))
    session.execute(insert(fields).values(id=9, variety="morada", area_m2=1, recorded_at=NOW, source="test"))


@pytest.fixture
def named(store: Store) -> Store:
    with store.write() as session:
        _record(session)
    return store


def test_what_the_settings_do_not_list_is_to_be_named(named: Store) -> None:
    with named.read() as session:
        assert [(one.kind, one.code) for one in things_to_name(session, PRODUCTS)] == [
            (EXPERIMENT, "trial-1"),
            (EXPERIMENT, "trial-2"),
            (VARIETY, "morada"),
        ]


def test_a_name_changes_at_its_revision_and_the_former_one_is_kept(named: Store) -> None:
    first = NamedThing(EXPERIMENT, "trial-1", 0, {})
    with named.write() as session:
        save_names(session, PRODUCTS, first, TRIAL, by=None, at=NOW)
    with named.write() as session:
        again = things_to_name(session, PRODUCTS)[0]
        assert (again.revision, again.names) == (1, TRIAL)
        save_names(session, PRODUCTS, again, {**TRIAL, "en": "Trial"}, by=None, at=NOW)
        assert read_names(session)[EXPERIMENT, "trial-1"]["en"] == "Trial"
        (before,) = session.scalars(select(history.c.before).where(history.c.table_name == "display_names"))
        assert before["names"] == TRIAL
        with pytest.raises(Stale):
            save_names(session, PRODUCTS, again, TRIAL, by=None, at=NOW)


@pytest.mark.parametrize("names", [{"en": "", "es": ""}, {"en": "x" * 61, "es": "x"}, TRIAL])
def test_a_name_is_there_is_short_and_tells_things_apart(named: Store, names: dict[str, str]) -> None:
    with named.write() as session:
        save_names(session, PRODUCTS, NamedThing(EXPERIMENT, "trial-2", 0, {}), TRIAL, by=None, at=NOW)
        with pytest.raises(NameFault):
            save_names(session, PRODUCTS, NamedThing(EXPERIMENT, "trial-1", 0, {}), names, by=None, at=NOW)


def test_an_experiment_is_declared_by_its_name_before_its_first_lot(named: Store) -> None:
    with named.write() as session:
        save_names(session, PRODUCTS, NamedThing(EXPERIMENT, "trial-3", 0, {}), TRIAL, by=None, at=NOW)
        assert declared_experiments(session) == ["trial-3"]
        assert "trial-3" in [one.code for one in things_to_name(session, PRODUCTS)]


@pytest.mark.parametrize("code", ["blanco", "BLANCO", "Trial-1", "", "a code", "é", "x" * 41])
def test_an_experiment_has_a_code_of_its_own(named: Store, code: str) -> None:
    with named.write() as session, pytest.raises(NameFault):
        save_names(session, PRODUCTS, NamedThing(EXPERIMENT, code, 0, {}), TRIAL, by=None, at=NOW)


def test_only_a_variety_that_grows_gets_a_name(named: Store) -> None:
    with named.write() as session, pytest.raises(NoSuchRow):
        save_names(session, PRODUCTS, NamedThing(VARIETY, "never", 0, {}), TRIAL, by=None, at=NOW)


def test_a_language_left_empty_takes_the_name_of_the_first() -> None:
    typed = {"name": "  Four   small ", "name-es": "", "name-fr": "Quatre"}
    assert typed_names(typed, ("en", "es", "fr")) == {"en": "Four small", "es": "Four small", "fr": "Quatre"}
