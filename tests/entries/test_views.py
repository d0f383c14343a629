"""The page of what is held for review."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select, update

from kiosk.entries.views import STEP_WORDS
from kiosk.figures.tours.progress import STEP_KINDS
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices
from tests.actors import text_of
from tests.bar import opened, told
from tests.tasting_room import QUARTER_UL

INBOX = "/staff/held"


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def waiting(bar, tasting, now):
    """A pour that Celia's tablet sent after it was revoked; its id."""
    row = {"ledger": "pours", "key": new_key(), "guest": tasting.guests[0], "by": bar.person}
    with tasting.store.write() as session:
        session.execute(update(devices).where(devices.c.name == "tablet of Celia").values(revoked_at=now))
    sent = {**row, "product": "blanco", "volume_ul": QUARTER_UL}
    assert bar.client.post("/staff/intake", json=[sent]).json["answers"][0]["outcome"] == "held"
    with tasting.store.read() as session:
        return session.scalars(select(held.c.id)).one()


def test_a_held_pour_is_shown_with_device_person_reason_and_what_follows(manager, tasting, waiting):
    day = text_of(manager.get("/staff/"))
    assert "1 entry held for review" in day
    page = text_of(manager.get(INBOX))
    for part in (
        "Pour",
        "tablet of Celia",
        "Celia (claimed)",
        "had been revoked",
        "7.4 mL",
        "counts as served",
    ):
        assert part in page, part


def test_recorded_it_counts_and_the_page_says_by_whom(manager, tasting, waiting):
    answer = manager.post(f"{INBOX}/{waiting}", page=INBOX, revision="1", outcome="recorded")
    assert answer.status_code == 303
    assert tasting.room().tiles[0].samples == 1
    page = text_of(manager.get(INBOX))
    assert "Nothing is held for review." in page
    assert "Entries of tablets, recorded , Dora" in page or "Entries of tablets, recorded, Dora" in page
    again = manager.post(f"{INBOX}/{waiting}", page="/staff/bottles", revision="1", outcome="recorded")
    assert again.status_code == 404


def test_discarding_needs_a_reason_of_the_list(manager, tasting, waiting):
    for why in ("", "because"):
        answer = manager.post(f"{INBOX}/{waiting}", page=INBOX, revision="1", outcome="discarded", why=why)
        assert answer.status_code == 404
    done = manager.post(f"{INBOX}/{waiting}", page=INBOX, revision="1", outcome="discarded", why="practice")
    assert (done.status_code, tasting.room().tiles[0].samples) == (303, 0)
    assert "1 entry held" not in text_of(manager.get("/staff/"))


def test_an_entry_that_cannot_be_recorded_says_so_and_goes_on_waiting(manager, tasting, waiting):
    with tasting.store.write() as session:
        payload = {"ledger": "pours", "key": new_key(), "guest": 9999, "product": "<b>", "volume_ul": "x"}
        session.execute(update(held).values(payload=payload, reasons=["malformed"]))
    page = manager.get(INBOX).get_data(as_text=True)
    assert "cannot be recorded as it was" in page
    assert "&lt;b&gt;" in page
    answer = manager.post(f"{INBOX}/{waiting}", page=INBOX, revision="1", outcome="recorded")
    assert (answer.status_code, "cannot be read" in text_of(answer)) == (409, True)
    assert "1 entry held for review" in text_of(manager.get("/staff/"))


def test_a_weighing_waits_on_the_same_page_and_is_recorded_as_it_was(manager, tasting, clock):
    bottle = opened(tasting)
    tasting.now = clock.at = clock.at + timedelta(minutes=1)
    assert told(tasting, bottle, "weigh", gross_g=5000) == "held"
    assert told(tasting, bottle, "weigh", gross_g=5000, origin=tasting.origin()) == "held"
    page = manager.get(INBOX).get_data(as_text=True)
    assert page.count("Weighing of bottle") == 2
    with tasting.store.read() as session:
        first, second = session.scalars(select(held.c.id).order_by(held.c.id))
    settle = "/staff/bottles/held/{}"
    manager.post(settle.format(first), page=INBOX, revision="1", outcome="recorded")
    manager.post(settle.format(second), page=INBOX, revision="1", outcome="discarded", why="did_not_happen")
    page = manager.get(f"/staff/bottles/{bottle}").get_data(as_text=True)
    assert "Nothing is held for review." in text_of(manager.get(INBOX))
    assert "5,000" in page or "level" in page


def test_each_sees_what_they_may_settle(bar, tablet_of, tasting, waiting):
    production = tablet_of("production", "Eva")
    page = text_of(production.get(INBOX))
    assert "Nothing is held for review." in page
    assert "1 entry held" not in text_of(production.get("/staff/"))
    guide = tablet_of("guide", "Gil")
    assert guide.get(INBOX).status_code == 403


@pytest.mark.parametrize(
    "odd", ["\ud800", [1, "a"], 2**70, 10**400], ids=["half a sign", "list", "2**70", "10**400"]
)
def test_the_page_shows_whatever_a_tablet_sent(manager, bar, odd):
    row = {"ledger": "pours", "guest": 9999, "product": "blanco", "volume_ul": 1}
    rows = [
        {**row, "ledger": ledger, "key": new_key(), part: odd}
        for ledger in ("pours", "marks")
        for part in ("ledger", "kind", "product", "guest", "seat", "at", "by", "volume_ul")
    ]
    answers = bar.client.post("/staff/intake", json=rows).json["answers"]
    assert {one["outcome"] for one in answers} == {"held"}
    assert manager.get(INBOX).status_code == 200


@pytest.mark.parametrize(
    ("language", "parts"),
    [
        ("en", ("Step of a tour", "Heads counted", "still-house", "People counted 7", "Tour A, ")),
        ("es", ("Personas contadas", "still-house", "Cuántas personas 7", "Recorrido A, ")),
    ],
)
def test_a_held_step_says_what_it_was_of_which_tour_at_which_stop(manager, tasting, waiting, language, parts):
    sent = {"ledger": "steps", "key": new_key(), "tour": tasting.tour, "kind": "count"}
    with tasting.store.write() as session:
        payload = {**sent, "stop": "still-house", "count": 7}
        session.execute(update(held).values(kind="steps", payload=payload, reasons=["too_old"]))
    manager.client.set_cookie("language", language)
    page = text_of(manager.get(INBOX))
    for part in parts:
        assert part in page, part


def test_every_kind_of_step_has_its_words():
    assert set(STEP_WORDS) == STEP_KINDS
