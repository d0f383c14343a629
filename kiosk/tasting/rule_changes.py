"""Versions of the rules: who put each in force, and what it says otherwise than the one before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.policy_text import readable
from kiosk.site.settings import Site
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import policies
from kiosk.tasting.rules import HOURS, ShownRule, lines
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class Change:
    """A rule that says otherwise than before; None where it is new, or gone."""

    before: ShownRule | None
    after: ShownRule | None


@dataclass(frozen=True, slots=True)
class ShownVersion:
    """A version as it was confirmed; `changes` None where one of the two cannot be read any more."""

    confirmed_at: datetime
    confirmed_by: str
    changes: list[Change] | None
    first: bool


def versions(session: Session, site: Site, words: Words) -> list[ShownVersion]:
    """Return the confirmed versions, the newest first."""
    p = policies.c
    confirmed = select(p.at, p.body, staff.c.name).join(staff, staff.c.id == p.by)
    rows = session.execute(confirmed.order_by(p.at.desc(), p.key.desc())).all()
    read = [readable(row.body) for row in rows]
    shown = [
        ShownVersion(row.at, row.name, _changes(before, after, site, words), first=False)
        for row, (after, before) in zip(rows, pairwise(read), strict=False)
    ]
    return [*shown, *(ShownVersion(row.at, row.name, [], first=True) for row in rows[-1:])]


def not_confirmed(session: Session, site: Site, words: Words) -> list[Change] | None:
    """Return what the site's file says otherwise than the version confirmed last; None without one."""
    p = policies.c
    last = select(p.body).where(p.by.is_not(None)).order_by(p.at.desc(), p.key.desc()).limit(1)
    body = session.scalar(last)
    return None if body is None else _changes(readable(body), site.policy, site, words)


def changes(before: Sequence[ShownRule], after: Sequence[ShownRule]) -> list[Change]:
    """Return the rules that differ, in the order of the later text, those that are gone last."""
    old, new = _by_name(before), _by_name(after)
    found = [Change(old.get(name), rule) for name, rule in new.items() if old.get(name) != rule]
    return found + [Change(rule, None) for name, rule in old.items() if name not in new]


def _by_name(rules: Sequence[ShownRule]) -> Mapping[str, ShownRule]:
    """Hours have no name of their own: each stands for itself."""
    return {rule.text if rule.id == HOURS else rule.id: rule for rule in rules}


def _changes(
    before: ServicePolicy | None, after: ServicePolicy | None, site: Site, words: Words
) -> list[Change] | None:
    if before is None or after is None:
        return None
    return changes(lines(before, site, words), lines(after, site, words))
