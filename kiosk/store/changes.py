"""Versions of subjects: how figures learn that records they rest on have changed."""

from __future__ import annotations

from sqlalchemy import Insert, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from kiosk.store.tables.shared import changes

_TOUCHED = "kiosk_touched"


def touch(session: Session, *subjects: str) -> None:
    """Count a change of each subject when this writing transaction commits.

    The counts are written last and in one order, so that two writers never
    hold each other's subject, nor either for longer than a commit takes.
    """
    session.info.setdefault(_TOUCHED, set()).update(subjects)


def versions(session: Session) -> dict[str, int]:
    """Return how often each subject has changed; one that never did is absent."""
    return {row.subject: row.n for row in session.execute(select(changes))}


def write_touches(session: Session) -> None:
    """Write the counts of what was touched; the store calls it just before each commit."""
    touched = sorted(session.info.pop(_TOUCHED, ()))
    if touched:
        session.execute(_one_more(session, touched))


def _one_more(session: Session, subjects: list[str]) -> Insert:
    first = [{"subject": subject, "n": 1} for subject in subjects]
    again = {"n": changes.c.n + 1}
    # Adding inside the database: two writers that both read n would lose one of the changes.
    if session.get_bind().dialect.name == "sqlite":
        return (
            sqlite.insert(changes).values(first).on_conflict_do_update(index_elements=["subject"], set_=again)
        )
    return (
        postgresql.insert(changes).values(first).on_conflict_do_update(index_elements=["subject"], set_=again)
    )
