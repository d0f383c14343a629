"""What the sections of an inspection's report share: their shape, and how its facts are said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from kiosk.figures.drinks import drinks_had
from kiosk.site.settings import Site
from kiosk.tasting import telling
from kiosk.tasting.inspecting import Inspection
from kiosk.tasting.inspection_counts import Tally, number
from kiosk.tasting.showing import product_name, size
from kiosk.words import dates, numbers, reasons
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
        return self._at(at, dates.day(self.site.local(at).date(), self.words))

    def when(self, at: datetime) -> str:
        """Say day and time, the year only where it is another than that of the span's end."""
        return self._at(at, self.day(self.site.local(at).date()))

    def day(self, day: date) -> str:
        """Say a day, the year only where it is another than that of the span's end."""
        return dates.day(day, self.words, self.told.last)

    def time(self, at: datetime) -> str:
        """Say the time of day."""
        return dates.time(at, self.site.zone, self.words)

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
        said = numbers.number(drinks, 1, self.words)
        return str(tally.samples), telling.ml(tally.volume_ul, self.words), said

    def measured(self, share: float) -> tuple[Column, ...]:
        """Return the columns of `amounts`."""
        _ = self.words.gettext
        heads = (_("Samples"), _("Spirit, mL"), _("Standard drinks"))
        return tuple(Column(head, share, True) for head in heads)

    def _at(self, at: datetime, day: str) -> str:
        return self.words.gettext("{day}, {time}", day=day, time=self.time(at))
