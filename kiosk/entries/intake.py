"""Recording the entries that tablets send: an answer for each, and none is lost.

Each row is a transaction of its own, in which the sender is found too: a transaction
for that alone would cost as much as the entry, and could be outdated by the time that
the entry is recorded. A row from a revoked device, or one that speaks of something
unknown, is held for a person to settle.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import Row, bindparam, exists
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    LONGEST_OUTAGE,
    Answer,
    EntryKind,
    EntryKinds,
    EntryOrigin,
    RawEntry,
    claimed_by,
    code_of,
    kind_of,
    read_instant,
    read_key,
    record_entry,
    with_present_names,
)
from kiosk.entries.errors import DeviceRevoked, EntryError, Malformed, TooOld, UnknownSender
from kiosk.entries.review import KEPT_ON_TABLET, hold_entry
from kiosk.entries.typed_in import TypedInAlready
from kiosk.site.settings import Site
from kiosk.staff.people import is_staff, roles_of
from kiosk.staff.sessions import cookie_parameters, is_proven, select_by_cookies
from kiosk.store.engine import Store, run
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.tables.staff import devices, staff, staff_roles
from kiosk.store.tables.tasting import typed_entries

SENDING_DEVICE = "tablet"
"""The only kind of device that sends entries: at a screen in a hall nobody stands behind what is sent."""


@dataclass(frozen=True, slots=True)
class Sender:
    """The device that sends and who is signed in on it now, with the languages they speak."""

    device_id: int
    revoked_at: datetime | None = None
    person_id: int | None = None
    languages: tuple[str, ...] = ()
    roles: frozenset[str] = frozenset()
    pin_temporary: bool = False
    typed_in: bool = False


FindSender = Callable[[Session, str], Sender]
"""Finds the sender in the transaction that records, by the code of the entry (`code_of`) for which it
says whether that was typed in; raises UnknownSender."""


class SenderCredentials:
    """The sender whom a request shows by the keyed hashes of its two cookies."""

    def __init__(self, site: Site, device_hash: str, person_hash: str, now: datetime) -> None:
        self._site, self._now = site, now
        self._asked = cookie_parameters(device_hash, person_hash, now)
        self.languages: tuple[str, ...] = ()

    def __call__(self, session: Session, code: str = "") -> Sender:
        """Return the sender, of a revoked device too. Raises UnknownSender, for a mere screen too."""
        rows = session.connection().execute(_WHO, {**self._asked, "code": code}).all()
        if not rows:
            raise UnknownSender()
        sender = Sender(rows[0].device_id, rows[0].revoked_at, *self._person(rows), rows[0].typed_in)
        self.languages = sender.languages
        return sender

    def _person(self, rows: Sequence[Row[Any]]) -> tuple[int | None, tuple[str, ...], frozenset[str], bool]:
        row = rows[0]
        left = row.left_on is not None and row.left_on <= self._site.local(self._now).date()
        if row.staff_id is None or row.revoked_at is not None or left:
            return None, (), frozenset(), False
        roles = frozenset(one.role for one in rows if one.role)
        return row.staff_id, tuple(row.languages), roles, row.pin_temporary


_TYPED_IN = exists().where(typed_entries.c.code == bindparam("code")).label("typed_in")
_WHO = (
    select_by_cookies(devices.c.revoked_at)
    .add_columns(staff.c.pin_temporary, staff_roles.c.role, _TYPED_IN)
    .outerjoin(staff_roles, staff_roles.c.staff_id == staff.c.id)
    .where(devices.c.kind == SENDING_DEVICE)
)
"""A row for each role of the person signed in, one without a person."""


def take_in_entries(
    store: Store, site: Site, kinds: EntryKinds, known: FindSender, sent: Sequence[RawEntry], now: datetime
) -> list[Answer]:
    """Record entries in the order they were made and return an answer for each. Raises UnknownSender."""
    if not sent:
        with store.read() as session:
            known(session, "")
    record = partial(_record, site=site, kinds=kinds, known=known, now=now)
    hold = partial(_hold, known=known, now=now)
    return [_take_one(store, with_present_names(row), record, hold) for row in sent]


def _take_one(
    store: Store, row: RawEntry, record: Callable[..., Answer], hold: Callable[..., Answer]
) -> Answer:
    key = str(row.get("key", ""))[:32]
    try:
        return run(store, partial(record, row=row))
    except NoSuchRow:
        reason = "unknown_guest"
    except KeyConflict as conflict:
        return _rejected(key, "key_conflict", conflict)
    except EntryError as error:
        if not error.held_as:
            return _rejected(key, "refused_entry", error)
        reason = error.held_as
    return run(store, partial(hold, row=row, key=key, reason=reason))


def _record(
    session: Session, *, site: Site, kinds: EntryKinds, known: FindSender, row: RawEntry, now: datetime
) -> Answer:
    sender = known(session, code_of(str(row.get("key", ""))))
    if sender.typed_in:
        raise TypedInAlready()
    if sender.revoked_at is not None:
        raise DeviceRevoked()
    kind = kind_of(kinds, row)
    origin = _origin(session, site, sender, kind, row, now)
    return record_entry(session, site, kind, kind.parse(row, origin), now)


def _origin(
    session: Session, site: Site, sender: Sender, kind: EntryKind, row: RawEntry, now: datetime
) -> EntryOrigin:
    """Return the origin of an entry. Raises Malformed, and TooOld for one from before the longest outage.

    The person is proven who is signed in on the device as the entry arrives, and who was signed in there
    when it happened, by the proof of that sign-in (`entry_proof`) that the entry carries: the time that
    a tablet names proves nothing, for it could be set into a sign-in of any colleague. A PIN that another
    person knows proves nobody.
    """
    by, happened = claimed_by(row), read_instant(row, "at")
    by = sender.person_id if by is None else by
    here = by is not None and by == sender.person_id
    temporary = here and sender.pin_temporary
    checked, roles = here and not temporary, sender.roles if here else frozenset[str]()
    if by is not None and not here:
        if not is_staff(session, by):
            raise Malformed(part="by")
        roles = roles_of(session, by)
        checked = _is_proven(session, site, sender, by, row, min(now, happened or now))
    if happened is not None and now - happened > LONGEST_OUTAGE:
        raise TooOld()
    checked = checked and not roles.isdisjoint(kind.roles)
    return EntryOrigin(read_key(row, "key"), by, sender.device_id, checked, happened, here, roles, temporary)


def _is_proven(session: Session, site: Site, sender: Sender, by: int, row: RawEntry, at: datetime) -> bool:
    return "sign_in" in row and is_proven(session, site, by, sender.device_id, at, read_key(row, "sign_in"))


def _rejected(key: str, code: str, error: KeyConflict | EntryError) -> Answer:
    return Answer(key, "rejected", error.status, error=code, message=error.message, facts=error.facts)


def _hold(
    session: Session, *, known: FindSender, row: RawEntry, key: str, reason: str, now: datetime
) -> Answer:
    """Keep an entry for a person to settle, or tell the tablet to keep it."""
    sender = known(session, "")
    kept = hold_entry(session, row, reason, now, device_id=sender.device_id, revoked_at=sender.revoked_at)
    if kept:
        return Answer(key, "keep", 429, reasons=(kept,), error="keep", message=KEPT_ON_TABLET[kept], at=now)
    return Answer(key, "held", 202, reasons=(reason,), at=now)
