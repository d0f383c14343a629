"""What all entries that tablets send have in common: origin, kind, answer, and how their parts are read.

Nothing in an entry is believed about the rules.
"""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from kiosk.entries.errors import ChangePinFirst, Malformed, RoleMayNotRecord, SignInFirst
from kiosk.site.settings import Site
from kiosk.words import errors, reasons
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import YEARS

KEY = re.compile(r"[0-9a-f]{32}")
CODE = re.compile(r"[a-z0-9][a-z0-9_.-]*")
"""What a detail may be: a ledger is for ever, so nothing that somebody wrote by hand goes into one."""
LONGEST_OUTAGE = timedelta(hours=24)
"""How long after it happened a fact is still recorded unasked; an older one waits for a manager."""
SERVERS = frozenset({"guide", "bar", "manager"})
"""The roles of the people who pour, and who may record what they did."""
HELD = N_("Held for review: it does not fit what is on record.")
CHANGED = N_("Something else was recorded for this guest meanwhile: nothing was poured. Look again.")


@dataclass(frozen=True, slots=True)
class EntryOrigin:
    """The origin of an entry: the person who claims it, the device, and when it happened.

    `checked` says whether that person is proven and has a role that records such an entry: else they
    are only claimed. `here` says whether they are signed in on the device now, `roles` are theirs;
    with a `pin_temporary` another person knows their PIN. `happened_at` is None for 'now'.
    """

    key: str
    by: int | None
    device_id: int | None
    checked: bool = False
    happened_at: datetime | None = None
    here: bool = False
    roles: frozenset[str] = frozenset()
    pin_temporary: bool = False

    @property
    def server(self) -> int | None:
        """The id of the server of a pour, None for one who is only claimed.

        Otherwise a person could pour on the permit of a colleague who is elsewhere.
        """
        return self.by if self.checked else None

    def at(self, now: datetime) -> datetime:
        """Return when the entry happened, never later than now."""
        return min(now, self.happened_at or now)

    def values(self, at: datetime, now: datetime) -> dict[str, object]:
        """Return the columns that every ledger has, for an entry that happened `at` and is recorded `now`."""
        return {
            "key": self.key,
            "at": at,
            "recorded_at": now,
            "by": self.by,
            "device_id": self.device_id,
        }

    def clock_ms(self, now: datetime) -> int:
        """Return by how many milliseconds the entry's time lies before the server's."""
        return round((now - (self.happened_at or now)).total_seconds() * 1000)


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an entry.

    `outcome`: poured, preset, seated, cleared, refused, marked, corrected, held, rejected,
    changed, for a glass asked for on a belief that is no longer true, of which nothing is recorded,
    and keep, for an entry that the tablet has to keep itself. For a fact
    that went over a limit it is poured, with the reasons as its flag.
    """

    key: str
    outcome: str
    status: int = 200
    reasons: tuple[str, ...] = ()
    guest_id: int | None = None
    at: datetime | None = None
    error: str = ""
    message: str = ""
    facts: Mapping[str, object] = field(default_factory=dict)


RawEntry = Mapping[str, object]
"""An entry as it was sent, before anything of it is checked."""


@dataclass(frozen=True, slots=True)
class EntryKind:
    """What an entry of a ledger means: how it is read from what was sent, and how it is recorded.

    Of several kinds for one ledger, those that have a `part` of their own come first: an entry is
    of the kind whose part was sent. `roles` are those whose entries count as more than a claim. `asks`
    returns the roles of which a person signed in now needs one: for what is asked for now, opens
    service or gives a pour back; it returns none for a fact. `parse` raises Malformed. `record` runs in
    a write transaction that has read nothing but who sends; it raises EntryError, NoSuchRow for an
    unknown guest, and KeyConflict.
    """

    ledger: str
    roles: frozenset[str]
    asks: Callable[[Any], Collection[str]]
    parse: Callable[[RawEntry, EntryOrigin], Any]
    record: Callable[[Session, Site, Any, datetime], Answer]
    part: str = ""


EntryKinds = Sequence[EntryKind]
"""The kinds of entries that a running site takes in."""


def kind_of(kinds: EntryKinds, row: RawEntry) -> EntryKind:
    """Return the kind of an entry. Raises Malformed for an unknown ledger."""
    ledger = row.get("ledger")
    for kind in kinds:
        if kind.ledger == ledger and (not kind.part or kind.part in row):
            return kind
    raise Malformed(part="ledger")


def record_entry(session: Session, site: Site, kind: EntryKind, entry: Any, now: datetime) -> Answer:
    """Record a parsed entry of a kind by a sender who may make it, and return its answer.

    Raises SignInFirst, ChangePinFirst and RoleMayNotRecord for what only a person signed in here by a
    PIN of their own with a certain role may ask for, and what `kind.record` raises.
    """
    needed, origin = kind.asks(entry), entry.origin
    if needed and (origin.by is None or not origin.here):
        raise SignInFirst()
    if needed and origin.pin_temporary:
        raise ChangePinFirst()
    if needed and origin.roles.isdisjoint(needed):
        raise RoleMayNotRecord()
    return kind.record(session, site, entry, now)


_SENTENCES: Mapping[str, str] = {"held": HELD, "changed": CHANGED}


def sentence(answer: Answer, site: Site, words: Words) -> str:
    """Return the answer to an entry as a sentence for the person who sent it."""
    if answer.outcome in _SENTENCES:
        return words.gettext(_SENTENCES[answer.outcome])
    if answer.outcome in ("rejected", "keep"):
        facts = {name: errors.fact_text(value, words) for name, value in answer.facts.items()}
        return words.gettext(answer.message, **facts)
    if answer.reasons:
        why = " ".join(reasons.for_staff(code, site.policy, words) for code in answer.reasons)
        if answer.outcome != "refused":
            return words.gettext("Recorded, and flagged for the manager. {why}", why=why)
        return why
    return words.gettext("Recorded.")


FORMER_NAMES: Mapping[str, Mapping[str, str]] = {
    "pours": {"place": "seat"},
    "marks": {
        "document": "id_check",
        "none_today": "no_alcohol",
        "drinks_today": "no_alcohol_lifted",
        "stopped": "service_stopped",
        "lifted": "service_resumed",
    },
    "pour_marks": {"mis_tap": "void", "to_guest": "reassign", "left": "unfinished", "emptied": "finished"},
}
"""Parts of a pour and kinds of marks by their names before migration 0014: a tablet's queue may hold
entries from before the upgrade. The version after this one reads them no more."""


def with_present_names(row: RawEntry) -> Mapping[str, object]:
    """Return a posted entry with former names of parts and kinds replaced by the present ones."""
    ledger, kind = row.get("ledger"), row.get("kind")
    former = FORMER_NAMES.get(ledger, {}) if isinstance(ledger, str) else {}
    if ledger == "pours":
        return {former.get(part, part): value for part, value in row.items()}
    return {**row, "kind": former[kind]} if isinstance(kind, str) and kind in former else row


def claimed_by(row: RawEntry) -> int | None:
    """Return the id of the person whom an entry names, or None where it names none. Raises Malformed."""
    return read_whole(row, "by") if row.get("by") is not None else None


def code_of(key: str) -> str:
    """Return the code of an entry by its key, as the tablet that keeps it shows it; "" for what is no key.

    Entries of one round begin alike, entries of different rounds for one guest end alike: so both ends.
    """
    return f"{key[:6]}-{key[-6:]}" if KEY.fullmatch(key) else ""


def read_key(row: RawEntry, name: str) -> str:
    """Return a part that is a key: 128 bits as hex. Raises Malformed."""
    value = row.get(name)
    if not isinstance(value, str) or not KEY.fullmatch(value):
        raise Malformed(part=name)
    return value


def read_whole(row: RawEntry, name: str, most: int = 2**31 - 1) -> int:
    """Return a part that is a whole number from 0 to `most`. Raises Malformed."""
    value = row.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
        raise Malformed(part=name)
    return value


def read_code(row: RawEntry, name: str, longest: int) -> str:
    """Return a part that is printable text of at most `longest` letters. Raises Malformed."""
    value = row.get(name)
    if not isinstance(value, str) or not 0 < len(value) <= longest or not value.isprintable():
        raise Malformed(part=name)
    return value


def read_flag(row: RawEntry, name: str) -> bool:
    """Return a part that is true or false; true where it is left out. Raises Malformed."""
    value = row.get(name, True)
    if not isinstance(value, bool):
        raise Malformed(part=name)
    return value


def read_instant(row: RawEntry, name: str) -> datetime | None:
    """Return a part that is an instant with its offset, None where it is left out. Raises Malformed."""
    value = row.get(name)
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None or at.year not in YEARS:
        raise Malformed(part=name)
    return at
