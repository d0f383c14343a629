"""The daily run: removes personal details whose time is over, backs up, and warns of what ends soon.

Each step says what it did; one that fails stops no other.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import partial

from sqlalchemy import Integer, String, cast, exists, func, literal, or_, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from kiosk.site.backup import BackupDamaged, back_up
from kiosk.site.settings import Site
from kiosk.staff import sessions
from kiosk.staff.people import works_here
from kiosk.staff.sign_offs import not_withdrawn
from kiosk.store import audit, sqlite
from kiosk.store.audit import marked_site, require_plausible_clock
from kiosk.store.engine import Store, run
from kiosk.store.errors import OtherSite, StoreError
from kiosk.store.migrate import is_current
from kiosk.store.retention import LogNotEmptied, Rest, purge_bookings, purge_guests, remove_old, wipe
from kiosk.store.tables import metadata
from kiosk.store.tables.production import certificates, instruments, run_readings, wash_readings
from kiosk.store.tables.staff import devices, permits, sign_offs, staff
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.room.entry_kinds import forget_held
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words
from kiosk.words.errors import sentence

BACKUPS = "backups"
SOON = timedelta(days=30)
UNUSED = timedelta(days=60)
_KINDS = ("tablet", "instrument")
"""Devices that write; whether a guests' screen or a wall is used is not recorded."""
FORESEEN = (OSError, DBAPIError, StoreError, sqlite.driver().module.Error, BackupDamaged, LogNotEmptied)


class NotReady(Exception):
    """The site has no database yet, or one of another release."""

    message = N_(
        "The database is not ready for this version of the program: start kiosk serve once, "
        "then run this again."
    )
    facts: dict[str, object] = {}


@dataclass(frozen=True, slots=True)
class Daily:
    """A site's daily run at `now`; `say` gets a line for each thing done, `rest` lets others write."""

    site: Site
    store: Store
    words: Words
    now: datetime
    say: Callable[[str], None]
    rest: Rest
    counts: dict[str, int] = field(default_factory=dict)

    def run(self) -> bool:
        """Run every step and return whether all succeeded. Raises NotReady, OtherSite, ClockDoubted."""
        self._require_own_site()
        done = [self._step(one) for one in (self._forget, self._wipe, self._remove_old, self._back_up)]
        done.append(self._step(self._warn))
        if all(done):
            self._step(self._note)
        return all(done)

    def _step(self, step: Callable[[], Iterable[str]]) -> bool:
        try:
            for line in step():
                self.say(line)
        except FORESEEN as error:
            self.say(self.words.gettext("Not done: {reason}", reason=_reason(error, self.words)))
            return False
        return True

    def _require_own_site(self) -> None:
        if not is_current(self.store):
            raise NotReady
        with self.store.read() as session:
            key = marked_site(session)
            require_plausible_clock(session, self.now, self.site.zone)
        if key not in (None, self.site.key):
            raise OtherSite(str(key))

    def _forget(self) -> Iterable[str]:
        oldest = self.site.oldest_kept(self.now)
        begins, _end = self.site.day_bounds(oldest)
        n = self.counts["guests"] = purge_guests(self.store, oldest, self.now, self.rest)
        yield self.words.ngettext(
            "Personal details of {n} guest removed.", "Personal details of {n} guests removed.", n
        )
        n = self.counts["bookings"] = purge_bookings(self.store, begins, self.rest)
        yield self.words.ngettext(
            "Personal details of {n} booking removed.", "Personal details of {n} bookings removed.", n
        )
        n = self.counts["held"] = forget_held(self.store, self.site, begins, self.rest)
        yield self.words.ngettext(
            "{n} held entry reduced to what counts.", "{n} held entries reduced to what counts.", n
        )
        run(self.store, partial(sessions.forget, now=self.now))
        yield self.words.gettext("Old sign-ins removed.")

    def _wipe(self) -> Iterable[str]:
        if file := sqlite.file_of(self.site.database):
            wipe(file)
            yield self.words.gettext("Database file written anew: nothing that was removed is left in it.")

    def _remove_old(self) -> Iterable[str]:
        file, oldest = sqlite.file_of(self.site.database), self.site.oldest_kept(self.now)
        old = remove_old(file, self.site.folder / BACKUPS, oldest, self.site.zone)
        yield self.words.ngettext("{n} old backup removed.", "{n} old backups removed.", len(old))

    def _back_up(self) -> Iterable[str]:
        day = self.site.service_day(self.now)
        written = back_up(self.site, self.store, self.site.folder / BACKUPS, day)
        yield self.words.gettext("Backup written and checked: {file}", file=written)

    def _warn(self) -> Iterable[str]:
        with self.store.read() as session:
            due = warnings(session, self.site, self.words, self.now)
        yield from (self.words.gettext("Look at this: {what}", what=one) for one in due)

    def _note(self) -> Iterable[str]:
        note = partial(audit.record_act, act=audit.DAILY, what=self.counts, by=None, at=self.now)
        run(self.store, note)
        yield self.words.gettext("All done.")


