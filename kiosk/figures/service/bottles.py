"""An open bottle: its tare, its weighings, and the balance of what was poured, spilt and left.

Glass varies, and sugar hides strength: a bottle has its own tare, determined when it
is opened full, and its spirit's own density. Volumes of pours are whole
microlitres at the room's temperature, weights grams as a scale shows them (the
buoyancy of air, 0.1 %, is ignored).

Nothing is ever added to a bottle. A weighing heavier than the one before it, or
lighter than the empty glass, is reported as a `Finding` and not used.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from kiosk.figures.errors import Bounds, FigureError, not_negative, within
from kiosk.figures.service.servings import Pour, PourMark
from kiosk.figures.strength.mixture import density, mass_fraction_of_abv

REFERENCE_C = 20.0
SCALE_HALF_DIVISION_G = 0.5
"""Half the division of a scale that shows whole grams."""


class Fate(StrEnum):
    """What became of a pour; a void one never left the bottle."""

    SERVED = "served"
    CLEARED = "cleared"  # poured and not served
    PRESET = "preset"
    NOT_POURED = "not_poured"


class Finding(StrEnum):
    """Why a weighing is rejected: a wrong bottle, a wrong tare or a refill."""

    RISES = "level_rises"
    BELOW_EMPTY = "below_empty"


@dataclass(frozen=True, slots=True)
class Bottle:
    """A bottle or jug. `tare_g` is the weight of the empty vessel with its pourer, None if not weighed."""

    size_ml: int
    density_g_ml: float  # of what is in it, at 20 °C
    abv_percent: float
    tare_g: float | None = None


@dataclass(frozen=True, slots=True)
class BottleEntry:
    """One entry about a bottle: open, weigh, spill, break, house_use or close."""

    key: str
    at: datetime
    kind: str
    gross_g: float | None = None
    temperature_c: float | None = None
    volume_ul: int | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weighing that was accepted, and the content that follows from it."""

    key: str
    at: datetime
    gross_g: float
    mass_g: float  # of the spirit alone
    volume_ul: int  # at the room's temperature


@dataclass(frozen=True, slots=True)
class OpenBottles:
    """What is left in the open bottles of one product in one room, and the size of its bottles, in mL."""

    left_ml: float
    size_ml: int


@dataclass(frozen=True, slots=True)
class BottleAccount:
    """The balance of a bottle in µL: its parts add up to `size_ul` exactly.

    `left_ul` is the rest by the entries, below 0 where more was poured than a
    bottle holds. `level_ul` is the best estimate of the content now: the last
    weighing less the entries since.
    """

    size_ul: int
    served_ul: int = 0
    cleared_ul: int = 0
    preset_ul: int = 0
    spilt_ul: int = 0
    house_use_ul: int = 0
    level_ul: int = 0
    pours: int = 0
    weighed: Weighed | None = None
    opened_at: datetime | None = None
    ended_at: datetime | None = None  # closed or broken
    tare_g: float | None = None
    findings: Mapping[str, Finding] = field(default_factory=dict)  # by the weighing's key

    @property
    def left_ul(self) -> int:
        """The µL left in the bottle by its entries alone."""
        gone = self.served_ul + self.cleared_ul + self.preset_ul + self.spilt_ul + self.house_use_ul
        return self.size_ul - gone


def plain_density_g_ml(abv_percent: float) -> float:
    """Return the density in g/mL at 20 °C of spirit without sugar, of `abv_percent` % vol.

    Source: OIML R 22. Raises FigureError outside 0 to 100 % vol.
    """
    return density(mass_fraction_of_abv(abv_percent), REFERENCE_C) / 1000.0


def density_at(density_g_ml: float, abv_percent: float, temperature_c: float) -> float:
    """Return the density of a spirit in g/mL at `temperature_c`, from `density_g_ml` at 20 °C (0.7 to 1.5).

    It expands like ethanol and water of its strength, `abv_percent` in % vol (OIML R 22); sugar changes
    that by less than a thousandth over ten degrees.
    """
    within("density_g_ml", density_g_ml, 0.7, 1.5, "g/mL")
    p = mass_fraction_of_abv(abv_percent)
    return density_g_ml * density(p, temperature_c) / density(p, REFERENCE_C)


def tare_at_opening_g(gross_g: float, nominal_ml: float, density_g_ml: float) -> float:
    """Return the tare in g of a bottle with its pourer: `gross_g` when full less `nominal_ml` of spirit.

    `density_g_ml` at 20 °C, where the nominal content is filled. Raises FigureError
    `lighter_than_content` when the bottle weighs less than its content.
    """
    not_negative("gross_g", gross_g, "g")
    tare = gross_g - nominal_ml * within("density_g_ml", density_g_ml, 0.7, 1.5, "g/mL")
    if tare <= 0.0:
        content = Bounds(round(nominal_ml * density_g_ml), unit="g", above=True)
        raise FigureError("gross_g", gross_g, content, "lighter_than_content")
    return tare


def left_ml(gross_g: float, tare_g: float, density_g_ml: float) -> float:
    """Return the mL left in a bottle by its weight: (`gross_g` - `tare_g`) / `density_g_ml`.

    The density and the volume are those at the spirit's temperature.
    """
    return (gross_g - tare_g) / density_g_ml


