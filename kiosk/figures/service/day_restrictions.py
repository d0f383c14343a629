"""A manager's word for one service day: the rules tightened, never loosened."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from kiosk.figures.service.policy import Kind, Limit, Room, ServicePolicy

LAST_POUR = "last pour"
GAP = "longer gap"
NO_ALCOHOL = "no alcohol"
"""What a word may speak of beside the id of a limit. No limit is called so: ids hold no blanks."""

LOWERED = frozenset({Kind.LARGEST, Kind.POURS, Kind.VOLUME, Kind.DRINKS, Kind.GLASSES, Kind.VISITS})
"""Kinds of limit whose most a word may lower."""


@dataclass(frozen=True, slots=True)
class DayRestriction:
    """A manager's word, from `at` on until its service day ends.

    `rule` is the id of a limit, then `most` is its new most in the limit's own unit;
    LAST_POUR: before so many seconds of the service day; GAP: at least so many seconds
    between two pours; NO_ALCOHOL: nothing with alcohol, and `most` says nothing.
    """

    rule: str
    most: int
    at: datetime


def tighten(policy: ServicePolicy, words: Iterable[DayRestriction]) -> ServicePolicy:
    """Return a `policy` with the `words` of a day put on it.

    Of a rule and a word on it the stricter holds, so that whatever is refused under
    the policy is refused still; a word on a limit that the policy has no more, or of a
    most of 0 or less, says nothing. Without words it is the same policy.
    """
    for word in words:
        policy = _put_on(policy, word)
    return policy


def _put_on(policy: ServicePolicy, word: DayRestriction) -> ServicePolicy:
    if word.rule == NO_ALCOHOL:
        return replace(policy, dry=True)
    if word.most <= 0:
        return policy
    if word.rule == LAST_POUR:
        before = policy.last_pour_s
        return replace(policy, last_pour_s=word.most if before is None else min(before, word.most))
    if word.rule == GAP:  # of several gaps the longest counts
        return replace(policy, limits=(*policy.limits, Limit(GAP, Kind.GAP, most=word.most)))
    return replace(policy, limits=tuple(_lowered(limit, word) for limit in policy.limits))


def _lowered(limit: Limit, word: DayRestriction) -> Limit:
    lower = limit.id == word.rule and limit.kind in LOWERED and word.most < limit.most
    return replace(limit, most=word.most) if lower else limit


def is_stricter(policy: ServicePolicy, word: DayRestriction, at: Room) -> bool:
    """Say whether a `word` would tighten a `policy`, which earlier words may have tightened.

    `at` is the room in the service day that it is for. Who wants nothing poured at all
    says NO_ALCOHOL.
    """
    if word.rule == NO_ALCOHOL:
        return not policy.dry
    if word.rule == LAST_POUR:
        return 0 < word.most < last_pour_s(policy, at)
    if word.rule == GAP:
        return word.most > max((x.most for x in policy.limits if x.kind is Kind.GAP), default=0)
    return word.most > 0 and any(_lowered(limit, word) is not limit for limit in policy.limits)


def last_pour_s(policy: ServicePolicy, at: Room) -> int:
    """Return before which second of the service day of `at` the last pour under a `policy` is."""
    begun = at.day_from.astimezone(UTC)
    days = [at.day_from.date() + timedelta(days=shift) for shift in (-1, 0, 1)]
    windows = [w for hours in policy.hours for day in days if (w := hours.window(day, at.zone))]
    ends = [end for start, end in windows if start < at.day_until and end > at.day_from]
    latest = max(ends, default=at.day_from) if policy.hours else at.day_until
    closes = round((min(latest, at.day_until).astimezone(UTC) - begun).total_seconds())
    return closes if policy.last_pour_s is None else min(closes, policy.last_pour_s)