def _reason(error: Exception, words: Words) -> str:
    match error:
        case LogNotEmptied():
            return words.gettext("somebody read the database all the while, so its log could not be emptied")
        case BackupDamaged() | StoreError():
            return sentence(error, words)
        case DBAPIError():
            return str(error.orig)
    return str(error)


def warnings(session: Session, site: Site, words: Words, now: datetime) -> list[str]:
    """Return a sentence for each thing that ends soon or has ended, is unused, or is unknown.

    The number of queries is fixed.
    """
    today = site.service_day(now)
    ending = (_permits, _sign_offs, _certificates, _approvals)
    due = [
        words.gettext("{what}: {until}", what=what, until=_until(on, today, words))
        for find in ending
        for what, on in find(session, today, words)
    ]
    return [*due, *_unused(session, words, now), *_not_known(site, words)]


def _until(on: date, today: date, words: Words) -> str:
    if on < today:
        return words.gettext("ended on {day}", day=formats.day(on, words, today))
    return words.gettext("ends on {day}", day=formats.day(on, words, today))


Endings = Iterable[tuple[str, date]]


def _permits(session: Session, today: date, words: Words) -> Endings:
    p = permits.c
    until = func.max(p.valid_until).label("until")
    held = select(staff.c.name, p.kind, until).join_from(permits, staff, p.staff_id == staff.c.id)
    held = held.where(works_here(today)).group_by(staff.c.name, p.kind).having(until <= today + SOON)
    for name, kind, on in session.execute(held.order_by(until, staff.c.name)):
        yield words.gettext("Permit {kind} of {name}", kind=kind, name=name), on


def _sign_offs(session: Session, today: date, words: Words) -> Endings:
    """Yield the sign-offs that end; one without an end counts for good, whatever ended before it."""
    s = sign_offs.c
    until = func.max(s.expires_on).label("until")
    for_good = func.max(cast(s.expires_on.is_(None), Integer))
    held = select(staff.c.name, s.skill, until).join_from(sign_offs, staff, s.staff_id == staff.c.id)
    held = held.where(works_here(today), not_withdrawn())
    held = held.group_by(staff.c.name, s.skill, s.stop, s.language)
    held = held.having(for_good == 0, until <= today + SOON)
    for name, skill, on in session.execute(held.order_by(until, staff.c.name)):
        yield words.gettext("Sign-off {skill} of {name}", skill=skill, name=name), on


def _certificates(session: Session, today: date, words: Words) -> Endings:
    i, c, later = instruments.c, certificates.c, certificates.alias()
    last = ~exists().where(later.c.instrument_id == c.instrument_id, later.c.since > c.since)
    ending = select(i.code, c.until).join_from(certificates, instruments, c.instrument_id == i.id)
    for code, on in session.execute(ending.where(last, c.until <= today + SOON).order_by(c.until, i.code)):
        yield words.gettext("Certificate of instrument {code}", code=code), on


def _approvals(session: Session, today: date, words: Words) -> Endings:
    r = approvals.c
    ending = select(r.code, r.until_on).where(r.until_on >= today, r.until_on <= today + SOON)
    ending = ending.where(r.ended_at.is_(None))
    for code, on in session.execute(ending.order_by(r.until_on, r.code)):
        yield words.gettext("Approval {code}", code=code), on


def _unused(session: Session, words: Words, now: datetime) -> Iterable[str]:
    d, since = devices.c, now - UNUSED
    written = [
        exists().where(table.c.device_id == d.id, table.c.recorded_at > since)
        for table in metadata.tables.values()
        if "device_id" in table.c and "recorded_at" in table.c
    ]
    written += [
        exists()
        .where(table.c.source.like(literal("device:") + cast(d.id, String) + ":%"))
        .where(table.c.recorded_at > since)
        for table in (run_readings, wash_readings)
    ]
    open_ = select(d.name).where(d.kind.in_(_KINDS), d.revoked_at.is_(None), d.enrolled_at <= since)
    for name in session.scalars(open_.where(~or_(*written)).order_by(d.name)):
        yield words.gettext(
            "Device {name} has written nothing for {n} days: revoke it if it is no longer needed.",
            name=name,
            n=UNUSED.days,
        )


def _not_known(site: Site, words: Words) -> Iterable[str]:
    for product in site.products.values():
        if product.abv_basis == "not_known":
            name = product.names.get(words.language, product.id)
            yield words.gettext(
                "The strength of {product} is not known: it counts as the spirit before fruit and water.",
                product=name,
            )
