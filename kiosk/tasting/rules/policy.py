"""The version of the service rules in force: the one confirmed last, while the site's file is the same."""

from datetime import datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Column, Row, Select, literal_column, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.figures.drinks import ServicePolicy
from kiosk.site.policy_json import policy_body
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import policies

NO_POLICY = "no_policy"
"""The reason against every pour with alcohol while no version is in force."""


@lru_cache(maxsize=8)
def digest(policy: ServicePolicy) -> str:
    """Return the digest of a policy's full text; cached, because every pour compares it."""
    return policy_body(policy)[1]


def newest(*columns: Column[Any]) -> Select[Any]:
    """Return the query for `columns` of the version confirmed last; one without a person never counts."""
    return (
        select(*columns)
        .where(policies.c.by.is_not(None))
        .order_by(policies.c.at.desc(), policies.c.key.desc())
        .limit(literal_column("1"))  # no parameter: see `bottles.shelf.LATEST`
    )


def in_force(session: Session, site: Site) -> Row[Any] | None:
    """Return the key, digest, instant (`at`) and person (`by`) of the version in force.

    None where none was confirmed or the site's file differs from it.
    """
    p = policies.c
    version = session.execute(newest(p.key, p.digest, p.at, p.by)).one_or_none()
    return version if version and version.digest == digest(site.policy) else None


def confirm(session: Session, site: Site, *, key: str, by: int, at: datetime) -> None:
    """Put the rules of the site's file in force. The caller has checked the licensee's PIN."""
    body, text_digest = policy_body(site.policy)
    values = {"digest": text_digest, "body": body, "basis": site.policy.basis}
    ledgers.append(session, policies, EntryOrigin(key, by, None).values(at, at) | values)
