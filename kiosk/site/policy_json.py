"""Converts a service policy to plain JSON values, for the ledger of policies, and back."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from datetime import time
from fractions import Fraction
from typing import Any

from kiosk.figures.drinks import Kind, Limit, ServiceHours, ServicePolicy
from kiosk.figures.errors import FigureError
from kiosk.site.policy import WEEKDAYS

_PLAIN = ("guest_age", "basis", "year", "mixers", "own_only", "server_age", "server_permit", "mat")
"""The rules whose values are JSON values already."""


class UnreadablePolicy(ValueError):
    """Raised for a stored policy with rules that this release does not know."""


def policy_body(policy: ServicePolicy) -> tuple[dict[str, Any], str]:
    """Return a policy as plain JSON values, and the SHA-256 of its canonical text.

    Equal policies have equal digests; any change of a rule, its basis or its year changes it.
    """
    body = {
        **{name: getattr(policy, name) for name in _PLAIN},
        "rooms": list(policy.rooms),
        "limits": [_limit_body(limit) for limit in policy.limits],
        "hours": [_hours_body(hours) for hours in policy.hours],
    }
    canonical = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return body, hashlib.sha256(canonical.encode()).hexdigest()


def _hours_body(hours: ServiceHours) -> dict[str, Any]:
    return {
        "days": [WEEKDAYS[day] for day in sorted(hours.days)],
        "from": hours.from_.isoformat(),
        "until": hours.until.isoformat(),
        "last_pour": hours.last_pour.isoformat() if hours.last_pour else None,
    }


def _limit_body(limit: Limit) -> dict[str, Any]:
    """Amounts are in the unit of their kind (µL, ethanol of 1e-4 µL, a number, seconds), sizes fractions."""
    sizes = [str(size) for size in limit.sizes_ul]
    return {**asdict(limit), "kind": limit.kind.value, "sizes_ul": sizes, "tickets": list(limit.tickets)}


def policy_from_body(body: Mapping[str, Any]) -> ServicePolicy:
    """Return the policy of a body that `policy_body` made.

    Raises UnreadablePolicy for a body that does not come back the same.
    """
    try:
        policy = ServicePolicy(
            limits=tuple(_limit(one) for one in body["limits"]),
            hours=tuple(_hours(one) for one in body["hours"]),
            rooms=tuple(body["rooms"]),
            **{name: value for name, value in body.items() if name not in ("limits", "hours", "rooms")},
        )
    except (KeyError, TypeError, ValueError, AttributeError, FigureError) as error:
        raise UnreadablePolicy(str(error)) from error
    if not _contains(policy_body(policy)[0], body):
        raise UnreadablePolicy("the policy read differs from the one written")
    return policy


def readable(body: Mapping[str, Any]) -> ServicePolicy | None:
    """Return the policy of a body, or None for one that this release cannot read."""
    try:
        return policy_from_body(body)
    except UnreadablePolicy:
        return None


def _contains(read: object, written: object) -> bool:
    """Return whether `read` has all of `written`; a later release may add rules."""
    if isinstance(written, Mapping):
        known = read if isinstance(read, Mapping) else {}
        return all(name in known and _contains(known[name], value) for name, value in written.items())
    if isinstance(written, list) and isinstance(read, list):
        return len(read) == len(written) and all(map(_contains, read, written))
    return read == written


def _limit(body: Mapping[str, Any]) -> Limit:
    given = {**body, "kind": Kind(body["kind"]), "tickets": tuple(body.get("tickets", ()))}
    return Limit(**{**given, "sizes_ul": tuple(Fraction(size) for size in body.get("sizes_ul", ()))})


def _hours(body: Mapping[str, Any]) -> ServiceHours:
    last = body.get("last_pour")
    return ServiceHours(
        frozenset(WEEKDAYS.index(day) for day in body["days"]),
        time.fromisoformat(body["from"]),
        time.fromisoformat(body["until"]),
        time.fromisoformat(last) if last is not None else None,
    )
