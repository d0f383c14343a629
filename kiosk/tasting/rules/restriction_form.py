"""The form of a restriction: its choices, reading what was typed, and a restriction as a line of text."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from babel.dates import format_time

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    GAP,
    LAST_POUR,
    LOWERED,
    NO_ALCOHOL,
    DayRestriction,
    Kind,
    Limit,
    parse_drinks,
    parse_volume_ul,
)
from kiosk.figures.errors import FigureError
from kiosk.site.settings import Site
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules.policy import GivenRestriction
from kiosk.tasting.rules.text import limit_line
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import NumberFault, parse_number


class NoAmount(TastingError):
    """The amount or the time of a restriction cannot be read."""

    message = N_("Enter how much, in the unit named with the rule; for the last pour a time such as 16:30.")


def choices(site: Site, words: Words) -> list[tuple[str, str]]:
    """Return the rules that a restriction may tighten, as codes with their labels."""
    return [
        (NO_ALCOHOL, words.gettext("No alcohol today")),
        (LAST_POUR, words.gettext("Earlier last pour (time)")),
        (GAP, words.gettext("Longer gap between pours (minutes)")),
        *((one.id, _label(one, site, words)) for one in site.policy.limits if one.kind in LOWERED),
    ]


def parse_restriction(rule: str, amount: str, site: Site, words: Words, at: datetime) -> DayRestriction:
    """Return the restriction that was typed, from its instant. Raises NoAmount for an unreadable amount."""
    if rule == NO_ALCOHOL:
        return DayRestriction(rule, 0, at)
    try:
        return DayRestriction(rule, _most(rule, amount.strip(), site, words, at), at)
    except (NumberFault, FigureError, ValueError) as error:
        raise NoAmount() from error


def restriction_line(given: GivenRestriction, site: Site, words: Words) -> str:
    """Return a restriction on record as a line of text."""
    rule, most = given.restriction.rule, given.restriction.most
    if rule == NO_ALCOHOL:
        return words.gettext("No alcohol today.")
    if rule == LAST_POUR:
        begun = site.day_bounds(site.service_day(given.restriction.at))[0].astimezone(UTC)
        at = site.local(begun + timedelta(seconds=most))
        return words.gettext("Last pour: before {time}", time=format_time(at, "short", locale=words.locale))
    if rule == GAP:
        return words.gettext("Minutes between two pours: {n}.", n=most // 60)
    limit = next((limit for limit in site.policy.limits if limit.id == rule), None)
    return limit_line(replace(limit, most=most), site, words) if limit else rule


def _label(limit: Limit, site: Site, words: Words) -> str:
    """Return what a restriction does to a limit, with a gap for the amount and its unit, and the limit."""
    rule = limit_line(limit, site, words)
    if limit.kind is Kind.VOLUME and limit.per == "day" and limit.product == ANY_PRODUCT:
        return words.gettext(
            "Lower daily spirit limit to __ {unit} (now: {rule})", unit=site.volume_unit, rule=rule
        )
    if limit.kind in (Kind.LARGEST, Kind.VOLUME):
        return words.gettext("Lower this limit to __ {unit}: {rule}", unit=site.volume_unit, rule=rule)
    if limit.kind is Kind.DRINKS:
        return words.gettext("Lower this limit to __ standard drinks: {rule}", rule=rule)
    return words.gettext("Lower this limit to __: {rule}", rule=rule)


def _most(rule: str, amount: str, site: Site, words: Words, at: datetime) -> int:
    if rule == LAST_POUR:
        return _seconds_of_day(time.fromisoformat(amount), site, at)
    number = parse_number(amount, words)
    if rule == GAP:
        seconds = int(number * 60)
        if seconds > 86_400:
            raise ValueError(seconds)
        return seconds
    kind = next((limit.kind for limit in site.policy.limits if limit.id == rule), None)
    if kind in (Kind.LARGEST, Kind.VOLUME):
        return parse_volume_ul(f"{number} {site.volume_unit}", round_up=True)
    if kind is Kind.DRINKS:
        return parse_drinks(f"{number} drinks", site.standard_drink)
    return int(number)


def _seconds_of_day(clock: time, site: Site, at: datetime) -> int:
    """Return how many seconds after the start of the service day of `at` the clock shows a time."""
    if clock.tzinfo is not None:
        raise ValueError(clock)
    day = site.service_day(at)
    begun = site.day_bounds(day)[0].astimezone(UTC)
    on_clock = datetime.combine(
        day if clock >= site.day_starts else day + timedelta(days=1), clock, site.zone
    )
    return round((on_clock.astimezone(UTC) - begun).total_seconds())
