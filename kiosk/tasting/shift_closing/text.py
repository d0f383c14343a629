"""A closing in the reader's words, for screen, paper and table alike.

A signed closing on paper.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from io import StringIO
from typing import Any

from kiosk.paper.pages import BOLD, HEADING, PLAIN, QUIET, TITLE, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site
from kiosk.tasting.bottles import text
from kiosk.tasting.room.text import product_name
from kiosk.tasting.shift_closing.closing import PARTS, Closing
from kiosk.words import formats, reasons
from kiosk.words.catalogs import N_, Words

LABELS: Mapping[str, str] = {
    "opening": N_("Stock at opening"),
    "received": N_("Received"),
    "moved_out": N_("Returned or moved out"),
    "served": N_("Served"),
    "cleared": N_("Poured, not served"),
    "preset": N_("Still set out"),
    "spilt": N_("Spilt or broken"),
    "house_use": N_("House use"),
    "closing": N_("Stock at closing"),
    "difference": N_("Difference"),
    "tolerance": N_("Tolerance, ±"),
}
VERDICTS: Mapping[str, str] = {
    "ok": N_("Within the tolerance"),
    "wait": N_("Beyond the tolerance"),
    "none": N_("Not known until its open bottles are weighed"),
}


@dataclass(frozen=True, slots=True)
class ShownProduct:
    """One product's balance; `amounts` in mL at 20 °C by part, in the order of PARTS."""

    name: str
    over_pour: str
    amounts: tuple[tuple[str, str, float | None], ...]  # label, as text, in mL
    pours: int
    mark: str  # ok, wait, none: as a shape
    verdict: str  # the same in words
    alcohol: str
    used: bool  # whether any was
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ClosingText:
    """A shift as text. `signed` is empty while nobody has signed it."""

    title: str
    place: str  # room and day
    signed: str
    temperature: str
    products: tuple[ShownProduct, ...]
    totals: tuple[tuple[str, int], ...]
    servers: tuple[tuple[str, int, str], ...]
    house_use: tuple[tuple[str, str, str], ...]
    breaches: tuple[tuple[str, int], ...]
    refusals: tuple[tuple[str, int], ...]
    after_closing: tuple[tuple[str, int, str], ...]
    notes: tuple[str, ...]
    alcohol: str  # of all products
    labels: Mapping[str, str]


