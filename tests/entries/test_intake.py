"""Who sends is found by two cookies, in the transaction that records.

The intake of entries: every row gets an answer and none is lost.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import event, func, insert, select, update

from kiosk.app import entry_kinds
from kiosk.entries.entries import LONGEST_OUTAGE
from kiosk.entries.errors import UnknownSender
from kiosk.entries.guest_marks import OPENING
from kiosk.entries.intake import Sender, SenderCredentials, take_in_entries
from kiosk.entries.review import REVOKED_SENDS
from kiosk.staff.people import roles_of
from kiosk.staff.sessions import entry_proof
from kiosk.store import rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices, sessions, sign_ins, staff, staff_roles
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import marks
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
    assert found(tasting) == Sender(device, None, tasting.ana, ("en",), frozenset({"manager"}))


def test_a_pin_that_another_person_knows_is_seen_with_its_person(tasting):
    sign_in(tasting, enrol(tasting))
    with tasting.store.write() as session:
        session.execute(update(staff).where(staff.c.id == tasting.ana).values(pin_temporary=True))
    assert found(tasting).pin_temporary


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
    assert found(tasting) == Sender(device, revoked_at=tasting.now)


@pytest.mark.parametrize(
    "changes", [{"kind": "kiosk"}, {"kind": "wall"}, {"kind": "instrument"}, {"enrolled_at": None}]
)
def test_a_mere_screen_an_instrument_and_a_device_not_enrolled_are_strangers(tasting, changes):
    enrol(tasting, **changes, revoked_at=tasting.now)
    with pytest.raises(UnknownSender):
        found(tasting)


def test_a_stranger_gets_no_answer_not_even_to_nothing(tasting):
    shown = SenderCredentials(tasting.site, DEVICE, PERSON, tasting.now)
    for sent in ([], [{"ledger": "pours"}]):
        with pytest.raises(UnknownSender):
            take_in_entries(tasting.store, tasting.site, entry_kinds(), shown, sent, tasting.now)


def test_a_pour_costs_one_transaction_and_four_statements_whoever_sends_it(tasting):
    sign_in(tasting, enrol(tasting))
    row = {"ledger": "pours", "guest": tasting.guests[0], "product": "blanco", "volume_ul": QUARTER_UL}
    begun, asked = [], []
    event.listen(tasting.store.engine, "begin", begun.append)
    event.listen(tasting.store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    shown = SenderCredentials(tasting.site, DEVICE, PERSON, tasting.now)
    (answer,) = take_in_entries(
        tasting.store, tasting.site, entry_kinds(), shown, [{**row, "key": new_key()}], tasting.now
    )
    assert answer.outcome == "poured"
    assert len(begun) == 1
    assert len([sql for sql in asked if sql.startswith(("SELECT", "INSERT"))]) == 4


def ask(guest, **changes):
    row = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL}
    return {**row, **changes}


def taken(tasting, *sent, **sender):
    by = {"person_id": tasting.ana, **sender}
    with tasting.store.read() as session:
        by.setdefault("roles", roles_of(session, by["person_id"]) if by["person_id"] else frozenset())
    known = Sender(tasting.tablet, **by)
    return take_in_entries(
        tasting.store, tasting.site, entry_kinds(), lambda *_asked: known, sent, tasting.now
    )


def holding(tasting):
    with tasting.store.read() as session:
        return [(row.kind, row.reasons, row.payload) for row in session.execute(select(held))]


def only(tasting, column):
    with tasting.store.read() as session:
        return session.scalars(select(column)).one()


def test_a_list_is_taken_in_order_each_row_on_its_own(tasting):
    first, second = tasting.guests
    sent = [
        ask(first),
        {"ledger": "marks", "key": new_key(), "guest": first, "kind": "service_stopped"},
        ask(first),
        ask(second),
    ]
    answers = taken(tasting, *sent)
    assert [answer.outcome for answer in answers] == ["poured", "marked", "refused", "refused"]
    assert [answer.reasons for answer in answers[2:]] == [("service_stopped",), ("not_checked",)]
    undo = {"ledger": "pour_marks", "key": new_key(), "pour": sent[0]["key"], "kind": "void"}
    assert taken(tasting, undo)[0].outcome == "corrected"


def test_a_list_sent_twice_changes_nothing(tasting):
    sent = [ask(tasting.guests[0]) for _ in range(3)]
    assert taken(tasting, *sent) == taken(tasting, *sent)
    with tasting.store.read() as session:
        assert session.scalar(select(func.count()).select_from(pours)) == 3


def test_a_conflict_is_told_for_its_row_alone(tasting):
    key = new_key()
    answers = taken(
        tasting,
        ask(tasting.guests[0], key=key),
        ask(tasting.guests[0], key=key, volume_ul=1),
        ask(tasting.guests[0]),
    )
    assert [(a.outcome, a.status) for a in answers] == [("poured", 200), ("rejected", 409), ("poured", 200)]


HELD = [
    ({"guest": 9999}, "unknown_guest"),
    ({"product": "nothing"}, "unknown_product"),
    ({"key": "short"}, "malformed"),
    ({"volume_ul": -1}, "malformed"),
    ({"volume_ul": "7393"}, "malformed"),
    ({"volume_ul": True}, "malformed"),
    ({"at": "yesterday"}, "malformed"),
    ({"at": "2026-06-16T10:00:00"}, "malformed"),
    ({"at": "0001-01-01T00:00:00+00:00"}, "malformed"),
    ({"at": "9999-12-31T23:59:59-12:00", "asked": False}, "malformed"),
    ({"asked": "no"}, "malformed"),
    ({"product": "bl\x00anco"}, "malformed"),
    ({"product": "\ud800"}, "malformed"),
    ({"by": 9999}, "malformed"),
    ({"ledger": "steps"}, "malformed"),
    ({"ledger": "pour_marks", "pour": "0" * 32, "kind": "void", "guest": None}, "unknown_pour"),
]


@pytest.mark.parametrize(("changes", "reason"), HELD)
def test_what_cannot_be_matched_is_held_once_and_never_thrown_away(tasting, changes, reason):
    row = ask(**{"guest": tasting.guests[0], **changes})
    for _ in range(2):
        (answer,) = taken(tasting, row)
        assert (answer.outcome, answer.status, answer.reasons) == ("held", 202, (reason,))
    assert holding(tasting) == [(row["ledger"], [reason], row)]


def test_a_revoked_device_hands_in_what_it_holds_and_nothing_is_recorded(tasting):
    (answer,) = taken(tasting, ask(tasting.guests[0]), revoked_at=tasting.now - REVOKED_SENDS)
    assert answer.reasons == ("revoked_device",)
    assert len(holding(tasting)) == 1
    assert tasting.room().tiles[0].samples == 0


def test_who_pours_is_a_claim_and_whether_the_server_checked_it_is_kept(tasting):
    taken(tasting, ask(tasting.guests[0]))
    assert (only(tasting, pours.c.by), only(tasting, pours.c.server_checked)) == (tasting.ana, True)


@pytest.mark.parametrize(("began", "checked"), [(timedelta(hours=2), True), (timedelta(hours=13), False)])
def test_another_persons_entry_is_proven_by_their_sign_in_of_this_shift(tasting, began, checked):
    started = tasting.now - began
    values = {"staff_id": tasting.bea, "device_id": tasting.tablet, "ok": True, "at": started}
    with tasting.store.write() as session:
        session.execute(sign_ins.insert().values(values))
    proof = entry_proof(tasting.site, tasting.bea, tasting.tablet, started)
    taken(tasting, ask(tasting.guests[0], by=tasting.bea, asked=False, sign_in=proof))
    assert (only(tasting, pours.c.by), only(tasting, pours.c.server_checked)) == (tasting.bea, checked)


def test_a_claim_is_no_better_for_a_sign_in_that_ended_before_or_a_role_that_does_not_pour(tasting):
    ended = tasting.now - timedelta(minutes=5)
    began = {"at": ended - timedelta(hours=1), "signed_out_at": ended, "ok": True}
    with tasting.store.write() as session:
        for one in (tasting.ana, tasting.bea):
            of = {"staff_id": one, "device_id": tasting.tablet}
            session.execute(sign_ins.insert().values(**of, **began))
        trainee = update(staff_roles).where(staff_roles.c.staff_id == tasting.bea).values(role="trainee")
        session.execute(trainee)
    during = (ended - timedelta(minutes=1)).isoformat()
    sent = [ask(tasting.guests[0], asked=False, by=by) for by in (tasting.ana, tasting.ana, tasting.bea)]
    sent[1]["at"] = sent[2]["at"] = during
    for one in sent:
        one["sign_in"] = entry_proof(tasting.site, one["by"], tasting.tablet, began["at"])
    taken(tasting, *sent, person_id=None)
    with tasting.store.read() as session:
        proven = dict(session.execute(select(pours.c.key, pours.c.server_checked)).all())
    assert [proven[one["key"]] for one in sent] == [False, True, False]


def test_a_time_within_the_sign_in_of_another_person_proves_nothing(tasting):
    began = tasting.now - timedelta(hours=1)
    values = {"staff_id": tasting.bea, "device_id": tasting.tablet, "ok": True, "at": began}
    with tasting.store.write() as session:
        session.execute(sign_ins.insert().values(values))
    other = entry_proof(tasting.site, tasting.ana, tasting.tablet, began)
    row = {"by": tasting.bea, "asked": False, "at": (began + timedelta(minutes=5)).isoformat()}
    sent = [ask(tasting.guests[0], **row), ask(tasting.guests[0], **row, sign_in=other)]
    assert {one.outcome for one in taken(tasting, *sent)} == {"poured"}
    with tasting.store.read() as session:
        assert set(session.scalars(select(pours.c.server_checked))) == {False}
    assert tasting.room().tiles[0].claimed == 2


def test_a_pin_that_another_person_knows_asks_for_nothing_and_records_facts_as_claims(tasting):
    back = {"ledger": "marks", "guest": tasting.guests[0], "kind": "back", "key": new_key()}
    sent = [ask(tasting.guests[0]), back, ask(tasting.guests[0], asked=False)]
    answers = taken(tasting, *sent, pin_temporary=True)
    assert [(one.outcome, one.status) for one in answers] == [
        ("rejected", 403),
        ("rejected", 403),
        ("poured", 200),
    ]
    assert "PIN" in answers[0].message
    assert only(tasting, pours.c.server_checked) is False


@pytest.mark.parametrize("role", ["trainee", "production", None])
def test_a_person_without_the_role_and_a_signed_out_tablet_ask_for_nothing(tasting, role):
    poured = taken(tasting, ask(tasting.guests[0]))[0].key
    who = {"roles": frozenset({role})} if role else {"person_id": None}
    back = {"ledger": "pour_marks", "pour": poured, "by": tasting.ana}
    mark = {"ledger": "marks", "guest": tasting.guests[0], "by": tasting.ana}
    sent = [
        ask(tasting.guests[0], by=tasting.ana),
        {**ask(None), "tour": tasting.tour, "seat": "1"},
        *({**back, "kind": kind, "reason": "not_taken"} for kind in ("void", "not_served", "cleared")),
        {**back, "kind": "reassign", "guest": tasting.guests[1], "reason": "wrong_guest"},
        *({**mark, "kind": kind} for kind in OPENING),
    ]
    answers = taken(tasting, *({**one, "key": new_key()} for one in sent), **who)
    assert {(one.outcome, one.status) for one in answers} == {("rejected", 403)}
    assert tasting.room().tiles[0].samples == 1


def test_a_fact_from_before_the_longest_outage_is_held(tasting):
    then = tasting.now - LONGEST_OUTAGE
    sent = [ask(tasting.guests[0], asked=False, at=at) for at in (then.isoformat(), "1970-01-02T00:00:00Z")]
    assert [one.outcome for one in taken(tasting, *sent)] == ["poured", "held"]
    assert [reasons for _, reasons, _ in holding(tasting)] == [["too_old"]]


def test_nothing_of_a_spirit_is_no_sample_for_somebody_who_takes_no_alcohol(tasting):
    tasting.mark(tasting.guests[0], "no_alcohol")
    sent = [ask(tasting.guests[0], product=name, volume_ul=0) for name in ("blanco", "ponche-sin")]
    sent.append({**ask(None, volume_ul=0), "tour": tasting.tour, "seat": "1"})
    answers = taken(tasting, *sent)
    assert [(one.outcome, one.reasons) for one in answers] == [
        ("held", ("malformed",)),
        ("poured", ()),
        ("held", ("malformed",)),
    ]


def test_a_queue_outlives_the_end_of_a_sign_in(tasting):
    (answer,) = taken(tasting, ask(tasting.guests[0], by=tasting.bea, asked=False), person_id=None)
    assert answer.outcome == "poured"
    assert (only(tasting, pours.c.by), only(tasting, pours.c.server_checked)) == (tasting.bea, False)


def test_a_late_fact_keeps_its_time_and_how_far_it_was_off(tasting):
    then = tasting.now - timedelta(minutes=5)
    taken(tasting, ask(tasting.guests[0], asked=False, at=then.isoformat()))
    assert (only(tasting, pours.c.at), only(tasting, pours.c.clock_ms)) == (then, 300_000)


@pytest.mark.parametrize("ledger", ["po\x00urs", "\ud800", ["pours"], None, 7])
def test_a_row_of_no_known_kind_is_held_and_the_rows_after_it_are_taken(tasting, ledger):
    odd, good = ask(tasting.guests[0], ledger=ledger), ask(tasting.guests[0])
    assert [answer.outcome for answer in taken(tasting, odd, good)] == ["held", "poured"]
    assert [(kind, payload) for kind, _, payload in holding(tasting)] == [("", odd)]


def test_a_number_that_is_none_is_held_as_text(tasting):
    assert taken(tasting, ask(tasting.guests[0], volume_ul=float("nan")))[0].outcome == "held"
    assert holding(tasting)[0][2]["volume_ul"] == "NaN"


@pytest.mark.parametrize("kind", sorted(OPENING))
def test_a_claim_alone_allows_nothing_even_of_somebody_who_was_here(tasting, kind):
    values = {"staff_id": tasting.ana, "device_id": tasting.tablet, "ok": True, "at": tasting.now}
    with tasting.store.write() as session:
        session.execute(sign_ins.insert().values(values))
    guest, earlier = tasting.guests[1], new_key()
    tasting.mark(guest, "id_check", key=earlier)
    row = {"ledger": "marks", "key": new_key(), "guest": guest, "kind": kind, "by": tasting.ana}
    row |= {"detail": earlier} if kind == "void" else {}
    (answer,) = taken(tasting, row, person_id=None)
    assert (answer.outcome, answer.status) == ("rejected", 403)
    assert taken(tasting, {**row, "key": new_key()})[0].outcome == "marked"


def test_entries_that_waited_through_the_upgrade_are_taken_by_their_former_names(tasting):
    first, second = tasting.guests
    sent = [
        {"ledger": "marks", "key": new_key(), "guest": second, "kind": "document"},
        ask(first),
        ask(second),
        {"ledger": "marks", "key": new_key(), "guest": second, "kind": "stopped"},
    ]
    sent += [
        {"ledger": "pour_marks", "key": new_key(), "pour": sent[1]["key"], "kind": "left"},
        {"ledger": "pour_marks", "key": new_key(), "pour": sent[2]["key"], "kind": "mis_tap"},
        {**ask(None), "tour": tasting.tour, "place": "1"},
        {"ledger": "marks", "key": new_key(), "guest": 999, "kind": "lifted"},
    ]
    answers = taken(tasting, *sent)
    assert [answer.outcome for answer in answers] == [
        *("marked", "poured", "poured", "marked", "corrected", "corrected", "preset", "held")
    ]
    with tasting.store.read() as session:
        assert set(session.scalars(select(marks.c.kind).where(marks.c.guest_id == second))) == {
            *("id_check", "service_stopped")
        }
        assert set(session.scalars(select(pour_marks.c.kind))) == {"unfinished", "void"}
        assert session.scalars(select(pours.c.seat).where(pours.c.seat.is_not(None))).one() == "1"
    assert holding(tasting)[0][2]["kind"] == "service_resumed"
    again = taken(tasting, *sent)
    assert [answer.outcome for answer in again] == [answer.outcome for answer in answers]


@pytest.mark.parametrize(
    ("ledger", "kind"), [("pour_marks", "document"), ("marks", "left"), ("marks", "seen")]
)
def test_a_name_that_never_was_one_of_its_ledger_is_held(tasting, ledger, kind):
    row = {"ledger": ledger, "key": new_key(), "guest": tasting.guests[0], "pour": "0" * 32, "kind": kind}
    assert taken(tasting, row)[0].outcome == "held"
    assert holding(tasting)[0][2]["kind"] == kind
