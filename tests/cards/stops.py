"""Invented stops that the tests of cards print."""

from __future__ import annotations

from typing import Any

from kiosk.site.content.stops import Stop


def stop(**changes: Any) -> Stop:
    """Return a still house whose phones stay at the door."""
    values: dict[str, Any] = {
        "slug": "still-house",
        "names": {"en": "Still house", "es": "Casa de alambiques"},
        "phones": "at the door",
        "protection": ("closed_shoes", "eyes"),
        "steps": 3,
        "seats": False,
        "noise": True,
        "smell": True,
        "standing_minutes": 12,
        "minutes": 15,
        "least_minutes": 8,
        "may_be_dropped": False,
        "holds": 12,
        "after": (),
        "pages": {},
        "figures": (),
    }
    return Stop(**{**values, **changes})