def shown(
    body: Mapping[str, Any],
    site: Site,
    words: Words,
    names: Mapping[int, str],
    signed: Closing | None,
    where: tuple[str, date],
) -> ClosingText:
    """Return a closing's body as text; `names` are those of staff by id, `where` is room and day."""

    def name(staff_id: int | None) -> str:
        return names.get(staff_id or 0) or words.gettext("nobody named")

    def reasoned(counts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
        return tuple((reasons.for_staff(code, site.policy, words), n) for code, n in sorted(counts.items()))

    return ClosingText(
        title=words.gettext("Closing of the shift"),
        place=f"{words.gettext('Room: {room}', room=where[0])} · {formats.day(where[1], words)}",
        signed=_signed(signed, site, words, name),
        temperature=formats.number(body["temperature_mc"] / 1000, 1, words) + " °C",
        products=tuple(_product(one, site, words) for one in body["products"]),
        totals=(
            (words.gettext("Guests served"), body["guests_served"]),
            (words.gettext("Samples served"), body["pours"]),
            (words.gettext("Servings against a rule"), body["breaches"]["servings"]),
            (words.gettext("Pours refused"), body["refusals"]["asked"]),
        ),
        servers=tuple(
            (name(one["staff_id"]), one["pours"], text.volume(one["volume_ul"], words))
            for one in body["servers"]
        ),
        house_use=tuple(
            (
                product_name(site, one["product"], words),
                name(one["staff_id"]),
                text.volume(one["volume_ul"], words),
            )
            for one in body["house_use"]
        ),
        breaches=reasoned(body["breaches"]["reasons"]),
        refusals=reasoned(body["refusals"]["reasons"]),
        after_closing=tuple(
            (
                product_name(site, one["product"], words),
                one["pours"],
                text.volume(one["volume_ul"], words),
            )
            for one in body["after_closing"]
        ),
        notes=tuple(_notes(body, words)),
        alcohol=words.gettext(
            "Alcohol used in tasting: {amount}, by the stock of the bar. Not a record of bonded premises.",
            amount=text.pure_alcohol(sum(one["alcohol_ul"] for one in body["products"]), site, words),
        ),
        labels={"pours": words.gettext("Samples"), "alcohol": words.gettext("Alcohol used in tasting")},
    )


def _signed(signed: Closing | None, site: Site, words: Words, name: Any) -> str:
    if signed is None:
        return ""
    return words.gettext(
        "Revision {n}, signed by {name}, {moment}",
        n=signed.revision,
        name=name(signed.by),
        moment=formats.day(site.local(signed.at).date(), words)
        + f", {formats.time(signed.at, site.zone, words)}",
    )


def _product(one: Mapping[str, Any], site: Site, words: Words) -> ShownProduct:
    # Told by its own pours, a level can say nothing about them.
    over = None if one["not_weighed"] else one["over_pour_ul"]
    mark = "none" if one["not_weighed"] else "ok" if one["within"] else "wait"
    unknown = ("difference",) if mark == "none" else ()
    amounts = tuple(
        (words.gettext(LABELS[part]), "–", None)
        if part in unknown
        else (words.gettext(LABELS[part]), text.ml(one[f"{part}_ul"], words), one[f"{part}_ul"] / 1000)
        for part in PARTS
    )
    return ShownProduct(
        name=product_name(site, one["product"], words),
        over_pour="" if over is None else _over(over, words),
        amounts=amounts,
        pours=one["pours"],
        mark=mark,
        verdict=words.gettext(VERDICTS[mark]),
        alcohol=text.pure_alcohol(one["alcohol_ul"], site, words),
        used=one["alcohol_ul"] > 0,
        notes=tuple(_product_notes(one, words)),
    )


def _over(over_ul: int, words: Words) -> str:
    shown = formats.number(abs(over_ul) / 1000, 1, words)
    if over_ul >= 0:
        return words.gettext("Each sample was {ml} mL larger than its measure, on the mean.", ml=shown)
    return words.gettext("Each sample was {ml} mL smaller than its measure, on the mean.", ml=shown)


def _product_notes(one: Mapping[str, Any], words: Words) -> Iterable[str]:
    if one["not_weighed"]:
        codes = ", ".join(one["not_weighed"])
        yield words.gettext("Not weighed in this shift, so told by its pours: {codes}", codes=codes)
    if one["disbelieved"]:
        codes = ", ".join(one["disbelieved"])
        yield words.gettext("A weighing that cannot be was left out: {codes}", codes=codes)
    if one["not_counted"]:
        yield words.gettext("The sealed bottles were not counted in this shift.")
    if one["without_bottle"]:
        n = one["without_bottle"]
        yield words.ngettext("{n} pour while no bottle was open.", "{n} pours while no bottle was open.", n)


def _notes(body: Mapping[str, Any], words: Words) -> Iterable[str]:
    if body["held"]:
        yield words.ngettext(
            "{n} weighing waits for the manager.", "{n} weighings wait for the manager.", body["held"]
        )
    if body["not_judged"]:
        yield words.ngettext(
            "{n} serving is not judged: the rules of its time cannot be read by this version of the program.",
            "{n} servings are not judged: the rules of their time cannot be read by this version "
            "of the program.",
            body["not_judged"],
        )


def csv_text(told: ClosingText) -> str:
    """Return a closing as a table; text that a spreadsheet could take for a formula gets an apostrophe."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in _rows(told):
        writer.writerow([safe(cell) for cell in row])
    return out.getvalue()


def _rows(told: ClosingText) -> Iterable[tuple[object, ...]]:
    yield (told.title, told.place, told.signed)
    for product in told.products:
        for label, _text, amount in product.amounts:
            yield (product.name, label, "" if amount is None else round(amount, 1), "mL, 20 °C")
        yield (product.name, told.labels["pours"], product.pours)
        yield (product.name, told.labels["alcohol"], product.alcohol)
        yield from ((product.name, note) for note in filter(None, (product.over_pour, *product.notes)))
    yield from told.totals
    for lines in (told.servers, told.house_use, told.breaches, told.refusals, told.after_closing):
        yield from lines
    yield from ((note,) for note in (*told.notes, told.alcohol))


def safe(cell: object) -> object:
    """Return a cell that no spreadsheet takes for a formula; numbers stay numbers."""
    risky = isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{cell}" if risky else cell


COLUMNS = 5
"""Products side by side: more stand in another table below."""

AMOUNT, AMOUNT_BOLD = right(PLAIN), right(BOLD)


def closing_pdf(told: ClosingText, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a closing as a PDF, the same bytes each time."""
    page = _Page(paper, f"{told.title} · {site.name}", site.name, words.language)
    page.text(site.name, QUIET)
    page.text(told.title, TITLE)
    page.text(told.place, BOLD, after=1 * MM)
    page.text(told.signed, PLAIN, after=1 * MM)
    page.text(words.gettext("mL at 20 °C; room at {temperature}", temperature=told.temperature), QUIET)
    for product in told.products:  # the mean over-pour first, then the sums
        page.text(f"{product.name}: {product.verdict}. {product.over_pour}", PLAIN, after=0.5 * MM)
        page.text(" · ".join(product.notes), QUIET, after=1.5 * MM)
    for start in range(0, len(told.products), COLUMNS):
        page.balance(told.products[start : start + COLUMNS], words)
    used_up = ((product.name, product.alcohol) for product in told.products if product.used)
    page.rows(words.gettext("Alcohol used in tasting"), used_up)
    page.rows(words.gettext("The shift"), ((label, str(n)) for label, n in told.totals))
    page.rows(words.gettext("Samples by server"), ((who, f"{n} · {much}") for who, n, much in told.servers))
    used = ((f"{name}, {who}", much) for name, who, much in told.house_use)
    page.rows(words.gettext("House use"), used)
    page.rows(words.gettext("Servings against a rule"), ((why, str(n)) for why, n in told.breaches))
    page.rows(words.gettext("Pours refused"), ((why, str(n)) for why, n in told.refusals))
    late = ((name, f"{n} · {much}") for name, n, much in told.after_closing)
    page.rows(words.gettext("After closing"), late)
    for note in told.notes:
        page.text(note, PLAIN)
    page.text(told.alcohol, QUIET)
    return page.done()


class _Page(Pages):
    """The pages of a closing."""

    def rows(self, heading: str, lines: Iterable[tuple[str, str]]) -> None:
        """Set a heading and lines of a text and its amount; nothing where there are no lines."""
        told = list(lines)
        if not told:
            return
        self.room_for(20 * MM)
        self.top -= 2 * MM
        self.text(heading, HEADING, after=1 * MM)
        for label, amount in told:
            self.line(((label, PLAIN, 0.5), (amount, AMOUNT, 0.5)))

    def balance(self, products: Sequence[ShownProduct], words: Words) -> None:
        """Set the balances of some products side by side."""
        self.room_for(75 * MM)
        self.top -= 2 * MM
        share = 0.7 / COLUMNS
        self.line((("", BOLD, 0.3), *((one.name, AMOUNT_BOLD, share) for one in products)))
        for n, (label, _text, _ml) in enumerate(products[0].amounts):
            looks = (BOLD, AMOUNT_BOLD) if n >= 8 else (PLAIN, AMOUNT)
            cells = ((one.amounts[n][1], looks[1], share) for one in products)
            self.line(((label, looks[0], 0.3), *cells))
        pours = ((str(one.pours), AMOUNT, share) for one in products)
        self.line(((words.gettext("Samples"), PLAIN, 0.3), *pours))
        self.top -= 3 * MM
