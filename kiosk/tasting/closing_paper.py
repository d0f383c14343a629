"""A signed closing on paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kiosk.paper.pages import BOLD, HEADING, PLAIN, QUIET, TITLE, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site
from kiosk.tasting.closing_text import ShownClosing, ShownProduct
from kiosk.words.catalogs import Words

COLUMNS = 5
"""Products side by side: more stand in another table below."""

AMOUNT, AMOUNT_BOLD = right(PLAIN), right(BOLD)


def closing_pdf(told: ShownClosing, site: Site, words: Words, paper: Paper) -> bytes:
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
