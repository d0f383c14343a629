"""A service policy as plain JSON values, for the ledger of policies, and back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import time
from fractions import Fraction
from typing import Any

from kiosk.figures.drinks import Kind, Limit, ServiceHours, ServicePolicy
from kiosk.figures.errors import FigureError
from kiosk.site.policy import WEEKDAYS


class UnreadablePolicy(ValueError):
    """A stored policy says something that this release does not know."""


def policy_body(policy: ServicePolicy) -> tuple[dict[str, Any], str]:
    """Return a policy as plain JSON values, and the SHA-256 of its canonical text.

    Equal policies have equal digests; any change of a rule, its basis or its year changes it.
    """
    body = {
        "guest_age": policy.guest_age,
        "basis": policy.basis,
        "year": policy.year,
        "rooms": list(policy.rooms),
        "mixers": policy.mixers,
        "own_only": policy.own_only,
        "server_age": policy.server_age,
        "server_permit": policy.server_permit,
        "mat": policy.mat,
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
    return {
        "id": limit.id,
        "kind": limit.kind.value,
        "per": limit.per,
        "most": limit.most,
        "sizes_ul": [str(size) for size in limit.sizes_ul],
        "multiples": limit.multiples,
        "product": limit.product,
        "neat_only": limit.neat_only,
        "tour": limit.tour,
        "tickets": list(limit.tickets),
        "liquids_below": limit.liquids_below,
        "basis": limit.basis,
        "year": limit.year,
    }


def policy_from_body(body: Mapping[str, Any]) -> ServicePolicy:
    """Return the policy that `policy_body` wrote down.

    Raises UnreadablePolicy where the policy read would not say word for word the same.
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
    if not _says(policy_body(policy)[0], body):
        raise UnreadablePolicy("read otherwise than it was written")
    return policy


def readable(body: Mapping[str, Any]) -> ServicePolicy | None:
    """Return the policy of a body, or None for one that this release cannot read."""
    try:
        return policy_from_body(body)
    except UnreadablePolicy:
        return None


def _says(read: object, written: object) -> bool:
    """Say whether all that was written stands in what was read; a later release may say more."""
    if isinstance(written, Mapping):
        known = read if isinstance(read, Mapping) else {}
        return all(name in known and _says(known[name], value) for name, value in written.items())
    if isinstance(written, list) and isinstance(read, list):
        return len(read) == len(written) and all(map(_says, read, written))
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
