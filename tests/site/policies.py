"""Policies of single `[service]` tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kiosk.figures.drinks import ServicePolicy, StandardDrink
from kiosk.site.faults import Fault, SiteFaults
from kiosk.site.policy import read_policy
from kiosk.site.toml_reader import Where


def policy_from(table: Mapping[str, Any], standard_drink: StandardDrink) -> ServicePolicy:
    """Return the policy of a table; raises SiteFaults."""
    faults: list[Fault] = []
    policy = read_policy(table, standard_drink, Where("site.toml", "", faults))
    if policy is None:
        raise SiteFaults(faults)
    return policy
