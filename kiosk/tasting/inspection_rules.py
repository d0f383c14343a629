"""The part of an inspection's report about the rules, who was on duty, shifts and releases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from kiosk.tasting.day_word_form import line
from kiosk.tasting.inspecting import Version
from kiosk.tasting.inspection_counts import tallied
from kiosk.tasting.inspection_saying import Column, Saying, Section
from kiosk.tasting.releases import Released, counted_e2
from kiosk.tasting.rules import lines
from kiosk.words import dates, numbers


def in_force(say: Saying) -> Iterable[Section]:
    """Tell every version of the rules in the span, whole, with who confirmed it and when."""
    _ = say.words.gettext
    columns = (Column(_("Rule"), 0.56), Column(_("Where it comes from"), 0.34), Column(_("Year"), 0.1, True))
    if not say.told.versions:
        yield Section(_("Rules in force"), columns, (), _("No rules were in force."))
    for one in say.told.versions:
        shown = [] if one.policy is None else lines(one.policy, say.site, say.words)
        rows = [(rule.text, rule.basis, str(rule.year or "–")) for rule in shown]
        yield Section(_("Rules in force"), columns, rows, _confirmed(say, one))


def _confirmed(say: Saying, one: Version) -> str:
    said = say.words.gettext(
        "In force from {moment}, confirmed by {name}; check number of the text: {digest}",
        moment=say.moment(one.confirmed_at),
        name=say.name(one.confirmed_by),
        digest=one.digest[:16],
    )
    unread = say.words.gettext("This version of the program cannot read the text of these rules.")
    return said if one.policy is not None else f"{said}. {unread}"


def tightened(say: Saying) -> Section:
    """Tell every word of a manager that tightened the rules for a day."""
    _ = say.words.gettext
    columns = (Column(_("When"), 0.24), Column(_("Room"), 0.14), Column(_("Rule"), 0.34))
    rows = [
        (
            say.when(given.word.at),
            given.room or _("every room"),
            line(given, say.site, say.words),
            f"{given.why} ({given.by})",
        )
        for day in sorted(say.told.words)
        for given in say.told.words[day]
    ]
    title = _("Stricter for a day, by a manager's word")
    return Section(title, (*columns, Column(_("Why"), 0.28)), rows)


def on_duty(say: Saying) -> Section:
    """Tell who poured, saw documents or led a tour, with the permits that they hold in the span."""
    _, told = say.words.gettext, say.told
    poured = tallied(told.verdicts, lambda one: one.entry.by)
    checked = Counter(row.by for row in told.marks if row.kind == "document")
    there = {*poured, *checked, *told.guides, *(row.by for row in told.refusals)}
    rows = [
        (
            say.name(who),
            str(poured[who].samples if who in poured else 0),
            str(checked[who]),
            str(told.guides.get(who or 0, 0)),
            _permits(say, who),
        )
        for who in sorted(there, key=say.name)
    ]
    columns = (
        Column(_("Who"), 0.24),
        Column(_("Samples served"), 0.14, True),
        Column(_("Documents seen"), 0.14, True),
        Column(_("Tours led"), 0.1, True),
        Column(_("Permits in this span"), 0.38),
    )
    return Section(_("On duty, and their permits"), columns, rows)


def _permits(say: Saying, who: int | None) -> str:
    said = (
        say.words.gettext(
            "{kind} no. {number}, {first} to {last}",
            kind=one.kind,
            number=one.number,
            first=dates.day(one.valid_from, say.words),
            last=dates.day(one.valid_until, say.words),
        )
        for one in say.told.permits
        if one.staff_id == who
    )
    return "; ".join(said) or "–"


def shifts(say: Saying) -> Section:
    """Tell every signed closing with its revisions."""
    _ = say.words.gettext
    rows = [
        (
            say.day(one.day),
            one.room,
            str(one.revision),
            f"{say.name(one.by)}, {say.when(one.at)}",
            _beyond(say, one.body),
        )
        for one in say.told.closings
    ]
    columns = (
        Column(_("Day"), 0.2),
        Column(_("Room"), 0.14),
        Column(_("Revision"), 0.1, True),
        Column(_("Signed"), 0.32),
        Column(_("Beyond the tolerance"), 0.24),
    )
    return Section(_("Shifts closed"), columns, rows)


def _beyond(say: Saying, body: Mapping[str, Any]) -> str:
    found = [one for one in body["products"] if not one["within"] and not one["not_weighed"]]
    return ", ".join(say.product(one["product"]) for one in found) or "–"


def releases(say: Saying) -> Section:
    """Tell what was released for guests in the span."""
    _ = say.words.gettext
    columns = (
        Column(_("Code"), 0.14),
        Column(_("Product"), 0.22),
        Column(_("Strength"), 0.13, True),
        Column(_("Holds"), 0.29),
        Column(_("Document"), 0.22),
    )
    return Section(_("Released for guests"), columns, [_release(say, row) for row in say.told.releases])


def _release(say: Saying, row: Any) -> tuple[str, ...]:
    _ = say.words.gettext
    abv_e2 = counted_e2(say.site, Released(row.code, row.product, row.abv_e2, row.abv_basis))
    until = dates.day(row.until_on, say.words) if row.until_on else _("no end set")
    ended = "" if row.ended_at is None else _("; ended on {moment}", moment=say.moment(row.ended_at))
    return (
        row.code,
        say.product(row.product),
        numbers.number(abv_e2 / 100, 1, say.words) + " %",
        f"{dates.day(row.from_on, say.words)} – {until}{ended}. {say.name(row.signed_by)}",
        ", ".join(filter(None, (row.document, row.formula))) or "–",
    )
