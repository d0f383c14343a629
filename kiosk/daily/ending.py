"""What ends soon or has ended, what nobody uses, what nobody knows: one sentence for each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from sqlalchemy import ColumnElement, Integer, String, cast, exists, func, literal, or_, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables import metadata
from kiosk.store.tables.production import certificates, instruments, run_readings, wash_readings
from kiosk.store.tables.staff import devices, permits, sign_offs, staff
from kiosk.store.tables.tasting import approvals
from kiosk.words import formats
from kiosk.words.catalogs import Words

SOON = timedelta(days=30)
UNUSED = timedelta(days=60)
_KINDS = ("tablet", "instrument")
"""Devices that write; of a guests' screen or a wall nothing tells whether it is used."""


def warnings(session: Session, site: Site, words: Words, now: datetime) -> list[str]:
    """Return what somebody should look at; a fixed number of queries."""
    today = site.service_day(now)
    ending = (_permits, _sign_offs, _certificates, _approvals)
    told = [
        words.gettext("{what}: {until}", what=what, until=_until(on, today, words))
        for find in ending
        for what, on in find(session, today, words)
    ]
    return [*told, *_unused(session, words, now), *_not_known(site, words)]


def _until(on: date, today: date, words: Words) -> str:
    if on < today:
        return words.gettext("ended on {day}", day=formats.day(on, words, today))
    return words.gettext("ends on {day}", day=formats.day(on, words, today))


Found = Iterable[tuple[str, date]]


def _permits(session: Session, today: date, words: Words) -> Found:
    p = permits.c
    until = func.max(p.valid_until).label("until")
    held = select(staff.c.name, p.kind, until).join_from(permits, staff, p.staff_id == staff.c.id)
    held = held.where(_works_here(today)).group_by(staff.c.name, p.kind).having(until <= today + SOON)
    for name, kind, on in session.execute(held.order_by(until, staff.c.name)):
        yield words.gettext("Permit {kind} of {name}", kind=kind, name=name), on


def _sign_offs(session: Session, today: date, words: Words) -> Found:
    """A sign-off without an end holds for good, whatever ended before it."""
    s = sign_offs.c
    until = func.max(s.expires_on).label("until")
    for_good = func.max(cast(s.expires_on.is_(None), Integer))
    held = select(staff.c.name, s.skill, until).join_from(sign_offs, staff, s.staff_id == staff.c.id)
    held = held.where(_works_here(today)).group_by(staff.c.name, s.skill, s.stop, s.language)
    held = held.having(for_good == 0, until <= today + SOON)
    for name, skill, on in session.execute(held.order_by(until, staff.c.name)):
        yield words.gettext("Sign-off {skill} of {name}", skill=skill, name=name), on


def _certificates(session: Session, today: date, words: Words) -> Found:
    i, c, later = instruments.c, certificates.c, certificates.alias()
    last = ~exists().where(later.c.instrument_id == c.instrument_id, later.c.since > c.since)
    ending = select(i.code, c.until).join_from(certificates, instruments, c.instrument_id == i.id)
    for code, on in session.execute(ending.where(last, c.until <= today + SOON).order_by(c.until, i.code)):
        yield words.gettext("Certificate of instrument {code}", code=code), on


def _approvals(session: Session, today: date, words: Words) -> Found:
    r = approvals.c
    ending = select(r.code, r.until_on).where(r.until_on >= today, r.until_on <= today + SOON)
    ending = ending.where(r.ended_at.is_(None))
    for code, on in session.execute(ending.order_by(r.until_on, r.code)):
        yield words.gettext("Release {code}", code=code), on


def _works_here(today: date) -> ColumnElement[bool]:
    return or_(staff.c.left_on.is_(None), staff.c.left_on > today)


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
            "Device {name} has written nothing for {n} days: shut it out if nobody needs it.",
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
