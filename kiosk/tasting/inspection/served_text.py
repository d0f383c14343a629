"""The sections of an inspection's report about pours, refusals, ID checks and ends of service."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import timedelta
from typing import Any

from kiosk.tasting.inspection.records import CHECKS, ENDINGS, Tally, guest_number, tally_by
from kiosk.tasting.inspection.rules_text import Column, ReportText, Section
from kiosk.tasting.room.corrections import REASONS
from kiosk.tasting.rules.judging import Verdict
from kiosk.words.catalogs import N_

CORRECTED: Mapping[str, str] = {
    "reassign": N_("moved to guest {number}"),
    "unfinished": N_("not finished or spat out"),
    "seated": N_("pre-poured"),
    "void": N_("undone"),
    "not_served": N_("poured, not served"),
    "cleared": N_("poured, not served"),
    "finished": N_("glass empty"),
}
LATE = timedelta(minutes=1)
"""From how long after it happened an entry is said to have come late."""
MARKED: Mapping[str, str] = {
    "id_check": N_("ID checked"),
    "under_age": N_("under age"),
    "void": N_("ID check taken back"),
    "service_stopped": N_("service stopped"),
    "service_resumed": N_("service resumed"),
}


def by_day(text: ReportText) -> Section:
    """Return the section of what was served and refused on each service day."""
    _, site, inspection = text.words.gettext, text.site, text.inspection
    refused = Counter(site.service_day(row.at) for row in inspection.refusals)
    tallies = tally_by(inspection.verdicts, lambda pour: site.service_day(pour.served.at))

    def tally(day: Any) -> Tally:
        return tallies.get(day, Tally())

    columns = (
        Column(_("Day"), 0.22, text.day),
        Column(_("Guests served"), 0.13, lambda day: str(len(tally(day).guests)), True),
        *text.tally_columns(0.13, tally),
        Column(_("Rule breaches"), 0.13, lambda day: str(tally(day).against), True),
        Column(_("Refused"), 0.13, lambda day: str(refused[day]), True),
    )
    return Section(_("By day"), columns, sorted({*tallies, *refused}))


def by_product(text: ReportText) -> Section:
    """Return the section of what was served of each product and recipe."""
    _ = text.words.gettext
    tallies = tally_by(text.inspection.verdicts, lambda pour: pour.served.glass)
    return _tallied(text, _("By product"), _("Product"), dict(sorted(tallies.items())), text.product)


def by_hour(text: ReportText) -> Section:
    """Return the section of what was served in each hour of the site's clock, all days together."""
    _ = text.words.gettext
    site, verdicts = text.site, text.inspection.verdicts
    tallies = tally_by(verdicts, lambda pour: site.local(pour.served.at).hour)
    by_hour = sorted(tallies.items(), key=lambda item: (item[0] - site.day_starts.hour) % 24)
    return _tallied(text, _("By hour, all days together"), _("Hour"), dict(by_hour), "{:02d}:00".format)


def _tallied(
    text: ReportText, title: str, head: str, tallies: Mapping[Any, Tally], label: Callable[[Any], str]
) -> Section:
    columns = (Column(head, 0.4, label), *text.tally_columns(0.2, tallies.__getitem__))
    return Section(title, columns, tallies)


def by_guest(text: ReportText) -> Section:
    """Return the section of what was served to each guest number, which is of one service day."""
    _ = text.words.gettext
    inspection, site = text.inspection, text.site
    tallies = tally_by(
        inspection.verdicts, lambda pour: (site.service_day(pour.served.at), pour.served.guest_id)
    )

    def first_to_last(guest: Any) -> str:
        ends = [text.time(at) for at in (tallies[guest].first, tallies[guest].last) if at]
        return " – ".join(dict.fromkeys(ends))

    columns = (
        Column(_("Day"), 0.22, lambda guest: text.day(guest[0])),
        Column(_("Guest"), 0.1, lambda guest: text.guest(guest[1]), True),
        *text.tally_columns(0.14, tallies.__getitem__),
        Column(_("First to last"), 0.26, first_to_last, True),
    )
    return Section(
        _("By guest number"),
        columns,
        sorted(tallies, key=lambda guest: (guest[0], guest_number(inspection, guest[1]))),
    )


def checks(text: ReportText) -> Section:
    """Return the section of the ID checks and of the guests recorded as under age."""
    return _marks(text, text.words.gettext("Age checks"), CHECKS)


def endings(text: ReportText) -> Section:
    """Return the section of the times at which service was stopped or resumed for a guest."""
    return _marks(text, text.words.gettext("Service stopped and resumed"), ENDINGS)


