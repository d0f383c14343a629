"""The service rules as lines of text, and the confirmed versions of them with their changes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from babel.dates import format_time
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    EACH_PRODUCT,
    Kind,
    Limit,
    ServiceHours,
    ServicePolicy,
    drinks_left,
)
from kiosk.site.policy_json import readable
from kiosk.site.products import product_name
from kiosk.site.settings import Site
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import policies
from kiosk.tasting.room.text import size
from kiosk.tasting.rules.policy import newest
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words

HOUSE_RULE = N_("house rule")
HOURS = "hours"


@dataclass(frozen=True, slots=True)
class RuleText:
    """One rule as text, with its legal or house basis and the year of that text."""

    id: str
    text: str
    basis: str
    year: int


def rule_lines(policy: ServicePolicy, site: Site, words: Words) -> list[RuleText]:
    """Return the rules of a policy as lines of text: the house's, then limits, then hours."""
    basis = _basis(policy.basis, words)
    rules = [RuleText(name, text, basis, policy.year) for name, text in _of_the_house(policy, site, words)]
    for limit in policy.limits:
        text = limit_line(limit, site, words)
        rules.append(RuleText(limit.id, text, _basis(limit.basis, words), limit.year))
    for hours in policy.hours:
        rules.append(RuleText(HOURS, _hours(hours, words), basis, policy.year))
    return rules


def _basis(basis: str, words: Words) -> str:
    """Return a rule's basis: a law by its own name, a house rule in the reader's language."""
    return words.gettext(HOUSE_RULE) if basis == HOUSE_RULE else basis


def _of_the_house(policy: ServicePolicy, site: Site, words: Words) -> Iterator[tuple[str, str]]:
    """Yield the id and the text of each rule that applies to every pour."""
    yield "guest_age", words.gettext("Guests are {age} or older.", age=policy.guest_age)
    if policy.rooms:
        rooms = ", ".join(site.room_name(room, words.language) for room in policy.rooms)
        yield "rooms", words.gettext("Spirits are poured here: {rooms}.", rooms=rooms)
    if not policy.mixers:
        yield "mixers", words.gettext("Spirits are poured neat, without mixers.")
    if policy.own_only:
        yield "own_only", words.gettext("Only what the house makes is poured.")
    if policy.server_age:
        yield "server_age", words.gettext("Servers must be {age} or older.", age=policy.server_age)
    if policy.server_permit:
        permit = policy.server_permit
        yield "server_permit", words.gettext("Servers must hold this permit: {permit}.", permit=permit)
    if policy.mat == "glass":
        yield "mat", words.gettext("A pre-poured glass is judged by the rules when a guest is seated at it.")


def _hours(hours: ServiceHours, words: Words) -> str:
    names = words.locale.days["format"]["abbreviated"]
    days = ", ".join(names[day] for day in sorted(hours.days))
    if len(hours.days) == len(names):
        days = words.gettext("every day")
    last = hours.last_pour or hours.until
    start, end = (format_time(at, "short", locale=words.locale) for at in (hours.from_, last))
    if last <= hours.from_:
        end = words.gettext("{time} of the next day", time=end)
    return words.gettext(
        "Pouring {days}: from {start}; last pour before {end}", days=days, start=start, end=end
    )


