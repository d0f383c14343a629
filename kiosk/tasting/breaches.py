"""How often each rule was broken in a shift, as the closing tells it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.tasting.balancing import Shift
from kiosk.tasting.judging import judge


@dataclass(frozen=True, slots=True)
class Judged:
    """How often each reason stood against a serving, and how many nobody can judge."""

    reasons: Mapping[str, int] = field(default_factory=dict)
    servings: int = 0  # with at least one reason
    unreadable: int = 0  # under rules that this release cannot read


def breaches(session: Session, site: Site, of: Shift) -> Judged:
    """Judge every serving of a room's shift."""
    found = [one.reasons for one in judge(session, site, of.since, of.until, of.room)]
    reasons = Counter(reason for one in found for reason in one or ())
    return Judged(dict(reasons), sum(map(bool, found)), found.count(None))
