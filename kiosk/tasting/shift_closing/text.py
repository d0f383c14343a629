"""A shift closing in the reader's language: one description of its rows for screen, PDF and CSV."""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from io import StringIO
from itertools import zip_longest
from typing import Any, NamedTuple

from reportlab.lib.styles import ParagraphStyle
from sqlalchemy import Row

from kiosk.entries.typed_in import REASONS as TYPED_IN_REASONS
from kiosk.figures.figure import Unit
from kiosk.paper import fonts, sheet
from kiosk.paper.pages import BOLD, HEADING, PLAIN, QUIET, TITLE, Cell, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.products import product_name
from kiosk.site.settings import Site, Units
from kiosk.tasting.bottles import text
from kiosk.tasting.room.corrections import REASONS
from kiosk.tasting.room.text import size_in_both
from kiosk.tasting.shift_closing.closing import PARTS
from kiosk.words import formats, reasons, units
from kiosk.words.catalogs import N_, Words

LABELS: Mapping[str, str] = {
    "opening": N_("Stock at opening"),
    "received": N_("Received"),
    "moved_out": N_("Returned or moved out"),
    "served": N_("Served"),
    "cleared": N_("Poured, not served"),
    "preset": N_("Pre-poured, not yet served"),
    "spilt": N_("Spilt or broken"),
    "house_use": N_("House use"),
    "closing": N_("Stock at closing"),
    "difference": N_("Difference"),
    "tolerance": N_("Tolerance, ±"),
}
ALL_POURS = N_("Pours, served or not")
"""What the pours of a balance are: all that left a bottle; a server's and a guest's are those served."""
RESULTS = ("closing", "difference", "tolerance")
"""The parts of a balance that are set apart as its result."""
VERDICTS: Mapping[str, str] = {
    "ok": N_("Within tolerance"),
    "wait": N_("Out of tolerance"),
    "none": N_("Not known until its open bottles are weighed"),
}


class Amount(NamedTuple):
    """One part of a balance in mL at 20 °C, as text and as a number; the number is None if not known."""

    label: str
    text: str
    ml: float | None
    result: bool  # one of RESULTS


@dataclass(frozen=True, slots=True)
class ProductText:
    """One product's balance as text; `amounts` are in the order of PARTS."""

    name: str
    over_pour: str
    amounts: tuple[Amount, ...]
    pours: int
    mark: str  # ok, wait or none
    verdict: str  # the mark in words
    alcohol: str
    used: bool  # whether any alcohol was used
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A heading and rows: the first `labels` cells of a row name it, the others are its amounts."""

    heading: str
    rows: Sequence[tuple[object, ...]]
    labels: int = 1


@dataclass(frozen=True, slots=True)
class ClosingText:
    """A shift as text; `signed` is empty until the shift is signed."""

    title: str
    place: str  # room and day
    signed: str
    temperature: str
    products: tuple[ProductText, ...]
    tables: tuple[Table, ...]
    notes: tuple[str, ...]
    alcohol: str  # of all products


def closing_text(
    body: Mapping[str, Any],
    site: Site,
    words: Words,
    names: Mapping[int, str],
    signed: Row[Any] | None,
    room: str,
    day: date,
) -> ClosingText:
    """Return a closing's body as text; `names` are those of staff by id."""
    _ = words.gettext
    alcohol_ul = sum(product["alcohol_ul"] for product in body["products"])
    return ClosingText(
        title=_("Shift closing"),
        place=f"{_('Room: {room}', room=site.room_name(room, words.language))} · {formats.day(day, words)}",
        signed=_signed(signed, site, words, names) if signed else "",
        temperature=str(units.amount(body["temperature_mc"] / 1000, Unit.CELSIUS, 1, words, site.units)),
        products=tuple(_product(product, site, words) for product in body["products"]),
        tables=_tables(body, site, words, names),
        notes=tuple(_notes(body, words)),
        alcohol=_(
            "Alcohol used in tasting: {amount}, by the stock of the bar. Not a record of bonded premises.",
            amount=text.pure_alcohol(alcohol_ul, site, words),
        ),
    )


