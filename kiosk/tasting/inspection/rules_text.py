"""The sections of an inspection's report about the rules, the staff on duty, shift closings and approvals.

Here too are what all sections are built of: their columns, and `ReportText`, which writes the facts of one
inspection in the reader's language.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row

from kiosk.entries.typed_in import typed_in_text
from kiosk.figures.drinks import drinks_had
from kiosk.site.products import product_name
from kiosk.site.settings import Site
from kiosk.tasting.approvals.approvals import counted_e2
from kiosk.tasting.inspection.records import Inspection, Tally, guest_number, tally_by
from kiosk.tasting.room.text import size, size_in_both
from kiosk.tasting.rules.restriction_form import restriction_line
from kiosk.tasting.rules.text import rule_lines
from kiosk.tasting.shift_closing.text import server_name, staff_name
from kiosk.words import formats, reasons
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its head, its share of the width, the text of its cell for an item of the table.

    A column with `amount` holds amounts and is aligned to the right.
    """

    head: str
    share: float
    cell: Callable[[Any], str]
    amount: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the report: a heading, a note and a table with one row for each item."""

    title: str
    columns: Sequence[Column]
    items: Iterable[Any]
    note: str = ""

    @property
    def rows(self) -> list[tuple[str, ...]]:
        """The table's cells, row by row."""
        return [tuple(column.cell(item) for column in self.columns) for item in self.items]


class ReportText:
    """Texts for the facts of one inspection, in the reader's language."""

    def __init__(self, inspection: Inspection, site: Site, words: Words) -> None:
        self.inspection, self.site, self.words = inspection, site, words

    def moment(self, at: datetime) -> str:
        """Return an instant as full date and time of day."""
        return self._at(at, formats.day(self.site.local(at).date(), self.words))

    def when(self, at: datetime) -> str:
        """Return an instant as date and time of day; the year only where it differs from the span's end."""
        return self._at(at, self.day(self.site.local(at).date()))

    def day(self, day: date) -> str:
        """Return a date; the year only where it differs from the span's end."""
        return formats.day(day, self.words, self.inspection.last)

    def time(self, at: datetime) -> str:
        """Return the time of day."""
        return formats.time(at, self.site.zone, self.words)

    def name(self, staff_id: int | None) -> str:
        """Return the name of a present or former member of staff."""
        return staff_name(self.inspection.names, staff_id, self.words)

    def maker(self, row: Any) -> str:
        """Return who made an entry, that it is only claimed where it is, and who typed it in for a tablet."""
        name = server_name(self.inspection.names, row.by, row.server_checked, self.words)
        return "; ".join(filter(None, (name, self.typed_in(row))))

    def typed_in(self, row: Any) -> str:
        """Return who typed an entry in for a tablet, when and why; "" for one that its tablet sent."""
        typed = self.inspection.typed_in.get(row.key)
        return typed_in_text(typed, self.site, self.words) if typed else ""

    def guest(self, guest_id: int) -> str:
        """Return a guest's number, or a dash for a guest of days before the span."""
        return str(guest_number(self.inspection, guest_id) or "–")

    def product(self, glass: str) -> str:
        """Return the name of a product or a recipe."""
        return product_name(self.site, glass, self.words)

    def room(self, room: str) -> str:
        """Return the name of a room."""
        return self.site.room_name(room, self.words.language)

    def glass(self, glass: str, volume_ul: int) -> str:
        """Return the name of a product or recipe and the size of the pour."""
        return f"{self.product(glass)}, {size(volume_ul, self.site, self.words)}"

    def reasons(self, codes: Iterable[str], policy_key: str) -> str:
        """Return the reasons against a pour, by the version of the rules under which it was decided."""
        policy = self.inspection.policies.get(policy_key) or self.site.policy
        return " ".join(reasons.for_staff(code, policy, self.words) for code in codes)

    def tally_columns(self, share: float, tally: Callable[[Any], Tally]) -> tuple[Column, ...]:
        """Return the columns of samples, volume and standard drinks (rounded up) of an item's tally."""
        _ = self.words.gettext

        def spirit(item: Any) -> str:
            return size_in_both(tally(item).volume_ul, self.site, self.words, 0)

        def drinks(item: Any) -> str:
            return formats.number(drinks_had(tally(item).ethanol, self.site.standard_drink), 1, self.words)

        return (
            Column(_("Pours"), share * 0.75, lambda item: str(tally(item).samples), True),
            Column(_("Spirit"), share * 1.4, spirit, True),
            Column(_("Standard drinks"), share * 0.85, drinks, True),
        )

    def _at(self, at: datetime, day: str) -> str:
        return self.words.gettext("{day}, {time}", day=day, time=self.time(at))


def in_force(text: ReportText) -> list[Section]:
    """Return a section for each version of the rules in the span: its rules, who confirmed it and when."""
    _ = text.words.gettext
    columns = (
        Column(_("Rule"), 0.56, lambda line: line.text),
        Column(_("Where it comes from"), 0.34, lambda line: line.basis),
        Column(_("Year"), 0.1, lambda line: str(line.year or "–"), True),
    )
    if not text.inspection.versions:
        return [Section(_("Rules in force"), columns, (), _("No rules were in force."))]
    policies = text.inspection.policies
    return [
        Section(
            _("Rules in force"),
            columns,
            rule_lines(policy, text.site, text.words) if (policy := policies[version.key]) else (),
            _confirmed(text, version),
        )
        for version in text.inspection.versions
    ]


