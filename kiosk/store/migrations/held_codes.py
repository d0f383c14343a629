"""Codes for the sentences that held records kept as their reasons, for the migration that replaces them."""

from collections.abc import Mapping, Sequence
from typing import Any

_PLACE = "{file}, row {row}, {column}: "
CODES: Mapping[str, str] = {
    "{found} are drawn out of {batch}, which held {held}. Check both measurements.": "over",
    "{found} are drawn out of {batch}, which by its own readings held {held}. "
    "Check both measurements.": "over_estimate",
    "the bottles hold {found} of pure alcohol, but {held} were drawn into the lot. "
    "Check bottles, strength and draws.": "more_bottles",
    "{found} are more than the cask holds, {held}. Check the gauge.": "overfull",
    "{found} L are more than the cask holds, {most} L. Check the volume and the cask.": "overfull",
    "The cask would have gained {found} L of pure alcohol since its gauge before or until the one after; "
    "two honest gauges differ by {most} L at most. Check cask, volume and strength.": "gain",
    "The run would have given {found} L of pure alcohol out of a charge that held {most} L. "
    "Check volume, strength and charge.": "more_than_wash",
    "{found} does not fit the readings before and after it. Check the volume collected.": "not_rising",
    "{found} is held back itself. Settle that one first; this one follows it.": "held_with_another",
    "{found} % vol is more than pure alcohol. Check the reading and its scale.": "above_pure",
    "{found} lies in the future. Check the date and the time.": "in_future",
}
"""Codes by the sentence that was kept, without its place in a file."""


def renamed(reasons: Sequence[Mapping[str, Any]], names: Mapping[str, str]) -> list[dict[str, Any]]:
    """Return reasons with the codes that `names` has for their sentences, or the other way round."""
    return [_renamed(one, names) for one in reasons]


def _renamed(reason: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    given = reason["code"] if "code" in reason else reason["message"].removeprefix(_PLACE)
    if given not in names:
        return dict(reason)
    facts = dict(reason["facts"])
    if names[given] == "overfull" and "held" not in facts:
        facts |= {"found": f"{facts['found']} L", "held": f"{facts['most']} L"}
    return {"message" if "code" in reason else "code": names[given], "facts": facts}