def fate(pour: Pour, marks: Iterable[PourMark]) -> Fate:
    """Return what became of one `pour` after its corrections, `marks` in any order.

    A pour that counts for a guest is served, also where it was left or spat out.
    """
    seated = pour.guest_id is not None
    for mark in sorted((one for one in marks if one.effective), key=lambda one: (one.at, one.key)):
        match mark.kind:
            case "void":
                return Fate.NOT_POURED
            case "not_served" | "cleared":
                return Fate.CLEARED
            case "seated" | "reassign":
                seated = True
    return Fate.SERVED if seated else Fate.PRESET


def account(
    bottle: Bottle, entries: Iterable[BottleEntry], pours: Iterable[tuple[Pour, Fate]]
) -> BottleAccount:
    """Return the balance of a `bottle` from its `entries` and `pours`, taken in order of time and key."""
    running = _Running(bottle)
    events: list[BottleEntry | tuple[Pour, Fate]] = [*entries, *pours]
    for event in sorted(events, key=_order):
        if isinstance(event, BottleEntry):
            running.enter(event)
        else:
            running.pour(*event)
    return running.account()


def _order(event: BottleEntry | tuple[Pour, Fate]) -> tuple[datetime, bool, str]:
    """Return the sort key of an event; opening a bottle precedes a pour of the same instant."""
    one = event if isinstance(event, BottleEntry) else event[0]
    return one.at, not isinstance(one, BottleEntry) or one.kind != "open", one.key


class _Running:
    """The balance of a bottle while its events are applied in order."""

    def __init__(self, bottle: Bottle) -> None:
        self.bottle = bottle
        self.size_ul = bottle.size_ml * 1000
        self.parts: dict[str, int] = {"spilt": 0, "house_use": 0, **dict.fromkeys(Fate, 0)}
        self.level_ul = self.size_ul
        self.pours = 0
        self.tare_g = bottle.tare_g
        self.weighed: Weighed | None = None
        self.findings: dict[str, Finding] = {}
        self.opened_at: datetime | None = None
        self.ended_at: datetime | None = None

    def pour(self, pour: Pour, became: Fate) -> None:
        if became is not Fate.NOT_POURED:
            self.pours += 1
            self._take(became, pour.volume_ul)

    def enter(self, entry: BottleEntry) -> None:
        match entry.kind:
            case "open":
                self._open(entry)
            case "weigh" | "close":
                self._weigh(entry)
                self._take("spilt", entry.volume_ul or 0)  # poured away when it was closed
            case "spill" | "house_use":
                self._take("spilt" if entry.kind == "spill" else "house_use", entry.volume_ul or 0)
            case "break":
                rest = max(0, self.level_ul) if entry.volume_ul is None else entry.volume_ul
                self._take("spilt", rest)
        if entry.kind in ("close", "break") and self.ended_at is None:
            self.ended_at = entry.at

    def _take(self, part: str, volume_ul: int) -> None:
        self.parts[part] += volume_ul
        self.level_ul -= volume_ul

    def _open(self, entry: BottleEntry) -> None:
        if self.opened_at is not None:
            return
        self.opened_at = entry.at
        if entry.gross_g is not None and self.tare_g is None:
            self.tare_g = entry.gross_g - self.bottle.size_ml * self.bottle.density_g_ml
        self._weigh(entry)

    def _weigh(self, entry: BottleEntry) -> None:
        if entry.gross_g is None or self.tare_g is None:
            return
        finding = rejection(entry.gross_g, self.tare_g, self.weighed)
        if finding:
            self.findings[entry.key] = finding
            return
        mass_g = max(0.0, entry.gross_g - self.tare_g)
        warm_c = REFERENCE_C if entry.temperature_c is None else entry.temperature_c
        here = density_at(self.bottle.density_g_ml, self.bottle.abv_percent, warm_c)
        self.level_ul = round(mass_g / here * 1000)
        self.weighed = Weighed(entry.key, entry.at, entry.gross_g, mass_g, self.level_ul)

    def account(self) -> BottleAccount:
        return BottleAccount(
            size_ul=self.size_ul,
            served_ul=self.parts[Fate.SERVED],
            cleared_ul=self.parts[Fate.CLEARED],
            preset_ul=self.parts[Fate.PRESET],
            spilt_ul=self.parts["spilt"],
            house_use_ul=self.parts["house_use"],
            level_ul=0 if self.ended_at else max(0, self.level_ul),
            pours=self.pours,
            weighed=self.weighed,
            opened_at=self.opened_at,
            ended_at=self.ended_at,
            tare_g=self.tare_g,
            findings=self.findings,
        )


def rejection(gross_g: float, tare_g: float, before: Weighed | None) -> Finding | None:
    """Return why a weighing is rejected, or None: a level never rises, nor falls below empty.

    `gross_g` is what the scale shows, `tare_g` the empty bottle, `before` the last accepted
    weighing. Two readings of a scale in whole grams may differ by one by rounding.
    """
    if gross_g < tare_g - 2 * SCALE_HALF_DIVISION_G:
        return Finding.BELOW_EMPTY
    if before is not None and gross_g > before.gross_g + 2 * SCALE_HALF_DIVISION_G:
        return Finding.RISES
    return None


def by_pour(pours: Sequence[Pour], marks: Iterable[PourMark]) -> list[tuple[Pour, Fate]]:
    """Return each of `pours` with what became of it, from the `marks` of all of them."""
    of_pour: dict[str, list[PourMark]] = {}
    for mark in marks:
        of_pour.setdefault(mark.pour_key, []).append(mark)
    return [(pour, fate(pour, of_pour.get(pour.key, ()))) for pour in pours]