def _confirmed(text: ReportText, version: Row[Any]) -> str:
    confirmed = text.words.gettext(
        "In force from {moment}, confirmed by {name}; rules version {digest}",
        moment=text.moment(version.at),
        name=text.name(version.by),
        digest=version.digest[:16],
    )
    unread = text.words.gettext("This version of the program cannot read the text of these rules.")
    return confirmed if text.inspection.policies[version.key] else f"{confirmed}. {unread}"


def tightened(text: ReportText) -> Section:
    """Return the section of the tighter limits that a manager set for a day."""
    _ = text.words.gettext
    columns = (
        Column(_("When"), 0.24, lambda given: text.when(given.restriction.at)),
        Column(_("Room"), 0.14, lambda given: text.room(given.room) if given.room else _("every room")),
        Column(_("Rule"), 0.34, lambda given: restriction_line(given, text.site, text.words)),
        Column(_("Why"), 0.28, lambda given: f"{given.why} ({given.by})"),
    )
    by_day = sorted(text.inspection.day_restrictions.items())
    return Section(
        _("Tighter limits for a day, set by a manager"),
        columns,
        [given for _day, all_ in by_day for given in all_],
    )


def on_duty(text: ReportText) -> Section:
    """Return the section of the staff who poured, checked IDs or led a tour, with their permits."""
    _, inspection = text.words.gettext, text.inspection
    by_server = tally_by(inspection.verdicts, lambda pour: (pour.entry.by, pour.entry.server_checked))
    poured = {by: tally for (by, checked), tally in by_server.items() if checked}
    claimed = {by: tally for (by, checked), tally in by_server.items() if not checked}
    taken_back = {row.detail for row in inspection.marks if row.kind == "void" and row.server_checked}
    checked = Counter(
        row.by for row in inspection.marks if row.kind == "id_check" and row.key not in taken_back
    )
    staff = {*poured, *claimed, *checked, *inspection.guides, *(row.by for row in inspection.refusals)}

    def samples(tallies: Mapping[int | None, Tally]) -> Callable[[Any], str]:
        return lambda who: str(tallies[who].samples if who in tallies else 0)

    columns = (
        Column(_("Who"), 0.22, text.name),
        Column(_("Pours"), 0.1, samples(poured), True),
        Column(_("Claimed"), 0.12, samples(claimed), True),
        Column(_("IDs checked"), 0.14, lambda who: str(checked[who]), True),
        Column(_("Tours led"), 0.1, lambda who: str(inspection.guides.get(who or 0, 0)), True),
        Column(_("Permits in these days"), 0.32, lambda who: _permits(text, who)),
    )
    note = (
        _("Claimed: entered later for this person, who was not signed in on that device.") if claimed else ""
    )
    return Section(_("On duty, and their permits"), columns, sorted(staff, key=text.name), note)


def _permits(text: ReportText, staff_id: int | None) -> str:
    permits = (
        text.words.gettext(
            "{kind} no. {number}, {first} to {last}",
            kind=permit.kind,
            number=permit.number,
            first=formats.day(permit.valid_from, text.words),
            last=formats.day(permit.valid_until, text.words),
        )
        for permit in text.inspection.permits
        if permit.staff_id == staff_id
    )
    return "; ".join(permits) or "–"


def shifts(text: ReportText) -> Section:
    """Return the section of the signed shift closings with their revisions."""
    _ = text.words.gettext

    def beyond_tolerance(closing: Any) -> str:
        products = [p for p in closing.body["products"] if not p["within"] and not p["not_weighed"]]
        return ", ".join(text.product(p["product"]) for p in products) or "–"

    columns = (
        Column(_("Day"), 0.2, lambda closing: text.day(closing.day)),
        Column(_("Room"), 0.14, lambda closing: text.room(closing.room)),
        Column(_("Revision"), 0.1, lambda closing: str(closing.revision), True),
        Column(_("Signed"), 0.32, lambda closing: f"{text.name(closing.by)}, {text.when(closing.at)}"),
        Column(_("Out of tolerance"), 0.24, beyond_tolerance),
    )
    return Section(_("Shifts closed"), columns, text.inspection.shift_closings)


def approvals(text: ReportText) -> Section:
    """Return the section of the products approved for guests in the span."""
    _ = text.words.gettext

    def strength(row: Any) -> str:
        return formats.number(counted_e2(text.site, row) / 100, 1, text.words) + " %"

    def validity(row: Any) -> str:
        until = formats.day(row.until_on, text.words) if row.until_on else _("no end set")
        ended = "" if row.ended_at is None else _("; ended on {moment}", moment=text.moment(row.ended_at))
        return f"{formats.day(row.from_on, text.words)} – {until}{ended}. {text.name(row.signed_by)}"

    columns = (
        Column(_("Code"), 0.14, lambda row: row.code),
        Column(_("Product"), 0.22, lambda row: text.product(row.product)),
        Column(_("Strength"), 0.13, strength, True),
        Column(_("Applies"), 0.29, validity),
        Column(
            _("Paperwork number"),
            0.22,
            lambda row: ", ".join(filter(None, (row.document, row.formula))) or "–",
        ),
    )
    return Section(_("Approved pours"), columns, text.inspection.approvals)
