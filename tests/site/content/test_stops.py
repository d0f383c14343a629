from __future__ import annotations

from typing import Any

import pytest

from kiosk.site.content.stops import merge_stop
from kiosk.site.faults import Fault
from kiosk.site.toml_reader import Where

WHOLE: dict[str, Any] = {
    "names": {"en": "A stop", "es": "Una parada"},
    "phones": "yes",
    "steps": 0,
    "seats": True,
    "noise": False,
    "minutes": 10,
    "least_minutes": 5,
    "may_be_dropped": True,
    "holds": 20,
}


def merged(slug: str, *tables: dict[str, Any]) -> tuple[dict[str, Any] | None, list[str]]:
    faults: list[Fault] = []
    places = [(table, Where(f"{n}/stop.toml", "", faults)) for n, table in enumerate(tables)]
    stop = merge_stop(slug, places, ("en", "es"))
    return stop, [fault.sentence() for fault in faults]


def without(*names: str) -> dict[str, Any]:
    return {key: value for key, value in WHOLE.items() if key not in names}


@pytest.mark.parametrize(
    "slug", ["still-house", "cask-store", "blending-room", "bottling-hall", "old-cask-store"]
)
def test_where_vapour_gathers_phones_stay_at_the_door_until_the_site_says_otherwise(slug: str) -> None:
    stop, faults = merged(slug, without("phones"))
    assert not faults
    assert stop is not None
    assert stop["phones"] == "at the door"
    allowed, _ = merged(slug, without("phones"), {"phones": "yes"})
    assert allowed is not None
    assert allowed["phones"] == "yes"


def test_elsewhere_a_stop_says_itself_whether_phones_may_be_used() -> None:
    stop, faults = merged("distillery-garden", without("phones"))
    assert stop is None
    assert faults == ["0/stop.toml: phones is missing. Needed: one of yes, at the door."]


def test_later_files_change_only_what_they_give() -> None:
    stop, faults = merged("garden", WHOLE, {"holds": 8, "names": {"es": "El huerto"}})
    assert not faults
    assert stop is not None
    assert (stop["holds"], stop["minutes"]) == (8, 10)
    assert stop["names"] == {"en": "A stop", "es": "El huerto"}


@pytest.mark.parametrize(
    ("own", "told"),
    [
        ({"phones": "no"}, '1/stop.toml: phones: found "no". Allowed: one of yes, at the door.'),
        ({"steps": True}, "1/stop.toml: steps: found true. Allowed: a whole number from 0 to 500."),
        (
            {"protection": ["gloves"]},
            '1/stop.toml: protection: found ["gloves"]. Allowed: a list of closed_shoes',
        ),
        (
            {"least_minutes": 11},
            "1/stop.toml: least_minutes: found 11. Allowed: a whole number from 0 to 10.",
        ),
        ({"seat": True}, "1/stop.toml: seat: found true. Allowed: only these keys: names, phones,"),
        ({"after": "mill"}, '1/stop.toml: after: found "mill". Allowed: a list of stops.'),
        ({"names": {"en": ""}}, "1/stop.toml: names: found {en}. Allowed: a name for each"),
    ],
)
def test_a_wrong_key_is_told_in_the_file_that_holds_it(own: dict[str, Any], told: str) -> None:
    stop, faults = merged("garden", WHOLE, own)
    assert stop is None
    assert told in faults[0]


def test_a_name_is_needed_in_every_language_of_the_site() -> None:
    stop, faults = merged("garden", {**WHOLE, "names": {"en": "Garden"}})
    assert stop is None
    assert "names.es is missing" in faults[0]