def staff_name(names: Mapping[int, str], staff_id: int | None, words: Words) -> str:
    """Return the name of a member of staff, or words for an entry that names none."""
    return names.get(staff_id or 0) or words.gettext("no name")


def server_name(names: Mapping[int, str], staff_id: int | None, checked: bool, words: Words) -> str:
    """Return the name of the server of a pour, and that it is only claimed where no PIN proves it."""
    name = staff_name(names, staff_id, words)
    return name if checked else words.gettext("{name} (claimed)", name=name)


def _tables(body: Mapping[str, Any], site: Site, words: Words, names: Mapping[int, str]) -> tuple[Table, ...]:
    _ = words.gettext

    def product(row: Mapping[str, Any]) -> str:
        return product_name(site, row["product"], words)

    def server(row: Mapping[str, Any]) -> str:
        return staff_name(names, row["staff_id"], words)

    def volume(row: Mapping[str, Any]) -> str:
        return text.volume(row["volume_ul"], site, words)

    def by_reason(counts: Mapping[str, int]) -> list[tuple[object, ...]]:
        return [(reasons.for_staff(code, site.policy, words), n) for code, n in sorted(counts.items())]

    totals = [
        (_("Guests served"), body["guests_served"]),
        (_("Pours served"), body["pours"]),
        (_("Pours not served, or not yet"), sum(one["pours"] for one in body["products"]) - body["pours"]),
        (_("Rule breaches"), body["breaches"]["servings"]),
        (_("Pours refused"), body["refusals"]["asked"]),
    ]
    servers = [
        (server_name(names, row["staff_id"], not row.get("claimed"), words), row["pours"], volume(row))
        for row in body["servers"]
    ]
    typed = [
        (server(row), _(TYPED_IN_REASONS[row["reason"]]), row["pours"], volume(row))
        for row in body.get("typed_in", ())
    ]
    house_use = [(product(row), server(row), volume(row)) for row in body["house_use"]]
    late = [(product(row), row["pours"], volume(row)) for row in body["after_closing"]]
    return (
        Table(_("The shift"), totals),
        Table(_("Pours served, by server"), servers),
        Table(_("Typed in for a tablet, by manager and reason"), typed, labels=2),
        Table(_("Taken back"), list(_given_back(body.get("given_back", ()), words))),
        Table(_("House use"), house_use, labels=2),
        Table(_("Rule breaches"), by_reason(body["breaches"]["reasons"])),
        Table(_("Pours refused"), by_reason(body["refusals"]["reasons"])),
        Table(_("After closing"), late),
    )


GIVEN_BACK: Mapping[str, str] = {
    "void": N_("Nothing was poured"),
    "not_served": N_("Poured, not served"),
    "cleared": N_("Poured, not served"),
    "reassign": N_("Moved to another guest"),
}


def _given_back(rows: Iterable[Mapping[str, Any]], words: Words) -> Iterable[tuple[object, ...]]:
    """Yield what gave a pour back to a guest, with its number: undone at once, or corrected for a reason."""
    for row in rows:
        done = words.gettext(GIVEN_BACK[row["kind"]])
        why = words.gettext(REASONS[row["reason"]]) if row["reason"] else ""
        yield (f"{done}: {why}" if why else words.gettext("Undone at once")), row["n"]


def _signed(signed: Row[Any], site: Site, words: Words, names: Mapping[int, str]) -> str:
    day, time = formats.day(site.local(signed.at).date(), words), formats.time(signed.at, site.zone, words)
    return words.gettext(
        "Revision {n}, signed by {name}, {moment}",
        n=signed.revision,
        name=staff_name(names, signed.by, words),
        moment=f"{day}, {time}",
    )


