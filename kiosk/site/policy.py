"""The service policy of a site: read from `[service]`, and written down for the ledger of policies."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Any, cast

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    Kind,
    Limit,
    ServiceHours,
    ServicePolicy,
    StandardDrink,
    parse_drinks,
    parse_volume,
    parse_volume_ul,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.service import Per
from kiosk.site import values
from kiosk.site.faults import Fault
from kiosk.site.reader import Refused, Setting, Where, read_table
from kiosk.words.marker import N_

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
OLDEST_GUEST_AGE = 30
YOUNGEST_GUEST_AGE = 18  # spirits for the younger are no site's business

_ONE_OF = N_("one of {choices}")
_PER = N_('"pour", "visit", "day", or a number of minutes')
_MOST = {
    Kind.LARGEST: N_('a volume such as "0.5 fl oz" or "15 mL"'),
    Kind.VOLUME: N_('a volume such as "1.5 fl oz" or "45 mL"'),
    Kind.DRINKS: N_('standard drinks such as "1.5 drinks"'),
    Kind.POURS: N_("a whole number of pours, at least 1"),
    Kind.GAP: N_("a whole number of minutes, at least 1"),
}
_ID = values.matching(r"[a-z][a-z0-9_]*")


class PolicyFault(ValueError):
    """A rule of service cannot be read: which key, what was found, what is allowed."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.sentence())
        self.key, self.found, self.allowed = fault.key, fault.found, fault.allowed
        self.fault = fault


def _per(value: Any) -> str | int:
    if value in ("pour", "visit", "day") and isinstance(value, str):
        return value
    return values.whole(1, 100_000)(value)


def _choice(name: str, choices: tuple[str, ...], doc: str, **given: Any) -> Setting:
    facts = {"choices": ", ".join(f'"{choice}"' for choice in choices)}
    return Setting(name, values.one_of(*choices), _ONE_OF, doc, facts=facts, **given)


_FLAG = N_("true or false")
_BASIS = Setting(
    "basis", values.text, N_('the law that says so, or "house rule"'), "Where the rule comes from."
)
_YEAR = Setting("year", values.whole(1800, 2200), N_("the year of that text"), "The year of the text.")

LIMIT = (
    Setting("id", _ID, N_("a name in lower case letters, digits and _"), "What refusals call it."),
    _choice("kind", tuple(kind.value for kind in Kind), "What is limited."),
    Setting("per", _per, _PER, "Over what it is counted.", default=None),
    Setting("most", values.anything, N_("how much, by kind"), "The most of it.", default=None),
    Setting("sizes", values.list_of(values.text), N_("a list of volumes"), "The sizes allowed.", default=()),
    Setting("multiples", values.flag, _FLAG, "May a glass hold a size several times?", default=False),
    Setting("product", values.text, N_('the id of a product, or "*"'), "Of what.", default=ANY_PRODUCT),
    Setting("neat_only", values.flag, _FLAG, "Does it bind neat pours only?", default=False),
    _choice("tour", ("", "with", "after"), "Only on a tour, or only after one?", default=""),
    _BASIS,
    _YEAR,
)
HOURS = (
    Setting(
        "days",
        values.list_of(values.text, WEEKDAYS),
        N_("a list of {choices}"),
        "On which weekdays.",
        default=WEEKDAYS,
        facts={"choices": ", ".join(WEEKDAYS)},
    ),
    Setting("from", values.clock_time, N_("a time of day such as 09:00:00"), "From when is poured."),
    Setting("until", values.clock_time, N_("a time of day such as 18:00:00"), "The last pour is before."),
)
SERVICE = (
    Setting(
        "guest_age",
        values.whole(YOUNGEST_GUEST_AGE, OLDEST_GUEST_AGE),
        N_("a whole number from {low} to {high}"),
        "From which age a guest may be served.",
        facts={"low": YOUNGEST_GUEST_AGE, "high": OLDEST_GUEST_AGE},
    ),
    _BASIS,
    _YEAR,
    Setting("rooms", values.list_of(values.text), N_("a list of rooms"), "Where is poured.", default=()),
    Setting(
        "limit", values.anything, N_("a list of limits"), "The limits.", default=[], table=LIMIT, many=True
    ),
    Setting(
        "hours", values.anything, N_("a list of hours"), "The hours.", default=[], table=HOURS, many=True
    ),
)


def policy_from(table: Mapping[str, Any], standard_drink: StandardDrink) -> ServicePolicy:
    """Build the policy of a `[service]` table; raises PolicyFault for the first thing wrong."""
    faults: list[Fault] = []
    policy = read_policy(table, standard_drink, Where("site.toml", "", faults))
    if policy is None:
        raise PolicyFault(faults[0])
    return policy


