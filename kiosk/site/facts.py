"""Sourced constants that pages may name: `{fact:us_standard_drink}`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from kiosk.site import values
from kiosk.site.reader import Setting, Where, read_table
from kiosk.words.catalogs import N_

STATUSES = ("read", "quoted", "computed", "common practice", "from memory", "house")


@dataclass(frozen=True, slots=True)
class Fact:
    """A constant with its source.

    `unit` and `per` are symbols ("fl oz", "kg/m³") or "" for none. `year` is the
    year of the text, None where the source gives none. `status` says how the
    source was known: read, quoted, computed from one, common practice, house.
    """

    value: float | int
    unit: str
    per: str
    source: str
    year: int | None
    status: str

    @property
    def digits(self) -> int:
        """The decimals that the value is written with."""
        exponent = Decimal(str(self.value)).normalize().as_tuple().exponent
        return max(0, -exponent) if isinstance(exponent, int) else 0


FACT = (
    Setting("value", values.number(-1e12, 1e12), N_("a number"), "The value."),
    Setting(
        "unit", lambda v: v if v == "" else values.text(v), N_("a unit's symbol"), "Its unit.", default=""
    ),
    Setting(
        "per", lambda v: v if v == "" else values.text(v), N_("a unit's symbol"), "Per what.", default=""
    ),
    Setting("source", values.text, N_("where the value was read"), "Where the value was read."),
    Setting("year", values.whole(1500, 2200), N_("a year"), "The year of the text.", default=None),
    Setting(
        "status",
        values.one_of(*STATUSES),
        N_("one of {choices}"),
        "How the source is known.",
        facts={"choices": ", ".join(STATUSES)},
    ),
)


def read_facts(table: Mapping[str, Any], where: Where) -> dict[str, Fact]:
    """Read a file of facts: one table for each name."""
    facts: dict[str, Fact] = {}
    for name, entry in table.items():
        read = read_table(entry, FACT, where.at(name))
        if read is not None:
            value = entry["value"]  # as written: a whole number stays one
            facts[name] = Fact(**{**read, "value": value})
    return facts
