"""A policy that was written down is read back word for word, or not at all."""

from __future__ import annotations

import json

import pytest

from kiosk.figures.drinks import STANDARD_DRINKS
from kiosk.site.policy_json import UnreadablePolicy, policy_body, policy_from_body
from tests.site.policies import policy_from
from tests.site.test_policy import STATUTES, service

US = STANDARD_DRINKS["US"]


@pytest.mark.parametrize("name", STATUTES)
def test_every_statute_is_read_back_from_the_ledger_as_it_was(name: str) -> None:
    policy = policy_from(STATUTES[name], US)
    body, digest = policy_body(policy)
    read = policy_from_body(json.loads(json.dumps(body)))
    assert read == policy
    assert policy_body(read)[1] == digest


def test_hours_and_the_rules_of_the_house_are_read_back() -> None:
    hours = [{"from": "09:00", "until": "01:30", "last_pour": "01:00", "days": ["fri", "sat"]}]
    asked = {"mixers": False, "own_only": True, "server_age": 21, "server_permit": "class 12"}
    policy = policy_from(service(hours=hours, rooms=["main"], **asked), US)
    assert policy_from_body(policy_body(policy)[0]) == policy


@pytest.mark.parametrize(
    "changed",
    [
        {"colour": "red"},
        {"limits": [{}]},
        {"hours": [{"days": ["lunedì"], "from": "09:00:00", "until": "10:00:00", "last_pour": None}]},
        {"guest_age": None, "rooms": None},
        {"rooms": "main"},
    ],
)
def test_what_this_release_does_not_know_is_not_guessed(changed: dict[str, object]) -> None:
    body = policy_body(policy_from(service(), US))[0]
    with pytest.raises(UnreadablePolicy):
        policy_from_body({**body, **changed})


def test_a_body_of_a_release_that_knew_fewer_kinds_of_rule_is_read() -> None:
    """What was not written then was not asked then."""
    body = policy_body(policy_from(service({"id": "day", "kind": "pours", "per": "day", "most": 6}), US))[0]
    del body["server_permit"], body["limits"][0]["liquids_below"]
    read = policy_from_body(body)
    assert (read.server_permit, read.limits[0].liquids_below) == ("", 0)