def read_policy(table: Any, standard_drink: StandardDrink, where: Where) -> ServicePolicy | None:
    """Build the policy of a `[service]` table, noting every fault; None when there is one."""
    read = read_table(table, SERVICE, where)
    if read is None:
        return None
    before = len(where.faults)
    limits = [
        _limit(entry, standard_drink, where.at("limit", place)) for place, entry in enumerate(read["limit"])
    ]
    for place, entry in enumerate(read["limit"]):
        if entry["id"] in [earlier["id"] for earlier in read["limit"][:place]]:
            where.at("limit", place, "id").note(entry["id"], N_("an id that no other limit has"))
    if len(where.faults) > before:
        return None
    return ServicePolicy(
        guest_age=read["guest_age"],
        basis=read["basis"],
        year=read["year"],
        limits=tuple(limit for limit in limits if limit is not None),
        hours=tuple(_hours(entry) for entry in read["hours"]),
        rooms=read["rooms"],
    )


def _limit(entry: Mapping[str, Any], standard_drink: StandardDrink, where: Where) -> Limit | None:
    kind = Kind(entry["kind"])
    given = {
        name: entry[name] for name in ("id", "multiples", "product", "neat_only", "tour", "basis", "year")
    }
    per = entry["per"] or (
        "pour" if kind in (Kind.LARGEST, Kind.SIZES) else "day" if kind is Kind.GAP else ""
    )
    if not per:
        where.at("per").missing(_PER)
        return None
    most = 0 if kind is Kind.SIZES else _most(kind, entry["most"], standard_drink, where.at("most"))
    sizes = tuple(parse_volume(size) for size in entry["sizes"] if _is_volume(size, where.at("sizes")))
    if most is None:
        return None
    try:
        return Limit(kind=kind, per=cast(Per, per), most=most, sizes_ul=sizes, **given)
    except FigureError as error:
        where.at(error.field.rpartition(".")[2]).note(error.value, _TOGETHER[error.field.rpartition(".")[2]])
        return None


_TOGETHER = {
    "per": N_('"pour" for the kinds largest and sizes, else "visit", "day" or a number of minutes'),
    "sizes": N_("at least one size"),
    "most": N_("more than zero"),
    "product": N_("every product: a gap is between any two pours"),
}


def _most(kind: Kind, value: Any, standard_drink: StandardDrink, where: Where) -> int | None:
    read: Mapping[Kind, Callable[[Any], int]] = {
        Kind.LARGEST: lambda v: parse_volume_ul(values.text(v), round_up=True),
        Kind.VOLUME: lambda v: parse_volume_ul(values.text(v), round_up=True),
        Kind.DRINKS: lambda v: parse_drinks(values.text(v), standard_drink),
        Kind.POURS: values.whole(1, 1000),
        Kind.GAP: lambda v: values.whole(1, 1440)(v) * 60,
    }
    if value is None:
        where.missing(_MOST[kind])
        return None
    try:
        return read[kind](value)
    except (Refused, FigureError):
        where.note(value, _MOST[kind])
        return None


def _is_volume(size: str, where: Where) -> bool:
    try:
        parse_volume(size)
    except FigureError:
        where.note(size, _MOST[Kind.LARGEST])
        return False
    return True


def _hours(entry: Mapping[str, Any]) -> ServiceHours:
    days = frozenset(WEEKDAYS.index(day) for day in entry["days"])
    return ServiceHours(days, entry["from"], entry["until"])


def policy_body(policy: ServicePolicy) -> tuple[dict[str, Any], str]:
    """Return a policy as plain JSON values, and the SHA-256 of its canonical text.

    Equal policies have equal digests; any change of a rule, its basis or its year changes it.
    """
    body = {
        "guest_age": policy.guest_age,
        "basis": policy.basis,
        "year": policy.year,
        "rooms": list(policy.rooms),
        "limits": [_limit_body(limit) for limit in policy.limits],
        "hours": [
            {
                "days": [WEEKDAYS[day] for day in sorted(hours.days)],
                "from": hours.from_.isoformat(),
                "until": hours.until.isoformat(),
            }
            for hours in policy.hours
        ],
    }
    canonical = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return body, hashlib.sha256(canonical.encode()).hexdigest()


def _limit_body(limit: Limit) -> dict[str, Any]:
    """Amounts are in the unit of their kind: µL, ethanol of 1e-4 µL, pours or seconds; sizes as fractions."""
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
        "basis": limit.basis,
        "year": limit.year,
    }
