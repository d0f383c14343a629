"""What a manager types in for a tablet that keeps it: recorded once, as a claim, with who, when and why."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, insert, select, update

from kiosk.app import entry_kinds
from kiosk.entries import review
from kiosk.entries.entries import read_key
from kiosk.entries.intake import SenderCredentials, take_in_entries
from kiosk.entries.typed_in import (
    REASONS,
    InFuture,
    NoSuchGuest,
    PartMissing,
    RecordedAlready,
    TypedForm,
    TypedInAlready,
    WaitsForReview,
    code_of,
    record_typed_entry,
)
from kiosk.store.ledgers import key_within, new_key
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices
from kiosk.store.tables.tasting import pours, typed_entries
from kiosk.tasting.inspection.documents import pours_csv
from kiosk.tasting.inspection.records import read_inspection
from kiosk.tasting.inspection.rules_text import ReportText
from kiosk.tasting.room.text import guest_text
from kiosk.tasting.shift_closing.closing import body, staff_names
from kiosk.tasting.shift_closing.text import closing_text
from tests.tasting_room import QUARTER_UL
from tests.words.readers import ENGLISH

PAGE = "/staff/held/type-in"


def form(tasting, key, **changes):
    values = {
        "code": code_of(key),
        "kind": "pour",
        "guest_number": 1,
        "at": tasting.now - timedelta(minutes=30),
        "server": tasting.bea,
        "reason": "revoked_before",
        "product": "blanco",
        "volume_ul": QUARTER_UL,
    }
    return TypedForm(**{**values, **changes})


def typed(tasting, key, **changes):
    with tasting.store.write() as session:
        return record_typed_entry(
            session,
            tasting.site,
            entry_kinds(),
            form(tasting, key, **changes),
            by=tasting.ana,
            device_id=tasting.tablet,
            now=tasting.now,
        )


def entry(tasting, key, **changes):
    row = {"ledger": "pours", "key": key, "guest": tasting.guests[0], "product": "blanco"}
    return {**row, "volume_ul": QUARTER_UL, "asked": False, **changes}


def sent(tasting, *rows):
    """Send entries from the tablet, as a request does."""
    with tasting.store.read() as session:
        token = session.scalar(select(devices.c.token_hash).where(devices.c.id == tasting.tablet))
    sender = SenderCredentials(tasting.site, token, "", tasting.now)
    return take_in_entries(tasting.store, tasting.site, entry_kinds(), sender, rows, tasting.now)


def poured(tasting):
    with tasting.store.read() as session:
        return session.scalar(select(func.count()).select_from(pours))


def test_the_reasons_are_those_for_which_a_tablet_keeps_an_entry():
    assert REASONS.keys() == review.KEPT_ON_TABLET.keys()


def test_a_typed_pour_is_a_claim_of_that_time_shown_with_its_manager_in_room_closing_and_inspection(tasting):
    assert typed(tasting, new_key()).outcome == "poured"
    tile = tasting.room().tiles[0]
    assert (tile.samples, tile.claimed, tile.last.at) == (1, 1, tasting.now - timedelta(minutes=30))
    (shown,) = guest_text(tile, tasting.site, ENGLISH).typed_in
    assert shown.startswith("typed in by Ana, ")
    assert shown.endswith(": The tablet had been revoked")
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        shift = body(session, tasting.site, "main", day, 20.0)
        inspection = read_inspection(session, tasting.site, day, day)
        names = staff_names(session)
    server = {"staff_id": tasting.bea, "claimed": True, "pours": 1, "volume_ul": QUARTER_UL}
    typist = {"staff_id": tasting.ana, "reason": "revoked_before", "pours": 1, "volume_ul": QUARTER_UL}
    assert (shift["servers"], shift["typed_in"]) == ([server], [typist])
    closing = closing_text(shift, tasting.site, ENGLISH, names, None, "main", day)
    (table,) = (one for one in closing.tables if one.heading.startswith("Typed in"))
    assert table.rows[0][:3] == ("Ana", "The tablet had been revoked", 1)
    text = ReportText(inspection, tasting.site, ENGLISH)
    (verdict,) = inspection.verdicts
    assert text.maker(verdict.entry).startswith("Bea (claimed); typed in by Ana")
    assert "typed in by Ana" in pours_csv(text)


def test_a_typed_mark_holds_from_its_time_as_a_claim_and_names_its_manager(tasting):
    tasting.pour(tasting.guests[0])
    assert typed(tasting, new_key(), kind="service_stopped").outcome == "marked"
    assert tasting.room().tiles[0].state.value == "service_stopped"
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        inspection = read_inspection(session, tasting.site, day, day)
    text = ReportText(inspection, tasting.site, ENGLISH)
    (stopped,) = (row for row in inspection.marks if row.kind == "service_stopped")
    assert text.maker(stopped).startswith("Bea (claimed); typed in by Ana")


def test_what_was_typed_in_is_not_recorded_again_when_the_tablet_sends_it_after_all(tasting):
    key = new_key()
    typed(tasting, key)
    (answer,) = sent(tasting, entry(tasting, key))
    assert (answer.outcome, answer.status) == ("rejected", 409)  # the tablet forgets it
    assert poured(tasting) == 1
    with tasting.store.read() as session:
        assert session.scalar(select(func.count()).select_from(held)) == 0


def test_a_held_entry_that_was_typed_in_is_discarded_and_never_recorded(tasting):
    key = new_key()
    typed(tasting, key)
    values = {"kind": "pours", "payload": entry(tasting, key), "reasons": [], "at": tasting.now}
    with tasting.store.write() as session:
        session.execute(insert(held).values(values))
    with tasting.store.write() as session:
        row = review.waiting_rows(session, review.HELD_ENTRY_KINDS)[0]
        here = (session, tasting.site, entry_kinds(), row, row.revision)
        with pytest.raises(TypedInAlready):
            review.record_held_entry(*here, by=tasting.ana, at=tasting.now)
    assert poured(tasting) == 1


def test_a_code_is_typed_in_once_and_not_for_an_entry_that_arrived(tasting):
    key, arrived, waits = new_key(), new_key(), new_key()
    typed(tasting, key)
    with pytest.raises(TypedInAlready):
        typed(tasting, key, code=code_of(key).replace("-", "").upper())
    sent(tasting, entry(tasting, arrived))
    with pytest.raises(RecordedAlready):
        typed(tasting, arrived)
    assert sent(tasting, entry(tasting, waits, guest=99_999))[0].outcome == "held"
    with pytest.raises(WaitsForReview):
        typed(tasting, waits)
    assert poured(tasting) == 2


def test_the_entries_of_a_round_and_of_one_guest_have_codes_of_their_own():
    act, other = new_key(), new_key()
    keys = [key_within(act, 1), key_within(act, 2), key_within(other, 1)]
    assert len({code_of(read_key({"key": key}, "key")) for key in keys}) == 3


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"code": "12"}, PartMissing),
        ({"at": None}, PartMissing),
        ({"reason": "other"}, PartMissing),
        ({"kind": "id_check"}, PartMissing),
        ({"product": ""}, PartMissing),
        ({"volume_ul": None}, PartMissing),
        ({"guest_number": 77}, NoSuchGuest),
        ({"guest_number": None}, NoSuchGuest),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_recorded(tasting, changes, error):
    with pytest.raises(error):
        typed(tasting, new_key(), **changes)
    assert poured(tasting) == 0
    with tasting.store.read() as session:
        assert session.scalar(select(func.count()).select_from(typed_entries)) == 0


def test_what_is_still_to_come_is_refused(tasting):
    with pytest.raises(InFuture):
        typed(tasting, new_key(), at=tasting.now + timedelta(minutes=1))


@pytest.fixture
def typing(tasting, clock):
    """What a manager types into the page."""
    at = tasting.site.local(clock.at - timedelta(minutes=30))
    return {
        "code": code_of(new_key()),
        "kind": "pour",
        "guest": "1",
        "product": "blanco",
        "volume": "0.25",
        "at": f"{at:%Y-%m-%dT%H:%M}",
        "server": str(tasting.bea),
        "reason": "too_many",
    }


def test_a_manager_types_in_on_a_page_and_the_room_shows_it(manager, tasting, typing):
    assert PAGE in manager.get("/staff/held").get_data(as_text=True)
    assert manager.post(PAGE, **typing).status_code == 303
    assert tasting.room().tiles[0].samples == 1
    seat = manager.get(f"/staff/tours/{tasting.tour}/tasting/state").get_json()["guests"][0]
    assert seat["claimed"] == "1 pour claimed"
    assert seat["typed_in"][0].startswith("Typed in by Dora")


@pytest.mark.parametrize(
    ("part", "wrong", "says"),
    [
        ("code", "no", "twelve letters and digits"),
        ("guest", "77", "No guest had the number 77"),
        ("volume", "much", "is not a number"),
        ("volume", "-1", "volume"),
        ("at", "then", "Fill in every field"),
        ("product", "", "Fill in every field"),
        ("product", "nothing", "product"),
    ],
)
def test_a_wrong_part_is_named_and_what_was_typed_is_shown_again(manager, tasting, typing, part, wrong, says):
    answer = manager.post(PAGE, **{**typing, part: wrong})
    html = answer.get_data(as_text=True)
    assert answer.status_code == 422, html
    assert says in html
    assert typing["code"] in html or part == "code"
    assert tasting.room().tiles[0].samples == 0


def test_only_a_manager_opens_the_form(bar):
    assert bar.get(PAGE).status_code == 403
    assert bar.client.post(PAGE).status_code in (400, 403)


def test_the_link_on_a_tablet_fills_the_form_in(manager, typing):
    sent = {**typing, "at": "2026-06-16T14:30:00.000Z"}
    html = manager.get(PAGE, query_string=sent).get_data(as_text=True)
    assert 'value="2026-06-16T10:30"' in html  # the site's clock is four hours behind UTC
    assert f'value="{typing["code"]}"' in html
    assert '<option value="blanco" selected>' in html


def test_a_tablet_revoked_long_ago_keeps_what_it_is_told_to_keep(bar, tasting, clock):
    """The address that tablets send to says so with the status by which they keep it."""
    with tasting.store.write() as session:
        long_ago = clock.at - review.REVOKED_SENDS - timedelta(minutes=1)
        of_celia = update(devices).where(devices.c.name == "tablet of Celia")
        session.execute(of_celia.values(revoked_at=long_ago))
    (answer,) = bar.client.post("/staff/intake", json=[entry(tasting, new_key())]).json["answers"]
    assert (answer["outcome"], answer["status"]) == ("keep", 429)