def _product(product: Mapping[str, Any], site: Site, words: Words) -> ProductText:
    # A level that is estimated from the pours says nothing about their size.
    weighed = not product["not_weighed"]
    over_ul = product["over_pour_ul"] if weighed else None
    mark = ("ok" if product["within"] else "wait") if weighed else "none"

    def amount(part: str) -> Amount:
        label, ul = words.gettext(LABELS[part]), product[f"{part}_ul"]
        if part == "difference" and not weighed:
            return Amount(label, "–", None, True)
        volume = _difference(ul, site, words) if part == "difference" else text.volume(ul, site, words)
        return Amount(label, volume, ul / 1000, part in RESULTS)

    return ProductText(
        name=product_name(site, product["product"], words),
        over_pour="" if over_ul is None else _over_pour(over_ul, site, words),
        amounts=tuple(amount(part) for part in PARTS),
        pours=product["pours"],
        mark=mark,
        verdict=words.gettext(VERDICTS[mark]),
        alcohol=text.pure_alcohol(product["alcohol_ul"], site, words),
        used=product["alcohol_ul"] > 0,
        notes=tuple(_product_notes(product, words)),
    )


def _difference(short_ul: int, site: Site, words: Words) -> str:
    """Return a difference to the whole mL as short or over."""
    amount = text.volume(abs(short_ul), site, words)
    if round(short_ul / 1000) == 0:
        return amount
    message = N_("Short {amount}") if short_ul > 0 else N_("Over {amount}")
    return words.gettext(message, amount=amount)


def _over_pour(over_ul: int, site: Site, words: Words) -> str:
    amount = size_in_both(abs(over_ul), site, words)
    if over_ul >= 0:
        return words.gettext("Pours were {amount} larger than their measure on average.", amount=amount)
    return words.gettext("Pours were {amount} smaller than their measure on average.", amount=amount)


def _product_notes(product: Mapping[str, Any], words: Words) -> Iterable[str]:
    if product["not_weighed"]:
        codes = ", ".join(product["not_weighed"])
        yield words.gettext("Not weighed; estimated from pours: {codes}", codes=codes)
    if product["rejected"]:
        codes = ", ".join(product["rejected"])
        yield words.gettext("Weights that are not possible were left out: {codes}", codes=codes)
    if product["not_counted"]:
        yield words.gettext("The sealed bottles were not counted in this shift.")
    if product["without_bottle"]:
        n = product["without_bottle"]
        yield words.ngettext("{n} pour while no bottle was open.", "{n} pours while no bottle was open.", n)


def _notes(body: Mapping[str, Any], words: Words) -> Iterable[str]:
    if body["held"]:
        yield words.ngettext(
            "{n} weighing is held for review by a manager.",
            "{n} weighings are held for review by a manager.",
            body["held"],
        )
    if body["not_judged"]:
        yield words.ngettext(
            "{n} pour is not judged: this version of the program cannot read the rules of its time.",
            "{n} pours are not judged: this version of the program cannot read the rules of their time.",
            body["not_judged"],
        )


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Return rows as CSV; a cell that a spreadsheet could take for a formula gets an apostrophe."""
    out = StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def closing_rows(closing: ClosingText, words: Words) -> Iterable[tuple[object, ...]]:
    """Yield the rows of a closing's CSV."""
    yield (closing.title, closing.place, closing.signed)
    for product in closing.products:
        for amount in product.amounts:
            yield (product.name, amount.label, "" if amount.ml is None else round(amount.ml, 1), "mL, 20 °C")
        yield (product.name, words.gettext(ALL_POURS), product.pours)
        yield (product.name, words.gettext("Alcohol used in tasting"), product.alcohol)
        yield from ((product.name, note) for note in filter(None, (product.over_pour, *product.notes)))
    for table in closing.tables:
        yield from table.rows
    yield from ((note,) for note in (*closing.notes, closing.alcohol))


def safe(cell: object) -> object:
    """Return a cell that no spreadsheet takes for a formula; numbers stay numbers."""
    risky = isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{cell}" if risky else cell


