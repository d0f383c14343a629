"""The part of an inspection's report about what was served, refused, checked and ended."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from kiosk.tasting.inspection import inspecting as counts
from kiosk.tasting.inspection.inspecting import Tally
from kiosk.tasting.inspection.rules_text import Column, Saying, Section
from kiosk.tasting.rules.judging import Verdict
from kiosk.words.catalogs import N_

CORRECTED: Mapping[str, str] = {
    "reassign": N_("went to guest {number}"),
    "unfinished": N_("left or spat out"),
    "seated": N_("set out before"),
}
MARKED: Mapping[str, str] = {
    "id_check": N_("document seen"),
    "under_age": N_("under age"),
    "service_stopped": N_("service ended"),
    "service_resumed": N_("service taken up again"),
}


def by_day(say: Saying) -> Section:
    """Count by service day."""
    _, told = say.words.gettext, say.told
    refused = Counter(say.site.service_day(row.at) for row in told.refusals)
    found = counts.by_day(told, say.site)
    rows = []
    for day in sorted({*found, *refused}):
        tally = found.get(day, Tally())
        against = (str(tally.against), str(refused[day]))
        rows.append((say.day(day), str(len(tally.guests)), *say.amounts(tally), *against))
    columns = (Column(_("Day"), 0.22), Column(_("Guests served"), 0.13, True), *say.measured(0.13))
    more = (Column(_("Against a rule"), 0.13, True), Column(_("Refused"), 0.13, True))
    return Section(_("By day"), (*columns, *more), rows)


def by_product(say: Saying) -> Section:
    """Count by what was in the glass."""
    _ = say.words.gettext
    return _simple(say, _("By product"), _("Product"), counts.by_product(say.told), say.product)


def by_hour(say: Saying) -> Section:
    """Count by hour of the site's clock."""
    _ = say.words.gettext
    found = counts.by_hour(say.told, say.site)
    return _simple(say, _("By hour, all days together"), _("Hour"), found, "{:02d}:00".format)


def _simple(
    say: Saying, title: str, head: str, found: Mapping[Any, Tally], named: Callable[[Any], str]
) -> Section:
    rows = [(named(key), *say.amounts(tally)) for key, tally in found.items()]
    return Section(title, (Column(head, 0.4), *say.measured(0.2)), rows)


def by_guest(say: Saying) -> Section:
    """Count by guest number, which is of one service day."""
    _ = say.words.gettext
    rows = [
        (say.day(day), say.guest(guest), *say.amounts(tally), _between(say, tally))
        for (day, guest), tally in counts.by_guest(say.told, say.site).items()
    ]
    columns = (Column(_("Day"), 0.22), Column(_("Guest"), 0.1, True), *say.measured(0.14))
    return Section(_("By guest number"), (*columns, Column(_("First to last"), 0.26, True)), rows)


def _between(say: Saying, tally: Tally) -> str:
    ends = [say.time(at) for at in (tally.first, tally.last) if at]
    return " – ".join(dict.fromkeys(ends))


def checks(say: Saying) -> Section:
    """Tell every document seen and everybody found under age."""
    return _marks(say, say.words.gettext("Checks made"), ("id_check", "under_age"))


def endings(say: Saying) -> Section:
    """Tell every end of a guest's service and who took it up again."""
    return _marks(
        say, say.words.gettext("Service ended, and taken up again"), ("service_stopped", "service_resumed")
    )


def _marks(say: Saying, title: str, kinds: Sequence[str]) -> Section:
    _ = say.words.gettext
    rows = [
        (say.when(row.at), say.guest(row.guest_id), _(MARKED[row.kind]), say.name(row.by))
        for row in say.told.marks
        if row.kind in kinds
    ]
    columns = (Column(_("When"), 0.28), Column(_("Guest"), 0.12, True))
    return Section(title, (*columns, Column(_("What"), 0.34), Column(_("By"), 0.26)), rows)


def refused(say: Saying) -> Section:
    """Tell every pour that was refused, with the reasons."""
    _ = say.words.gettext
    rows = [
        (
            say.when(row.at),
            say.guest(row.guest_id),
            say.glass(row.product, row.volume_ul),
            say.why(row.reasons, row.policy_key),
            say.name(row.by),
        )
        for row in say.told.refusals
    ]
    columns = (Column(_("When"), 0.22), Column(_("Guest"), 0.08, True), Column(_("Asked for"), 0.22))
    return Section(_("Refused"), (*columns, Column(_("Why"), 0.32), Column(_("By"), 0.16)), rows)


def against_rules(say: Saying) -> Section:
    """Tell every serving against a rule of its time, and what was done."""
    _ = say.words.gettext
    flagged = [one for one in say.told.verdicts if one.reasons or one.reasons is None]
    columns = (
        Column(_("When"), 0.2),
        Column(_("Guest"), 0.08, True),
        Column(_("What, and who served"), 0.22),
        Column(_("Against which rule"), 0.28),
        Column(_("What was done"), 0.22),
    )
    return Section(_("Served against a rule"), columns, [_flag(say, one) for one in flagged])


def _flag(say: Saying, one: Verdict) -> tuple[str, ...]:
    unread = say.words.gettext("Not judged: this version of the program cannot read the rules of its time.")
    return (
        say.when(one.served.at),
        say.guest(one.served.guest_id),
        f"{say.glass(one.served.glass, one.served.volume_ul)}, {say.name(one.entry.by)}",
        unread if one.reasons is None else say.why(one.reasons, one.entry.policy_key),
        _done(say, one),
    )


def _done(say: Saying, one: Verdict) -> str:
    _ = say.words.gettext
    said = [] if one.entry.asked else [_("told afterwards")]
    for row in say.told.corrected.get(one.served.key, ()):
        if row.kind in CORRECTED:
            said.append(_(CORRECTED[row.kind], number=say.guest(row.guest_id or 0)))
    for row in _ended_after(say, one):
        said.append(_("service ended at {time} by {name}", time=say.time(row.at), name=say.name(row.by)))
    return "; ".join(said) or _("nothing written down")


def _ended_after(say: Saying, one: Verdict) -> Iterable[Any]:
    """Return the ends of this guest's service on the day of a serving and after it."""
    day = say.site.service_day(one.served.at)
    for row in say.told.marks:
        theirs = row.kind == "service_stopped" and row.guest_id == one.served.guest_id
        if theirs and row.at >= one.served.at and say.site.service_day(row.at) == day:
            yield row
