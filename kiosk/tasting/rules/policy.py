"""The version of the service rules in force: the one confirmed last, while the site's file is the same."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Select, literal_column, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.policy_json import policy_body
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import policies

NO_POLICY = "no_policy"
"""The reason against every pour with alcohol while no version is in force."""


@dataclass(frozen=True, slots=True)
class Version:
    """A version of the rules that a licensee confirmed: its key, digest, instant and person."""

    key: str
    digest: str
    confirmed_at: datetime
    confirmed_by: int


@lru_cache(maxsize=8)
def digest(policy: ServicePolicy) -> str:
    """Return the digest of a policy's full text; cached, because every pour compares it."""
    return policy_body(policy)[1]


def newest() -> Select[Any]:
    """Return the query for the version confirmed last; one that no person confirmed never counts."""
    version = select(policies.c.key, policies.c.digest, policies.c.at, policies.c.by)
    return (
        version.where(policies.c.by.is_not(None))
        .order_by(policies.c.at.desc(), policies.c.key.desc())
        .limit(literal_column("1"))  # no parameter: see `open_bottles.LATEST`
    )


def in_force(session: Session, site: Site) -> Version | None:
    """Return the version in force; None where none was confirmed or the site's file differs from it."""
    row = session.execute(newest()).one_or_none()
    return Version(row.key, row.digest, row.at, row.by) if row and row.digest == digest(site.policy) else None


def confirm(session: Session, site: Site, *, key: str, by: int, at: datetime) -> None:
    """Put the rules of the site's file in force. The caller has checked the licensee's PIN."""
    body, text_digest = policy_body(site.policy)
    values = {
        "key": key,
        "at": at,
        "recorded_at": at,
        "by": by,
        "digest": text_digest,
        "body": body,
        "basis": site.policy.basis,
    }
    ledgers.append(session, policies, values)