def _marks(text: ReportText, title: str, kinds: Sequence[str]) -> Section:
    _ = text.words.gettext
    columns = (
        Column(_("When"), 0.28, lambda row: text.when(row.at)),
        Column(_("Guest"), 0.12, lambda row: text.guest(row.guest_id), True),
        Column(_("What"), 0.34, lambda row: _(MARKED[row.kind])),
        Column(_("By"), 0.26, lambda row: _entered(text, row)),
    )
    return Section(title, columns, [row for row in text.inspection.marks if row.kind in kinds])


def corrections(text: ReportText) -> Section:
    """Return the section of the corrections of pours, those that gave a pour back among them."""
    _ = text.words.gettext

    def what(row: Any) -> str:
        done = _(CORRECTED[row.kind], number=text.guest(row.guest_id or 0))
        return f"{text.glass(row.glass, row.volume_ul)}: {done}"

    def why(row: Any) -> str:
        return _(REASONS[row.reason]) if row.reason else _("undone at once") if row.kind == "void" else "–"

    columns = (
        Column(_("When"), 0.2, lambda row: text.when(row.at)),
        Column(_("Guest"), 0.08, lambda row: text.guest(row.poured_for or 0), True),
        Column(_("What"), 0.32, what),
        Column(_("Why"), 0.2, why),
        Column(_("By"), 0.2, lambda row: _entered(text, row)),
    )
    return Section(_("Corrections"), columns, text.inspection.corrections)


def _entered(text: ReportText, row: Any) -> str:
    """Return who made an entry, and that it came late where it did."""
    late = row.recorded_at - row.at > LATE
    return f"{text.maker(row)}, {text.words.gettext('entered late')}" if late else text.maker(row)


def refused(text: ReportText) -> Section:
    """Return the section of the pours that were refused, with the reasons."""
    _ = text.words.gettext
    columns = (
        Column(_("When"), 0.22, lambda row: text.when(row.at)),
        Column(_("Guest"), 0.08, lambda row: text.guest(row.guest_id), True),
        Column(_("Asked for"), 0.22, lambda row: text.glass(row.product, row.volume_ul)),
        Column(_("Why"), 0.32, lambda row: text.reasons(row.reasons, row.policy_key)),
        Column(_("By"), 0.16, lambda row: text.name(row.by)),
    )
    return Section(_("Refused"), columns, text.inspection.refusals)


def against_rules(text: ReportText) -> Section:
    """Return the section of the pours that broke a rule of their time, and what was done about each."""
    _ = text.words.gettext
    unread = _("Not judged: this version of the program cannot read the rules of its time.")

    def glass_and_server(verdict: Verdict) -> str:
        served = verdict.served
        return f"{text.glass(served.glass, served.volume_ul)}, {text.maker(verdict.entry)}"

    def broken(verdict: Verdict) -> str:
        return unread if verdict.reasons is None else text.reasons(verdict.reasons, verdict.entry.policy_key)

    columns = (
        Column(_("When"), 0.2, lambda verdict: text.when(verdict.served.at)),
        Column(_("Guest"), 0.08, lambda verdict: text.guest(verdict.served.guest_id), True),
        Column(_("What, and who served"), 0.22, glass_and_server),
        Column(_("Rule breached"), 0.28, broken),
        Column(_("What was done"), 0.22, lambda verdict: _what_was_done(text, verdict)),
    )
    flagged = [one for one in text.inspection.verdicts if one.reasons or one.reasons is None]
    return Section(_("Rule breaches"), columns, flagged)


def _what_was_done(text: ReportText, verdict: Verdict) -> str:
    _ = text.words.gettext
    done = [] if verdict.entry.asked else [_("entered late")]
    for row in text.inspection.corrected.get(verdict.served.key, ()):
        if row.kind in CORRECTED:
            done.append(_(CORRECTED[row.kind], number=text.guest(row.guest_id or 0)))
    for row in _stops_after(text, verdict):
        done.append(_("service stopped at {time} by {name}", time=text.time(row.at), name=text.name(row.by)))
    return "; ".join(done) or _("nothing written down")


def _stops_after(text: ReportText, verdict: Verdict) -> Iterable[Any]:
    """Return the marks that stopped service for a pour's guest, on its service day and after it."""
    served, service_day = verdict.served, text.site.service_day
    for row in text.inspection.marks:
        stopped = row.kind == "service_stopped" and row.guest_id == served.guest_id
        if stopped and row.at >= served.at and service_day(row.at) == service_day(served.at):
            yield row
