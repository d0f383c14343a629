"""Which service rules are in force: the version last confirmed, while the site's file says the same."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, time
from fractions import Fraction
from functools import lru_cache
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import policies

NO_POLICY = "no_policy"
"""The reason against every pour while no version is in force."""


@dataclass(frozen=True, slots=True)
class Version:
    """A confirmed version of the rules."""

    key: str
    digest: str
    confirmed_at: datetime
    confirmed_by: int


def body(policy: ServicePolicy) -> dict[str, object]:
    """Return the full text of a policy as plain values, the same for the same rules."""
    plain = json.loads(json.dumps(asdict(policy), default=_plain, sort_keys=True))
    assert isinstance(plain, dict)
    return plain


@lru_cache(maxsize=8)
def digest(policy: ServicePolicy) -> str:
    """Return the SHA-256 of a policy's full text as hex."""
    return hashlib.sha256(json.dumps(body(policy), sort_keys=True).encode()).hexdigest()


def newest() -> Select[Any]:
    """Select the version confirmed last: a policy without a person behind it never counts."""
    found = select(policies.c.key, policies.c.digest, policies.c.at, policies.c.by)
    return (
        found.where(policies.c.by.is_not(None)).order_by(policies.c.at.desc(), policies.c.key.desc()).limit(1)
    )


def in_force(session: Session, site: Site) -> Version | None:
    """Return the version in force, or None when none is or the site's file says otherwise."""
    row = session.execute(newest()).one_or_none()
    return Version(row.key, row.digest, row.at, row.by) if row and row.digest == digest(site.policy) else None


def confirm(session: Session, site: Site, *, key: str, by: int, at: datetime) -> None:
    """Put the rules of the site's file in force. The caller has checked the licensee's PIN."""
    values: Mapping[str, object] = {
        "key": key,
        "at": at,
        "recorded_at": at,
        "by": by,
        "digest": digest(site.policy),
        "body": body(site.policy),
        "basis": site.policy.basis,
    }
    ledgers.append(session, policies, values)


def _plain(value: object) -> object:
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Fraction | time):
        return str(value)
    raise TypeError(f"a policy holds no {type(value).__name__}")
