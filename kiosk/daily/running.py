"""The daily run: one step after the other, each told as it is done; one that fails stops no other."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from shlex import quote

from sqlalchemy import URL, make_url
from sqlalchemy.exc import DBAPIError

from kiosk.daily.ending import warnings
from kiosk.site.settings import Site
from kiosk.staff import sessions
from kiosk.store import audit, sqlite
from kiosk.store.audit import marked_site, require_plausible_clock
from kiosk.store.engine import Store, run
from kiosk.store.errors import OtherSite
from kiosk.store.migrate import is_current
from kiosk.store.retention import (
    BackupDamaged,
    LogNotEmptied,
    Rest,
    back_up,
    purge_bookings,
    purge_guests,
    remove_old,
    wipe,
)
from kiosk.tasting.forgetting import forget_held
from kiosk.words.catalogs import N_, Words

BACKUPS = "backups"
FORESEEN = (OSError, DBAPIError, sqlite.driver().module.Error, BackupDamaged, LogNotEmptied)


class NotReady(Exception):
    """The site has no database yet, or one of another release."""

    message = N_(
        "The database is not ready for this version of the program: start kiosk serve once, "
        "then run this again."
    )
    facts: dict[str, object] = {}


@dataclass(frozen=True, slots=True)
class Daily:
    """A site's daily run at `now`; `say` is told each thing done, `rest` lets others write."""

    site: Site
    store: Store
    words: Words
    now: datetime
    say: Callable[[str], None]
    rest: Rest
    counts: dict[str, int] = field(default_factory=dict)

    def run(self) -> bool:
        """Do everything and say whether all of it went well. Raises NotReady, OtherSite, ClockDoubted."""
        self._demand_ours()
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

    def _demand_ours(self) -> None:
        if not is_current(self.store):
            raise NotReady
        with self.store.read() as session:
            found = marked_site(session)
            require_plausible_clock(session, self.now, self.site.zone)
        if found not in (None, self.site.key):
            raise OtherSite(str(found))

    def _forget(self) -> Iterable[str]:
        oldest = self.site.oldest_kept(self.now)
        begun, _end = self.site.day_bounds(oldest)
        n = self.counts["guests"] = purge_guests(self.store, oldest, self.now, self.rest)
        yield self.words.ngettext(
            "Personal details of {n} guest removed.", "Personal details of {n} guests removed.", n
        )
        n = self.counts["bookings"] = purge_bookings(self.store, begun, self.rest)
        yield self.words.ngettext(
            "Personal details of {n} party removed.", "Personal details of {n} parties removed.", n
        )
        n = self.counts["held"] = forget_held(self.store, self.site, begun, self.rest)
        yield self.words.ngettext(
            "{n} held entry reduced to what counts.", "{n} held entries reduced to what counts.", n
        )
        run(self.store, partial(sessions.forget, now=self.now))
        yield self.words.gettext("Old sign-ins removed.")

    def _wipe(self) -> Iterable[str]:
        file = sqlite.file_of(self.site.database)
        if file is not None:
            wipe(file)
            yield self.words.gettext("Database file written anew: nothing that was removed is left in it.")

    def _remove_old(self) -> Iterable[str]:
        file = sqlite.file_of(self.site.database)
        if file is not None:
            oldest = self.site.oldest_kept(self.now)
            old = remove_old(file, self.site.folder / BACKUPS, oldest, self.site.zone)
            yield self.words.ngettext("{n} old backup removed.", "{n} old backups removed.", len(old))

    def _back_up(self) -> Iterable[str]:
        file = sqlite.file_of(self.site.database)
        if file is not None:
            copy = back_up(file, self.site.folder / BACKUPS, self.site.service_day(self.now))
            yield self.words.gettext("Backup written and checked: {file}", file=copy)
        else:
            yield self.words.gettext(
                "PostgreSQL is backed up by its own tool: {command}. Keep no copy longer than {n} days.",
                command=f"pg_dump --format=custom --file=kiosk.dump {_address(self.site)}",
                n=self.site.retention_days,
            )

    def _warn(self) -> Iterable[str]:
        with self.store.read() as session:
            found = warnings(session, self.site, self.words, self.now)
        yield from (self.words.gettext("Look at this: {what}", what=one) for one in found)

    def _note(self) -> Iterable[str]:
        run(
            self.store,
            lambda session: audit.record_act(session, audit.DAILY, self.counts, by=None, at=self.now),
        )
        yield self.words.gettext("All done.")


def _address(site: Site) -> str:
    """Return the database's address for the command line of PostgreSQL's tools, without a password."""
    url = make_url(site.database)
    bare = URL.create("postgresql", url.username, None, url.host, url.port, url.database, url.query)
    return quote(bare.render_as_string())


def _reason(error: Exception, words: Words) -> str:
    match error:
        case LogNotEmptied():
            return words.gettext("somebody read the database all the while, so its log could not be emptied")
        case BackupDamaged():
            return words.gettext("the backup did not pass its check and was not kept: {found}", found=error)
        case DBAPIError():
            return str(error.orig)
    return str(error)
