"""A run's account: charge, readings, gauges, recovery; the sums are those of the figures."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from flask import Flask
from sqlalchemy import event, select

from kiosk.figures.making.cuts import cuts
from kiosk.production.runs.account import (
    Account,
    Charged,
    read_account,
    read_runs,
    receiver_of,
    runs_newest,
    source_of,
)
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from tests.actors import hire, signed_in
from tests.production.conftest import Take
from tests.production.live.conftest import MORNING, Books, hours


def id_of(store: Store, code: str) -> int:
    """Return the id of a run."""
    with store.read() as session:
        return session.scalars(select(t.batches.c.id).where(t.batches.c.code == code)).one()


def test_what_came_back_is_told_apart_from_what_goes_round(take: Take, store: Store, now: datetime) -> None:
    """By hand: charge 143.1 L; heads 3.9, hearts 108 and tails 25 L of pure alcohol."""
    take()
    run_id = id_of(store, "SR-1")
    with store.read() as session:
        found = read_account(session, run_id, now)
    assert [(one.code, one.source, one.alcohol_l) for one in found.charge] == [
        ("WR-1-LW", "low_wines", 143.1)
    ]
    back = found.recovery
    assert back is not None
    assert back.charge_l == pytest.approx(143.1)
    assert back.received_l == pytest.approx(3.9 + 108 + 25)
    assert back.feints_out_l == pytest.approx(28.9)
    assert back.product_l == pytest.approx(108)
    assert back.feints_in_l == 0


@pytest.mark.parametrize(
    ("kind", "cut", "source"),
    [("wash", None, "wash"), ("receiver", "tails", "feints"), ("receiver", "low_wines", "low_wines")],
)
def test_heads_and_tails_of_earlier_runs_are_feints(kind: str, cut: str | None, source: str) -> None:
    assert source_of(kind, cut) == source


def test_each_gauge_is_compared_with_what_the_readings_add_up_to(
    take: Take, store: Store, now: datetime
) -> None:
    take()
    run_id = id_of(store, "SR-1")
    with store.read() as session:
        found = read_account(session, run_id, now)
    held = cuts(found.readings)
    assert found.cuts == held
    assert found.differences["hearts"].volume_l == pytest.approx(150 - held["hearts"].volume_l)
    assert found.differences["hearts"].pure_alcohol_l == pytest.approx(108 - held["hearts"].pure_alcohol_l)


def test_without_every_gauge_no_recovery_is_told(take: Take, store: Store, now: datetime) -> None:
    take(
        (
            "receivers.csv",
            "SR-1-TL,SR-1,tails,2026-06-06 14:20,100,20,density_meter,25,28",
            "SR-1-TL,SR-1,tails,,,,,,",
        )
    )
    run_id = id_of(store, "SR-1")
    with store.read() as session:
        assert read_account(session, run_id, now).recovery is None


def test_a_wash_run_without_readings_still_has_its_account(take: Take, store: Store, now: datetime) -> None:
    take()
    run_id = id_of(store, "WR-1")
    with store.read() as session:
        found = read_account(session, run_id, now)
        assert [row.code for row in runs_newest(session, now)] == ["SR-1", "WR-1"]
        with pytest.raises(NoSuchRow):
            read_account(session, 999, now)
    assert found.cuts == {}
    assert found.charge[0].source == "wash"
    assert found.recovery is not None


def test_a_run_is_read_in_a_fixed_number_of_queries(take: Take, store: Store, now: datetime) -> None:
    take()
    counts = []
    for code in ("WR-1", "SR-1"):
        asked: list[str] = []
        run_id = id_of(store, code)
        with store.read() as session:
            connection = session.connection()

            def count(*arguments: object, said: list[str] = asked) -> None:
                said.append(str(arguments[2]))

            event.listen(connection, "before_cursor_execute", count)
            read_account(session, run_id, now)
            event.remove(connection, "before_cursor_execute", count)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_page_of_a_run_shows_its_picture_and_gives_it_on_paper(
    app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    hire(sqlite_store, site, now, "First", ("manager",))
    screen = signed_in(app, sqlite_store, site, now, "guide", "Ana")
    spirit, wash = (f"/staff/runs/{id_of(sqlite_store, code)}" for code in ("SR-1", "WR-1"))
    assert spirit in screen.get("/staff/runs/").text
    page = screen.get(spirit).text
    assert "<svg" in page
    assert "WR-1-LW" in page
    assert "SR-1-HT" in page
    paper = screen.get(f"{spirit}/picture.pdf?paper=letter")
    assert (paper.mimetype, paper.data[:5]) == ("application/pdf", b"%PDF-")
    assert screen.get(f"{spirit}/picture.pdf?paper=roll").status_code == 404
    assert screen.get(f"{wash}/picture.pdf").status_code == 404
    assert screen.get("/staff/runs/999").status_code == 404


SECOND = timedelta(seconds=1)


def account(books: Books, run: int) -> Account:
    with books.store.read() as session:
        return read_account(session, run, books.now)


def test_the_charge_is_listed_in_the_order_of_time_with_feints_by_name(books: Books) -> None:
    first = books.run("SR-1", MORNING - hours(30))
    tails = books.receiver(first, "SR-1-TL", "tails", 50, 20, fate="feints")
    low_wines = books.receiver(first, "WR-1-LW", "low_wines", 300, 30)
    run = books.run("SR-2", MORNING)
    books.draw(low_wines, run, 90, at=MORNING + hours(1), volume_ml=300_500)
    books.draw(tails, run, 10, at=MORNING)
    assert account(books, run).charge == [
        Charged("receiver", "SR-1-TL", "feints", None, 10.0),
        Charged("receiver", "WR-1-LW", "low_wines", 300.5, 90.0),
    ]


def test_an_account_reads_until_now_and_names_its_still(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    for at, litres in ((books.now - SECOND, 1), (books.now, 2), (books.now + SECOND, 3)):
        books.parrot(run, at, "heads", litres, 80)
    found = account(books, run)
    assert [one.collected_l for one in found.readings] == [1.0, 2.0]
    assert (found.row.still, found.row.code, found.row.kind) == ("spirit still", "SR-1", "spirit")
    with books.store.read() as session:
        assert [one.collected_l for _id, one in read_runs(session, [run])[run]] == [1.0, 2.0, 3.0]


def test_each_run_stands_in_its_own_still_with_its_own_receivers(books: Books) -> None:
    wash, spirit = books.run("WR-1", MORNING, kind="wash"), books.run("SR-1", MORNING)
    books.receiver(wash, "WR-1-LW", "low_wines", 300, 30)
    books.receiver(spirit, "SR-1-HT", "hearts", 100, 70)
    assert [(one.code, one.cut) for one in account(books, spirit).receivers] == [("SR-1-HT", "hearts")]
    assert account(books, wash).row.still == "wash still"


def test_the_newest_thirty_runs_until_now_are_listed(books: Books) -> None:
    for n in range(31):
        books.run(f"R-{n}", books.now - hours(n))
    books.run("LATER", books.now + SECOND)
    with books.store.read() as session:
        assert [row.code for row in runs_newest(session, books.now)] == [f"R-{n}" for n in range(30)]


@pytest.mark.parametrize(
    ("volume_ml", "alcohol_ml", "litres", "abv"), [(150_000, 108_000, 150.0, 72.0), (0, 0, 0.0, 0.0)]
)
def test_a_receivers_strength_is_its_alcohol_over_its_volume(
    books: Books, volume_ml: int, alcohol_ml: int, litres: float, abv: float
) -> None:
    run = books.run("SR-1", MORNING)
    books.batch(
        t.receivers, "receiver", "HT", run_id=run, cut="hearts", volume20_ml=volume_ml, alcohol_ml=alcohol_ml
    )
    (row,) = account(books, run).receivers
    receiver = receiver_of(row)
    assert (receiver.cut, receiver.volume_l, receiver.abv_percent, receiver.fate) == (
        "hearts",
        litres,
        abv,
        "",
    )


def test_volumes_that_fall_add_up_to_nothing_and_leave_the_account(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(1), "hearts", 60, 76)
    books.parrot(run, MORNING + hours(2), "hearts", 6, 74)
    books.receiver(run, "SR-1-HT", "hearts", 100, 70)
    found = account(books, run)
    assert (found.cuts, found.differences, len(found.readings)) == ({}, {}, 2)


def test_a_charge_without_alcohol_has_no_recovery(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.receiver(run, "SR-1-HT", "hearts", 100, 70)
    assert account(books, run).recovery is None
    source = books.receiver(books.run("WR-1", MORNING - hours(9), kind="wash"), "LW", "low_wines", 300, 30)
    books.draw(source, run, 90)
    recovery = account(books, run).recovery
    assert recovery is not None
    assert recovery.share == pytest.approx(70 / 90)


def test_recovery_waits_for_a_receiver_of_every_cut_that_ran(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    source = books.receiver(books.run("WR-1", MORNING - hours(9), kind="wash"), "LW", "low_wines", 300, 30)
    books.draw(source, run, 90)
    assert account(books, run).recovery is None  # no receiver at all
    books.receiver(run, "SR-1-HT", "hearts", 100, 70)
    books.parrot(run, MORNING + hours(1), "tails", 6, 20)
    assert account(books, run).recovery is None
    books.receiver(run, "SR-1-TL", "tails", 10, 20)
    assert account(books, run).recovery is not None
