"""What the sections of an inspection's report share: their shape, and how its facts are said.

The part of an inspection's report about the rules, who was on duty, shifts and approvals.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from kiosk.figures.drinks import drinks_had
from kiosk.site.settings import Site
from kiosk.tasting.approvals.approvals import Approved, counted_e2
from kiosk.tasting.bottles import text
from kiosk.tasting.inspection.inspecting import Inspection, Tally, Version, number, tallied
from kiosk.tasting.room.text import product_name, size
from kiosk.tasting.rules.restriction_form import restriction_line
from kiosk.tasting.rules.text import lines
from kiosk.words import formats, reasons
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head, its share of the width, and whether it holds amounts."""

    head: str
    share: float
    amount: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A heading, what it says before its table, and the table."""

    title: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[str]]
    note: str = ""


class Saying:
    """Says the facts of one inspection in the reader's words."""

    def __init__(self, told: Inspection, site: Site, words: Words) -> None:
        self.told, self.site, self.words = told, site, words

    def moment(self, at: datetime) -> str:
        """Say day and time in full."""
        return self._at(at, formats.day(self.site.local(at).date(), self.words))

    def when(self, at: datetime) -> str:
        """Say day and time, the year only where it is another than that of the span's end."""
        return self._at(at, self.day(self.site.local(at).date()))

    def day(self, day: date) -> str:
        """Say a day, the year only where it is another than that of the span's end."""
        return formats.day(day, self.words, self.told.last)

    def time(self, at: datetime) -> str:
        """Say the time of day."""
        return formats.time(at, self.site.zone, self.words)

    def name(self, staff_id: int | None) -> str:
        """Name somebody who works or worked here."""
        return self.told.names.get(staff_id or 0) or self.words.gettext("nobody named")

    def guest(self, guest_id: int) -> str:
        """Say a guest's number."""
        return str(number(self.told, guest_id) or "–")

    def product(self, glass: str) -> str:
        """Name a product or a recipe."""
        return product_name(self.site, glass, self.words)

    def glass(self, glass: str, volume_ul: int) -> str:
        """Say what was in a glass and how much."""
        return f"{self.product(glass)}, {size(volume_ul, self.site, self.words)}"

    def why(self, codes: Iterable[str], policy_key: str) -> str:
        """Say the reasons against a pour in the words of the rules that it was decided by."""
        policy = self.told.policies.get(policy_key) or self.site.policy
        return " ".join(reasons.for_staff(code, policy, self.words) for code in codes)

    def amounts(self, tally: Tally) -> tuple[str, str, str]:
        """Say samples, mL and standard drinks, these rounded up."""
        drinks = drinks_had(tally.ethanol, self.site.standard_drink)
        said = formats.number(drinks, 1, self.words)
        return str(tally.samples), text.ml(tally.volume_ul, self.words), said

    def measured(self, share: float) -> tuple[Column, ...]:
        """Return the columns of `amounts`."""
        _ = self.words.gettext
        heads = (_("Samples"), _("Spirit, mL"), _("Standard drinks"))
        return tuple(Column(head, share, True) for head in heads)

    def _at(self, at: datetime, day: str) -> str:
        return self.words.gettext("{day}, {time}", day=day, time=self.time(at))


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
            say.when(given.restriction.at),
            given.room or _("every room"),
            restriction_line(given, say.site, say.words),
            f"{given.why} ({given.by})",
        )
        for day in sorted(say.told.day_restrictions)
        for given in say.told.day_restrictions[day]
    ]
    title = _("Stricter for a day, by a manager's word")
    return Section(title, (*columns, Column(_("Why"), 0.28)), rows)


def on_duty(say: Saying) -> Section:
    """Tell who poured, saw documents or led a tour, with the permits that they hold in the span."""
    _, told = say.words.gettext, say.told
    poured = tallied(told.verdicts, lambda one: one.entry.by)
    checked = Counter(row.by for row in told.marks if row.kind == "id_check")
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
            first=formats.day(one.valid_from, say.words),
            last=formats.day(one.valid_until, say.words),
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
        for one in say.told.shift_closings
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


def approvals(say: Saying) -> Section:
    """Tell what was approved for guests in the span."""
    _ = say.words.gettext
    columns = (
        Column(_("Code"), 0.14),
        Column(_("Product"), 0.22),
        Column(_("Strength"), 0.13, True),
        Column(_("Holds"), 0.29),
        Column(_("Document"), 0.22),
    )
    return Section(_("Released for guests"), columns, [_approval(say, row) for row in say.told.approvals])


def _approval(say: Saying, row: Any) -> tuple[str, ...]:
    _ = say.words.gettext
    abv_e2 = counted_e2(say.site, Approved(row.code, row.product, row.abv_e2, row.abv_basis))
    until = formats.day(row.until_on, say.words) if row.until_on else _("no end set")
    ended = "" if row.ended_at is None else _("; ended on {moment}", moment=say.moment(row.ended_at))
    return (
        row.code,
        say.product(row.product),
        formats.number(abv_e2 / 100, 1, say.words) + " %",
        f"{formats.day(row.from_on, say.words)} – {until}{ended}. {say.name(row.signed_by)}",
        ", ".join(filter(None, (row.document, row.formula))) or "–",
    )
