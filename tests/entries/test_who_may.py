"""Who may send what: every kind of entry by every actor, over HTTP."""

from __future__ import annotations

import pytest
from sqlalchemy import select, update

from kiosk.app import entry_kinds
from kiosk.entries.guest_marks import MARK_KINDS, OPENING
from kiosk.staff.people import ROLES
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import devices
from kiosk.store.tables.tasting import pour_marks, pours
from kiosk.store.tables.tours import marks
from kiosk.tasting.room.corrections import CORRECTION_KINDS, GIVING_BACK
from tests.actors import Screen, signed_in
from tests.tasting_room import QUARTER_UL

SERVE = {"guide", "bar", "manager"}
GLASS = {"ledger": "pours", "product": "ponche-sin", "volume_ul": QUARTER_UL}  # refused to nobody
PRESET = {**GLASS, "tour": "tour", "seat": "1"}

ENTRIES: dict[str, dict[str, object]] = {
    "a pour, asked": {**GLASS, "guest": "guest"},
    "a pour, served": {**GLASS, "guest": "guest", "asked": False},
    "a glass at a seat, asked": PRESET,
    "a glass at a seat, served": {**PRESET, "asked": False},
    "seated, asked": {"ledger": "pour_marks", "kind": "seated", "pours": "preset", "guest": "guest"},
    "seated, served": {
        "ledger": "pour_marks",
        "kind": "seated",
        "pours": "preset",
        "guest": "guest",
        "asked": False,
    },
    "cleared, asked": {"ledger": "pour_marks", "kind": "cleared", "pours": "preset"},
    **{kind: {"ledger": "marks", "kind": kind, "guest": "guest"} for kind in sorted(MARK_KINDS)},
    **{
        kind: {
            "ledger": "pour_marks",
            "kind": kind,
            "pour": "poured",
            **({"reason": "not_taken"} if kind in GIVING_BACK else {}),
            **({"guest": "other"} if kind == "reassign" else {}),
        }
        for kind in sorted(CORRECTION_KINDS)
    },
}
ASKS = {name for name in ENTRIES if name.endswith("asked")} | set(OPENING) | GIVING_BACK
"""What is asked for now, opens service or gives a pour back."""
ACTORS = ("no device", "kiosk", "wall", "revoked", "nobody signed in", *ROLES)


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def screen_of(who, app, tasting, clock):
    """Return the screen of an actor."""
    if who in (*ROLES, "revoked"):
        screen = signed_in(
            app, tasting.store, tasting.site, clock.at, "bar" if who == "revoked" else who, "Ida"
        )
    else:
        screen = Screen(app)
    if who in ("kiosk", "wall", "nobody signed in"):
        kind = who if who in ("kiosk", "wall") else "tablet"
        screen.enrol(tasting.store, tasting.site, clock.at, name=f"a {kind}", kind=kind)
    if who == "revoked":
        with tasting.store.write() as session:
            of_ida = update(devices).where(devices.c.name == "tablet of Ida")
            session.execute(of_ida.values(revoked_at=clock.at))
    return screen


def expected(who, name):
    """Return the outcome owed to an actor for an entry, and whether it is proven; None: no such page."""
    if who in ("no device", "kiosk", "wall"):
        return None
    if who == "revoked":
        return "held", None
    if name in ASKS and (who not in SERVE or (name == "service_resumed" and who != "manager")):
        return "rejected", None
    return "recorded", who in SERVE


def prepared(tasting):
    """Return what entries refer to: a pour, a glass at a seat, the guests and the tour."""
    poured = tasting.pour(tasting.guests[0], "ponche-sin").key
    preset = new_key()
    with tasting.store.write() as session:
        kind = next(one for one in entry_kinds() if one.part == "seat")
        row = {**PRESET, "tour": tasting.tour, "key": preset}
        kind.record(session, tasting.site, kind.parse(row, tasting.origin(preset)), tasting.now)
    first, second = tasting.guests
    return {"poured": poured, "preset": [preset], "guest": first, "other": second, "tour": tasting.tour}


def proven(tasting, key):
    """Return whether the entries recorded under a key, or within it, name a person whom a PIN proves."""
    with tasting.store.read() as session:
        tables = (pours, marks, pour_marks)
        known = (select(one.c.server_checked).where(one.c.key.startswith(key[:24])) for one in tables)
        return {checked for query in known for checked in session.scalars(query)}


@pytest.mark.parametrize("who", ACTORS)
def test_every_kind_of_entry_is_taken_from_those_who_may_send_it(app, tasting, clock, who):
    screen = screen_of(who, app, tasting, clock)
    outcomes, owed = {}, {}
    tasting.check(tasting.guests[1])
    for name, entry in ENTRIES.items():
        there, key = prepared(tasting), new_key()
        row = {
            part: there.get(value, value) if part != "kind" and isinstance(value, str) else value
            for part, value in entry.items()
        }
        answer = screen.client.post(
            "/staff/intake",
            json=[
                {**row, "key": key, "by": tasting.bea} if who == "nobody signed in" else {**row, "key": key}
            ],
        )
        owed[name] = expected(who, name)
        outcomes[name] = _outcome(tasting, answer, key)
    assert outcomes == owed


def _outcome(tasting, answer, key):
    if answer.status_code == 404:
        return None
    (told,) = answer.json["answers"]
    if told["outcome"] in ("held", "rejected"):
        return told["outcome"], None
    (checked,) = proven(tasting, key)
    return "recorded", checked


def test_no_kind_of_entry_is_missing_here():
    ledgers = {(one["ledger"], "seat" in one or "pours" in one) for one in ENTRIES.values()}
    assert ledgers == {(kind.ledger, bool(kind.part)) for kind in entry_kinds() if kind.ledger != "steps"}
