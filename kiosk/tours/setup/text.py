"""The set-up list as text, and as one sheet of paper."""

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.paper import sheet
from kiosk.paper.fonts import BOLD as BOLD_FACE
from kiosk.paper.pages import HEADING, QUIET, TITLE, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.products import ALLERGEN_WORDS, product_name
from kiosk.site.settings import Site
from kiosk.tours.setup.lines import Line, SetUp
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words

LABELS: Mapping[str, str] = {
    "glasses": N_("Tasting glasses"),
    "water": N_("Water glasses"),
    "mats": N_("Mats: {of}"),
    "welcome": N_("Welcome drinks with alcohol"),
    "welcome_free": N_("Welcome drinks without alcohol"),
    "without_alcohol": N_("Seats without alcohol"),
    "allergen": N_("Allergy: {of}"),
    "ear_plugs": N_("Pairs of ear plugs, for: {of}"),
    "closed_shoes": N_("Closed shoes, for: {of}"),
    "stickers": N_("Number stickers"),
    "bottles": N_("Bottles to open: {of}. Needed: {needed} mL; open: {left} mL"),
}
"""What each kind of line is called."""


MOST_STOPS = 3
"""The most stops that a line names."""


@dataclass(frozen=True, slots=True)
class LineText:
    """A line as it is shown."""

    code: str
    label: str
    amount: str
    done: bool


@dataclass(frozen=True, slots=True)
class ListText:
    """The whole list as it is shown: the sums, and the lines of each tour by its id."""

    sums: tuple[LineText, ...]
    tours: Mapping[int, tuple[LineText, ...]]


def list_text(listed: SetUp, site: Site, stop_names: Mapping[str, str], words: Words) -> ListText:
    """Return the lines of a list in the reader's language; `stop_names` are by slug."""

    def shown(line: Line) -> LineText:
        facts = {"of": _of(line, site, stop_names, words)}
        facts |= {
            "needed": formats.number(line.needed_ml, 0, words),
            "left": formats.number(line.left_ml, 0, words),
        }
        label = words.gettext(LABELS[line.kind], **facts)
        return LineText(line.code, label, formats.number(line.amount, 0, words), line.code in listed.done)

    return ListText(
        tuple(map(shown, listed.sums)), {one.tour.id: tuple(map(shown, one.lines)) for one in listed.tours}
    )


def _of(line: Line, site: Site, stop_names: Mapping[str, str], words: Words) -> str:
    match line.kind:
        case "mats":
            return line.of.upper()
        case "allergen":
            return words.gettext(ALLERGEN_WORDS[line.of])
        case "ear_plugs" | "closed_shoes":
            stops = [stop_names.get(slug, slug) for slug in line.of.split()]
            return (
                formats.joined(stops, words) if len(stops) <= MOST_STOPS else words.gettext("the whole walk")
            )
        case "bottles":
            room, _, product = line.of.partition(" ")
            return f"{product_name(site, product, words)} ({site.room_name(room, words.language)})"
    return line.of


CELL = sheet.style(8.5)
AMOUNT = right(sheet.style(8.5, font=BOLD_FACE))


def set_up_pdf(
    listed: SetUp, text: ListText, notes: list[str], site: Site, words: Words, paper: Paper
) -> bytes:
    """Return the list as a PDF with a box to tick on each line, the same bytes each time.

    `notes` are lines on the whole day, such as who serves and what is closed.
    """
    title = words.gettext("Set-up list, {day}", day=formats.weekday(listed.day, words))
    pages = Pages(paper, f"{title} · {site.name}", site.name, words.language)
    pages.text(title, TITLE, after=3 * MM)
    for note in notes:
        pages.text(note, QUIET, after=1 * MM)
    _table(pages, text.sums)
    for one in listed.tours:
        at = formats.time(one.tour.starts_at, site.zone, words)
        head = words.gettext("Tour {letter}, {time}", letter=one.tour.letter, time=at)
        guide = one.tour.guide or words.gettext("Guide: none yet")
        pages.text(
            f"{head} · {guide} · {site.room_name(one.tour.room, words.language)}", HEADING, after=1 * MM
        )
        _table(pages, text.tours[one.tour.id])
        for told in (*one.needs.allergy_notes, *one.needs.access, *one.needs.notes):
            pages.text(told, QUIET, after=1 * MM)
    return pages.done()


def _table(pages: Pages, lines: tuple[LineText, ...]) -> None:
    """Set lines two by two, so that a day fits on one sheet."""
    cells = [
        ((line.amount, AMOUNT, 0.09), (f"[{'x' if line.done else '  '}] {line.label}", CELL, 0.41))
        for line in lines
    ]
    empty = (("", AMOUNT, 0.09), ("", CELL, 0.41))
    for n in range(0, len(cells), 2):
        pages.line([*cells[n], *(cells[n + 1] if n + 1 < len(cells) else empty)])
