"""What the entries about guests and pours add up to.

A state is the fold of its entries by (at, key), whatever order they came in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from kiosk.figures.service.policy import ServiceState
from kiosk.figures.service.standard_drinks import ethanol


@dataclass(frozen=True, slots=True)
class Mark:
    """One entry about a guest."""

    key: str
    at: datetime
    kind: str
    by: int | None = None
    detail: str | None = None


@dataclass(frozen=True, slots=True)
class Pour:
    """One entry of the pours' ledger: for a guest, or set out at a place for nobody yet.

    Of a mixed glass `product` and `volume_ul` are those of what came from the bottle,
    and `recipe` says which glass it was.
    """

    key: str
    at: datetime
    guest_id: int | None
    visit: int | None
    product: str
    volume_ul: int
    abv_e2: int
    neat: bool = True
    recipe: str | None = None


@dataclass(frozen=True, slots=True)
class PourMark:
    """One later entry about a pour: seated, mis_tap, not_served, cleared, to_guest, left, emptied."""

    key: str
    at: datetime
    pour_key: str
    kind: str
    guest_id: int | None = None


@dataclass(frozen=True, slots=True)
class Served:
    """What counts for a guest, after every correction; `at` is when it was served.

    `done_at` is when its glass was empty or left, None while it stands before them.
    `set_out` says that it was poured at a place before its guest sat down there;
    `moved_at` is when it was told to have gone to this guest from another.
    """

    key: str
    at: datetime
    guest_id: int
    visit: int | None
    product: str
    volume_ul: int
    abv_e2: int
    neat: bool = True
    done_at: datetime | None = None
    recipe: str | None = None
    set_out: bool = False
    moved_at: datetime | None = None

    @property
    def glass(self) -> str:
        """What was served: the recipe of a mixed glass, else the product."""
        return self.recipe or self.product

    @property
    def ethanol(self) -> int:
        """Ethanol in 1e-4 µL."""
        return ethanol(self.volume_ul, self.abv_e2)


def guest_state(marks: Iterable[Mark]) -> ServiceState:
    """Fold a guest's `marks`, in any order. Under age ends only by a document seen by another person."""
    checked = none_today = stopped = under_age = False
    marked_by: int | None = None
    for mark in sorted(marks, key=_order):
        match mark.kind:
            case "document" if not under_age or mark.by not in (None, marked_by):
                checked, under_age = True, False
            case "under_age":
                under_age, marked_by = True, mark.by
            case "none_today" | "drinks_today":
                none_today = mark.kind == "none_today"
            case "stopped" | "lifted":
                stopped = mark.kind == "stopped"
    if stopped:
        return ServiceState.STOPPED
    if under_age:
        return ServiceState.UNDER_AGE
    if none_today:
        return ServiceState.NONE_TODAY
    return ServiceState.MAY_BE_SERVED if checked else ServiceState.NOT_CHECKED


def guest_gone(marks: Iterable[Mark]) -> bool:
    """Say whether the last of a guest's `marks` about it is that they left."""
    kinds = [mark.kind for mark in sorted(marks, key=_order) if mark.kind in ("gone", "back")]
    return bool(kinds) and kinds[-1] == "gone"


def counted(pours: Iterable[Pour], pour_marks: Iterable[PourMark]) -> list[Served]:
    """Fold `pours` with their corrections, `pour_marks`, into what counts, in order of time.

    A mis-tap, a glass not served and a cleared mat give back to the guest; a glass
    left or spat out still counts, but no longer stands before the guest, nor does an
    empty one; one that went to another guest moves; one set out counts from when its
    guest sat down.
    """
    of_pour: dict[str, list[PourMark]] = {}
    for mark in sorted(pour_marks, key=_order):
        of_pour.setdefault(mark.pour_key, []).append(mark)
    found = (_corrected(pour, of_pour.get(pour.key, ())) for pour in pours)
    return sorted((served for served in found if served), key=_order)


def _corrected(pour: Pour, marks: Sequence[PourMark]) -> Served | None:
    at, guest_id, done_at, moved_at = pour.at, pour.guest_id, None, None
    for mark in marks:
        match mark.kind:
            case "mis_tap" | "not_served" | "cleared":
                return None
            case "seated" if guest_id is None:
                at, guest_id = mark.at, mark.guest_id
            case "to_guest":
                at = mark.at if guest_id is None else at
                guest_id, done_at, moved_at = mark.guest_id, None, mark.at
            case "left" | "emptied":
                done_at = mark.at
    if guest_id is None:
        return None
    what = (pour.product, pour.volume_ul, pour.abv_e2, pour.neat)
    last = (done_at, pour.recipe, pour.guest_id is None, moved_at)
    return Served(pour.key, at, guest_id, pour.visit, *what, *last)


def _order(entry: Mark | PourMark | Served) -> tuple[datetime, str]:
    return entry.at, entry.key
