"""What the scenes of a long day share: the house, its people, its bottles, and what the story counts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from tests.stories.house import Country, House, HouseClock, Page
from tests.stories.season_records import Records
from tests.stories.team import Tally, Worker

MONDAY, SATURDAY, SUNDAY = "2027-03-22", "2027-03-27", "2027-03-28"
POUR_UL = {"island": 7393, "mainland": 10_000}
SEALED = {"blanco": 6, "anejo": 4}
NAMES = {"blanco": "Blanco of the House", "anejo": "Aged of the House"}
FULL_G, G_PER_ML = 1211, 0.948
"""750 mL at 40 % vol (OIML R 22) in 500 g of glass and pourer."""
FLIGHT = ("blanco", "anejo")


@dataclass
class Story:
    """The house, its people, and the tours of the long day by the name that the story gives them."""

    house: House
    clock: HouseClock
    country: Country
    records: Records
    people: dict[str, Worker] = field(default_factory=dict)
    tours: dict[str, str] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)

    @property
    def pour_ul(self) -> int:
        """What one pour of the flight holds."""
        return POUR_UL[self.country.name]

    def poured_ml(self, product: str) -> float:
        """Return what the story counted of a product."""
        return self.tally.poured[product] * self.pour_ul / 1000

    def at(self, hour: str, day: str = SATURDAY) -> None:
        """Let the clock of the house show an hour."""
        self.clock.move(f"{day} {hour}")

    def times(self, page: Page) -> str:
        """Return the words of a page with its times as the clock of 24 hours has them, each before a stop."""
        noon = re.sub(r"\b(1[12]:\d\d)[\s\u00a0][AP]M", r"\1", page.words)
        early = re.sub(r"\b(\d{1,2}:\d\d)[\s\u00a0]AM", r"\1", noon)
        return re.sub(
            r"\b(\d{1,2})(:\d\d)[\s\u00a0]PM", lambda one: f"{int(one[1]) + 12}{one[2]}", early
        ).replace(" .", ".")


def option(page: Page, field_name: str, label: str) -> str:
    """Return the value of a choice of a field by its label."""
    html = re.findall(rf'<select[^>]*name="{field_name}".*?</select>', page.body.decode(), re.S)[0]
    return re.findall(rf'<option value="(\w+)"[^>]*>\s*{label}', html)[0]