def limit_line(limit: Limit, site: Site, words: Words) -> str:
    """Return a limit, with its conditions, as a line of text."""
    match limit.kind:
        case Kind.LARGEST:
            text = words.gettext("One pour is at most {size}.", size=size(limit.most, site, words))
        case Kind.SIZES:
            sizes = ", ".join(size(int(one), site, words) for one in limit.sizes_ul)
            text = words.gettext("A pour is one of: {sizes}.", sizes=sizes)
        case Kind.GAP:
            text = words.gettext("Minutes between two pours: {n}.", n=limit.most // 60)
        case Kind.GLASSES:
            text = words.gettext("Most glasses before one guest at a time: {n}.", n=limit.most)
        case Kind.VISITS:
            text = words.gettext("Most visits of a day on which a guest is served: {n}.", n=limit.most)
        case _:
            text = f"{_most(limit, site, words)} {_per(limit, words)}."
    if limit.product != ANY_PRODUCT:
        text = f"{_of_what(limit, site, words)}: {text}"
    return " ".join([text, *_conditions(limit, words)])


def _of_what(limit: Limit, site: Site, words: Words) -> str:
    if limit.product == EACH_PRODUCT:
        return words.gettext("Each product by itself")
    return product_name(site, limit.product, words)


def _conditions(limit: Limit, words: Words) -> list[str]:
    lines = [words.gettext(CONDITIONS[limit.tour])] if limit.tour else []
    if limit.neat_only:
        lines.append(words.gettext("Neat pours only."))
    if limit.liquids_below:
        lines.append(words.gettext("Not for mixes of {n} liquids or more.", n=limit.liquids_below))
    if limit.tickets:
        lines.append(words.gettext("For these tickets: {tickets}.", tickets=", ".join(limit.tickets)))
    return lines


CONDITIONS = {"with": N_("Only with a tour."), "after": N_("Only after a tour.")}


def _most(limit: Limit, site: Site, words: Words) -> str:
    if limit.kind is Kind.POURS:
        return words.ngettext("{n} pour", "{n} pours", limit.most)
    if limit.kind is Kind.VOLUME:
        return words.gettext("{volume} of spirit", volume=size(limit.most, site, words))
    drinks = formats.number(drinks_left(limit.most, site.standard_drink), 1, words)
    return words.gettext("{drinks} standard drinks", drinks=drinks)


def _per(limit: Limit, words: Words) -> str:
    if limit.per == "day":
        return words.gettext("in a service day")
    if limit.per == "visit":
        return words.gettext("on a visit")
    return words.gettext("in any {minutes} minutes", minutes=limit.per)


@dataclass(frozen=True, slots=True)
class Change:
    """A rule before and after a change; None where it is new, or no longer there."""

    before: RuleText | None
    after: RuleText | None


@dataclass(frozen=True, slots=True)
class VersionText:
    """A version as it was confirmed; `changes` is None where one of the two cannot be read any more."""

    confirmed_at: datetime
    confirmed_by: str
    changes: list[Change] | None
    first: bool


def confirmed_versions(session: Session, site: Site, words: Words) -> list[VersionText]:
    """Return the confirmed versions of the rules with their changes, the newest first."""
    p = policies.c
    confirmed = select(p.at, p.body, staff.c.name).join(staff, staff.c.id == p.by)
    rows = session.execute(confirmed.order_by(p.at.desc(), p.key.desc())).all()
    read = [readable(row.body) for row in rows]
    later = [
        VersionText(row.at, row.name, _changes(before, after, site, words), first=False)
        for row, (after, before) in zip(rows, pairwise(read), strict=False)
    ]
    return [*later, *(VersionText(row.at, row.name, [], first=True) for row in rows[-1:])]


def unconfirmed_changes(session: Session, site: Site, words: Words) -> list[Change] | None:
    """Return the changes of the site's file since the version confirmed last; None without such a version."""
    body = session.scalar(newest(policies.c.body))
    return None if body is None else _changes(readable(body), site.policy, site, words)


def rule_changes(before: Sequence[RuleText], after: Sequence[RuleText]) -> list[Change]:
    """Return the rules that differ between two policies, in the order of the later, removed ones last."""
    old, new = _by_name(before), _by_name(after)
    differing = [Change(old.get(name), rule) for name, rule in new.items() if old.get(name) != rule]
    return differing + [Change(rule, None) for name, rule in old.items() if name not in new]


def _by_name(rules: Sequence[RuleText]) -> Mapping[str, RuleText]:
    """Return rules by their id; hours, which have none, by their text."""
    return {rule.text if rule.id == HOURS else rule.id: rule for rule in rules}


def _changes(
    before: ServicePolicy | None, after: ServicePolicy | None, site: Site, words: Words
) -> list[Change] | None:
    if before is None or after is None:
        return None
    return rule_changes(rule_lines(before, site, words), rule_lines(after, site, words))
