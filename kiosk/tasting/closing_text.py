"""A closing in the reader's words, for screen, paper and table alike."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from io import StringIO
from typing import Any

from kiosk.site.settings import Site
from kiosk.tasting import telling
from kiosk.tasting.closing import PARTS, Closing
from kiosk.tasting.showing import product_name
from kiosk.words import dates, numbers, reasons
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

LABELS: Mapping[str, str] = {
    "opening": N_("Stock at opening"),
    "received": N_("Received"),
    "moved_out": N_("Returned or moved out"),
    "served": N_("Served"),
    "cleared": N_("Poured, not served"),
    "set_out": N_("Still set out"),
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
class ShownClosing:
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
) -> ShownClosing:
    """Return a closing's body as text; `names` are those of staff by id, `where` is room and day."""

    def name(staff_id: int | None) -> str:
        return names.get(staff_id or 0) or words.gettext("nobody named")

    def reasoned(counts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
        return tuple((reasons.for_staff(code, site.policy, words), n) for code, n in sorted(counts.items()))

    return ShownClosing(
        title=words.gettext("Closing of the shift"),
        place=f"{words.gettext('Room: {room}', room=where[0])} · {dates.day(where[1], words)}",
        signed=_signed(signed, site, words, name),
        temperature=numbers.number(body["temperature_mc"] / 1000, 1, words) + " °C",
        products=tuple(_product(one, site, words) for one in body["products"]),
        totals=(
            (words.gettext("Guests served"), body["guests_served"]),
            (words.gettext("Samples served"), body["pours"]),
            (words.gettext("Servings against a rule"), body["breaches"]["servings"]),
            (words.gettext("Pours refused"), body["refusals"]["asked"]),
        ),
        servers=tuple(
            (name(one["staff_id"]), one["pours"], telling.volume(one["volume_ul"], words))
            for one in body["servers"]
        ),
        house_use=tuple(
            (
                product_name(site, one["product"], words),
                name(one["staff_id"]),
                telling.volume(one["volume_ul"], words),
            )
            for one in body["house_use"]
        ),
        breaches=reasoned(body["breaches"]["reasons"]),
        refusals=reasoned(body["refusals"]["reasons"]),
        after_closing=tuple(
            (
                product_name(site, one["product"], words),
                one["pours"],
                telling.volume(one["volume_ul"], words),
            )
            for one in body["after_closing"]
        ),
        notes=tuple(_notes(body, words)),
        alcohol=words.gettext(
            "Alcohol used in tasting: {amount}, by the stock of the bar. Not a record of bonded premises.",
            amount=telling.pure_alcohol(sum(one["alcohol_ul"] for one in body["products"]), site, words),
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
        moment=f"{dates.day(site.local(signed.at).date(), words)}, {dates.time(signed.at, site.zone, words)}",
    )


def _product(one: Mapping[str, Any], site: Site, words: Words) -> ShownProduct:
    # Told by its own pours, a level can say nothing about them.
    over = None if one["not_weighed"] else one["over_pour_ul"]
    mark = "none" if one["not_weighed"] else "ok" if one["within"] else "wait"
    unknown = ("difference",) if mark == "none" else ()
    amounts = tuple(
        (words.gettext(LABELS[part]), "–", None)
        if part in unknown
        else (words.gettext(LABELS[part]), telling.ml(one[f"{part}_ul"], words), one[f"{part}_ul"] / 1000)
        for part in PARTS
    )
    return ShownProduct(
        name=product_name(site, one["product"], words),
        over_pour="" if over is None else _over(over, words),
        amounts=amounts,
        pours=one["pours"],
        mark=mark,
        verdict=words.gettext(VERDICTS[mark]),
        alcohol=telling.pure_alcohol(one["alcohol_ul"], site, words),
        used=one["alcohol_ul"] > 0,
        notes=tuple(_product_notes(one, words)),
    )


def _over(over_ul: int, words: Words) -> str:
    shown = numbers.number(abs(over_ul) / 1000, 1, words)
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


def csv_text(told: ShownClosing) -> str:
    """Return a closing as a table; text that a spreadsheet could take for a formula gets an apostrophe."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in _rows(told):
        writer.writerow([safe(cell) for cell in row])
    return out.getvalue()


def _rows(told: ShownClosing) -> Iterable[tuple[object, ...]]:
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