ROOMY = {Units.METRIC: 5, Units.US: 3}
"""How many products stand side by side in the usual size, where volumes are in one unit or in two."""
COLUMNS = 9
"""How many do in small type, so that a shift of nine products is on one page; further ones stand below."""

SMALL = sheet.style(8, lead=1.2)
CELL, CELL_BOLD = sheet.style(7, lead=1.15), sheet.style(7, font=fonts.BOLD, lead=1.15)


def closing_pdf(closing: ClosingText, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a closing as a PDF, the same bytes each time."""
    pages = Pages(paper, f"{closing.title} · {site.name}", site.name, words.language)
    pages.text(site.name, QUIET, after=1 * MM)
    pages.text(closing.title, TITLE)
    pages.text(closing.place, BOLD, after=1 * MM)
    pages.text(closing.signed, PLAIN, after=1 * MM)
    pages.text(words.gettext("Volumes at 20 °C; room at {room}", room=closing.temperature), QUIET)
    small = len(closing.products) > ROOMY[site.units]
    look = SMALL if small else PLAIN
    for product in closing.products:  # the mean over-pour first, then the sums
        pages.text(f"{product.name}: {product.verdict}. {product.over_pour}", look, after=0.3 * MM)
        pages.text(" · ".join(product.notes), QUIET, after=0.8 * MM)
    columns = COLUMNS if small else ROOMY[site.units]
    for start in range(0, len(closing.products), columns):
        _balance(pages, closing.products[start : start + columns], 0.76 / columns, words, small=small)
    tables = [table for table in closing.tables if table.rows]
    for pair in zip(tables[::2], [*tables[1::2], None], strict=False):
        _side_by_side(pages, [table for table in pair if table], look)
    for note in closing.notes:
        pages.text(note, PLAIN)
    pages.text(closing.alcohol, QUIET)
    return pages.done()


def _side_by_side(pages: Pages, tables: Sequence[Table], look: ParagraphStyle) -> None:
    """Write the headings and rows of one or two tables beside each other."""
    pages.room_for(20 * MM)
    pages.top -= 2 * MM
    pages.line([(table.heading, HEADING, 0.5) for table in tables])
    for rows in zip_longest(*(table.rows for table in tables)):
        pages.line(
            [
                cell
                for row, table in zip(rows, tables, strict=True)
                for cell in _halves(row, table.labels, look)
            ]
        )


def _halves(row: tuple[object, ...] | None, labels: int, look: ParagraphStyle) -> Sequence[Cell]:
    label = ", ".join(str(cell) for cell in (row or ())[:labels])
    amount = " · ".join(str(cell) for cell in (row or ())[labels:])
    return ((label, look, 0.29), (amount, right(look), 0.19), ("", look, 0.02))


def _balance(
    pages: Pages, products: Sequence[ProductText], share: float, words: Words, *, small: bool
) -> None:
    """Write the balances of some products side by side, each on this `share` of the width."""
    plain, bold = (CELL, CELL_BOLD) if small else (PLAIN, BOLD)
    amount_look, amount_bold = right(plain), right(bold)
    pages.room_for(75 * MM)
    pages.top -= 2 * MM
    pages.line((("", bold, 0.24), *((product.name, amount_bold, share) for product in products)))
    for amounts in zip(*(product.amounts for product in products), strict=True):
        label_look, look = (bold, amount_bold) if amounts[0].result else (plain, amount_look)
        cells = ((amount.text, look, share) for amount in amounts)
        pages.line(((amounts[0].label, label_look, 0.24), *cells))
    pours = ((str(product.pours), amount_look, share) for product in products)
    pages.line(((words.gettext(ALL_POURS), plain, 0.24), *pours))
    if any(product.used for product in products):
        alcohol = ((product.alcohol if product.used else "", amount_look, share) for product in products)
        pages.line(((words.gettext("Alcohol used in tasting"), plain, 0.24), *alcohol))
    pages.top -= 1 * MM
