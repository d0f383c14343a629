"""What an import did or would do, as sentences for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.report import Counts, ImportReport
from kiosk.words.catalogs import N_, Words
from kiosk.words.errors import fact_text

MOST_TOLD = 50
"""So many rows are told one by one; the rest is counted."""

PARTS: Mapping[str, str] = {
    "new": N_("{n} new"),
    "changed": N_("{n} changed"),
    "same": N_("{n} the same"),
    "corrected": N_("{n} put right here since, and left so"),
    "withdrawn": N_("{n} withdrawn here since, and left out"),
    "held": N_("{n} held back for a person"),
    "wrong": N_("{n} wrong"),
}
NOTHING = N_("nothing in it")


def counted(counts: Counts, words: Words) -> str:
    """Return what becomes of the rows of one file, in one line."""
    parts = [
        words.gettext(text, n=getattr(counts, name)) for name, text in PARTS.items() if getattr(counts, name)
    ]
    return ", ".join(parts) or words.gettext(NOTHING)


def held_told(report: ImportReport, words: Words) -> Iterator[str]:
    """Yield one line for each row that is held back now, with its place and reasons."""
    for one in report.held[:MOST_TOLD]:
        place = words.gettext("{file}, row {row}", file=one.line.file, row=str(one.line.row))
        yield f"{place}: {' '.join(reason(fault, words) for fault in one.reasons)}"
    yield from _more(len(report.held), words)


def faults_told(report: ImportReport, words: Words) -> Iterator[str]:
    """Yield one line for each fault, with its place and remedy."""
    for fault in report.faults[:MOST_TOLD]:
        yield words.translations.gettext(fault.message).format(**_facts(fault, words))
    yield from _more(len(report.faults), words)


def reason(fault: RecordFault, words: Words) -> str:
    """Return a fault's sentence without its place."""
    text = words.translations.gettext(fault.message)
    sentence = (text.partition("{column}: ")[2] or text).format(**_facts(fault, words))
    return sentence[:1].upper() + sentence[1:]


def _facts(fault: RecordFault, words: Words) -> Mapping[str, str]:
    # The number of a row is a name: no sign parts its thousands.
    return {name: fact_text(value, words) for name, value in fault.facts.items()} | {"row": str(fault.row)}


def _more(many: int, words: Words) -> Iterator[str]:
    if many > MOST_TOLD:
        yield words.ngettext("and {n} more row", "and {n} more rows", many - MOST_TOLD)
