"""Weights and sealed counts as they are typed at a closing: read, checked against the shift, recorded."""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import count

from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.site.settings import Site
from kiosk.store.ledgers import key_within
from kiosk.tasting.bottles import bottle_entries, stock
from kiosk.tasting.bottles.bottle_entries import BottleEnded, BottleEntryForm, UnknownBottle
from kiosk.tasting.bottles.stock import MOST_BOTTLES, Key, Line
from kiosk.tasting.errors import TastingError
from kiosk.tasting.shift_closing.balances import OpenBottle, ProductShift, SealedCount, Typed
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault

HEAVIEST_G = 50_000
NO_WEIGHT = N_("“{typed}” is not possible. Allowed: whole grams from {least} to {most}.")
NO_COUNT = N_("“{typed}” is not possible. Allowed: a whole number from {least} to {most}.")
TOO_HEAVY = N_(
    "{typed} g is more than bottle {code} weighed before. Allowed: {least} to {most} g. Wrong bottle, wrong "
    "tare or refilled? Weigh it again, or leave it empty here and record it at the bottle."
)
TOO_LIGHT = N_(
    "{typed} g is less than bottle {code} weighs empty. Allowed: at least {least} g. Wrong bottle or wrong "
    "tare? Weigh it again, or leave it empty here and record it at the bottle."
)
GONE = N_("{typed} g was typed for a bottle that is not open here now: it was closed in the meantime.")


class NoLongerFits(TastingError):
    """What was typed at a closing fitted when it was checked, and an entry came in between."""

    status = 409
    message = N_("Another entry came in between. Nothing was recorded: check what is marked, and sign again.")


def weight_field(bottle_id: int) -> str:
    """Return the name of the field for a bottle's weight."""
    return f"weigh-{bottle_id}"


def count_field(key: Key) -> str:
    """Return the name of the field for a count of sealed bottles."""
    return f"count-{key[0]}-{key[1]}"


@dataclass(frozen=True, slots=True)
class Sent:
    """The fields for weights and counts as they were sent, and what cannot be read of them, by field."""

    typed: Typed
    as_typed: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, Fault] = field(default_factory=dict)


def read_sent(fields: Mapping[str, str], at: datetime, temperature_c: float) -> Sent:
    """Return the weights and counts among the fields of a form; an empty field is not typed."""
    weights: dict[int, int] = {}
    counts: dict[Key, int] = {}
    as_typed: dict[str, str] = {}
    faults: dict[str, Fault] = {}
    for name, value in fields.items():
        sent = value.strip()[:20]
        match = re.fullmatch(r"weigh-([0-9]{1,9})|count-([0-9]{1,9})-([0-9]{1,6})", name, re.ASCII)
        if not match or not sent:
            continue
        as_typed[name] = sent
        number = int(sent) if re.fullmatch(r"[0-9]{1,9}", sent, re.ASCII) else -1
        if match[1]:
            if not 0 < number <= HEAVIEST_G:
                faults[name] = NO_WEIGHT, {"typed": sent, "least": 1, "most": HEAVIEST_G}
            else:
                weights[int(match[1])] = number
        elif not 0 <= number <= MOST_BOTTLES:
            faults[name] = NO_COUNT, {"typed": sent, "least": 0, "most": MOST_BOTTLES}
        else:
            counts[int(match[2]), int(match[3])] = number
    return Sent(Typed(at, temperature_c, weights, counts), as_typed, faults)


def faults_of(sent: Sent, products: Iterable[ProductShift]) -> dict[str, Fault]:
    """Return what is wrong with what was sent for a shift whose `products` count it, by field."""
    bottles = {bottle.id: bottle for product in products for bottle in product.bottles}
    found = dict(sent.faults)
    for bottle_id, grams in sent.typed.weights.items():
        fault = _weight_fault(bottles.get(bottle_id), grams)
        if fault:
            found[weight_field(bottle_id)] = fault
    return found


def _weight_fault(bottle: OpenBottle | None, grams: int) -> Fault | None:
    if bottle is None:
        return GONE, {"typed": grams}
    if bottle.finding is None:
        return None
    facts = {"typed": grams, "code": bottle.code, "least": math.ceil(bottle.least_g)}
    if bottle.most_g is not None and grams > bottle.most_g:
        return TOO_HEAVY, {**facts, "most": math.floor(bottle.most_g)}
    return TOO_LIGHT, facts


@dataclass(frozen=True, slots=True)
class Missing:
    """What a shift lacks: open bottles that could be weighed, and sealed bottles to count, by product."""

    bottles: tuple[tuple[str, OpenBottle], ...]
    counts: tuple[tuple[str, SealedCount], ...]

    def __bool__(self) -> bool:
        return bool(self.bottles or self.counts)


def missing_of(products: Iterable[ProductShift]) -> Missing:
    """Return the open bottles of a shift that are not weighed, and the sealed ones that are not counted."""
    products = list(products)
    return Missing(
        tuple((p.product, b) for p in products for b in p.bottles if b.weighable and b.weighed_at is None),
        tuple((p.product, s) for p in products for s in p.sealed if s.counted is None),
    )


def record_typed(
    session: Session, site: Site, origin: EntryOrigin, room: str, typed: Typed, now: datetime
) -> None:
    """Record the weights and counts that were typed at a room's closing, each under a key of the act's.

    Raises NoLongerFits for a weight that became impossible, and for a bottle that ended in the meantime.
    """
    mc = round(typed.temperature_c * 1000)
    keys = (key_within(origin.key, n) for n in count())
    for key, sealed in sorted(typed.counts.items()):
        line = Line(key[0], room, "counted", sealed, key[1])
        stock.record(session, site, replace(origin, key=next(keys)), line, now)
    for bottle_id, grams in sorted(typed.weights.items()):
        form = BottleEntryForm("weigh", grams, mc)
        try:
            outcome = bottle_entries.record_entry(
                session, site, replace(origin, key=next(keys)), bottle_id, form, now
            )
        except (BottleEnded, UnknownBottle):
            raise NoLongerFits() from None
        if outcome != "recorded":
            raise NoLongerFits()
