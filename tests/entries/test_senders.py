"""Who sends is found by two cookies, in the transaction that records."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import event, insert, update

from kiosk.entries.intake import take_in_entries
from kiosk.entries.senders import Sender, SenderCredentials
from kiosk.store import rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import devices, sessions, staff
from kiosk.tasting.errors import Stranger
from tests.tasting_room import QUARTER_UL

DEVICE, PERSON = "d" * 64, "p" * 64


def enrol(tasting, **changes):
    values = {"name": "by hand", "kind": "tablet", "token_hash": DEVICE, "enrolled_at": tasting.now}
    with tasting.store.write() as session:
        return rows.insert(session, devices, {**values, **changes})


def sign_in(tasting, device, **changes):
    values = {"staff_id": tasting.ana, "device_id": device, "token_hash": PERSON}
    times = {"started_at": tasting.now, "seen_at": tasting.now}
    with tasting.store.write() as session:
        session.execute(insert(sessions).values({**values, **times, **changes}))


def found(tasting):
    with tasting.store.read() as session:
        return SenderCredentials(tasting.site, DEVICE, PERSON, tasting.now)(session)


def test_a_device_and_whoever_is_signed_in_on_it_are_found_with_their_languages(tasting):
    device = enrol(tasting)
    assert found(tasting) == Sender(device)
    sign_in(tasting, device)
    assert found(tasting) == Sender(device, False, tasting.ana, ("en",))


@pytest.mark.parametrize(
    "times", [{"seen_at": timedelta(minutes=61)}, {"started_at": timedelta(hours=12)}], ids=["idle", "shift"]
)
def test_a_sign_in_that_ran_out_names_nobody(tasting, times):
    device = enrol(tasting)
    sign_in(tasting, device, **{name: tasting.now - ago for name, ago in times.items()})
    assert found(tasting) == Sender(device)


def test_a_sign_in_on_another_device_names_nobody_here(tasting):
    device = enrol(tasting)
    sign_in(tasting, tasting.tablet)
    assert found(tasting) == Sender(device)


def test_whoever_left_the_house_is_nobody(tasting):
    sign_in(tasting, enrol(tasting))
    with tasting.store.write() as session:
        left = update(staff).where(staff.c.id == tasting.ana).values(left_on=tasting.now.date())
        session.execute(left)
    assert found(tasting).person_id is None


def test_a_revoked_device_is_known_and_nobody_on_it(tasting):
    device = enrol(tasting, revoked_at=tasting.now)
    sign_in(tasting, device)
    assert found(tasting) == Sender(device, revoked=True)


@pytest.mark.parametrize(
    "changes", [{"kind": "kiosk"}, {"kind": "wall"}, {"kind": "instrument"}, {"enrolled_at": None}]
)
def test_a_mere_screen_an_instrument_and_a_device_not_enrolled_are_strangers(tasting, changes):
    enrol(tasting, **changes, revoked_at=tasting.now)
    with pytest.raises(Stranger):
        found(tasting)


def test_a_stranger_gets_no_answer_not_even_to_nothing(tasting):
    shown = SenderCredentials(tasting.site, DEVICE, PERSON, tasting.now)
    for sent in ([], [{"ledger": "pours"}]):
        with pytest.raises(Stranger):
            take_in_entries(tasting.store, tasting.site, shown, sent, tasting.now)


def test_a_pour_costs_one_transaction_and_four_statements_whoever_sends_it(tasting):
    sign_in(tasting, enrol(tasting))
    row = {"ledger": "pours", "guest": tasting.guests[0], "product": "blanco", "volume_ul": QUARTER_UL}
    begun, asked = [], []
    event.listen(tasting.store.engine, "begin", begun.append)
    event.listen(tasting.store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    shown = SenderCredentials(tasting.site, DEVICE, PERSON, tasting.now)
    (answer,) = take_in_entries(tasting.store, tasting.site, shown, [{**row, "key": new_key()}], tasting.now)
    assert answer.outcome == "poured"
    assert len(begun) == 1
    assert len([sql for sql in asked if sql.startswith(("SELECT", "INSERT"))]) == 4
