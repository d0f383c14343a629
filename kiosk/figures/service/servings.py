"""Glasses and what was served: the spirit in a glass, and pours and guests after every correction.

A rule on size or volume counts the spirit of a glass; juice, ice and water count only
for their allergens. Amounts are whole numbers: volumes in µL, ethanol in 1e-4 µL. A state is
computed from its ledger entries in the order of (at, key), whatever order they came in.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from math import ceil

from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.figures.service.policy import Offer, ServiceState
from kiosk.figures.service.standard_drinks import ethanol

PURE_E2 = 10_000
"""The strength of pure alcohol, in hundredths of % vol."""

STARTS_AND_FINISHES = ("start", "finish", "unstart", "unfinish")
"""The kinds of steps that begin and end a tour; the last two take back what was recorded by mistake."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing in a glass. `abv_e2` is hundredths of % vol; 0 for mixers, ice, water and garnish.

    `allergens` are those added after distilling. `own` is true for what was made
    here. `liquid` is false for ice and garnish. Raises FigureError for a volume below
    zero or a strength out of 0 to 10 000.
    """

    product: str
    volume_ul: int
    abv_e2: int = 0
    allergens: tuple[str, ...] = ()
    own: bool = True
    liquid: bool = True

    def __post_init__(self) -> None:
        if self.volume_ul < 0:
            raise FigureError("volume_ul", self.volume_ul, Bounds(0, unit="µL"))
        if not 0 <= self.abv_e2 <= PURE_E2:
            raise FigureError("abv_e2", self.abv_e2, Bounds(0, PURE_E2))

    @property
    def is_spirit(self) -> bool:
        """Whether this part contains alcohol, so that the rules count it."""
        return ethanol(self.volume_ul, self.abv_e2) > 0


@dataclass(frozen=True, slots=True)
class Serving:
    """A glass as the rules count it: only the spirit in it, but the allergens of every part.

    `ethanol` is in 1e-4 µL. `neat` means no part but spirits; `liquids` counts them
    with the mixers, one for each different product. `own` is false when any spirit
    in it was made elsewhere.
    """

    spirit_ul: int
    ethanol: int
    neat: bool
    liquids: int
    own: bool
    spirits: tuple[str, ...]
    allergens: tuple[str, ...]

    @property
    def abv_e2(self) -> int:
        """Strength of the spirit part in hundredths of % vol, rounded up; 0 without spirit."""
        return ceil(Fraction(self.ethanol, self.spirit_ul)) if self.spirit_ul else 0

    def offer(self, product: str, *, approved: bool = True) -> Offer:
        """Return the proposed pour of this glass, under the name `product`, for the rules to judge."""
        return Offer(product, self.spirit_ul, self.abv_e2, self.neat, approved, self.own, self.liquids)


def serving(parts: Iterable[Part]) -> Serving:
    """Return the spirit, ethanol and allergens of a glass made of `parts`.

    Volumes and ethanol are summed exactly; only the strength of a mixture of spirits
    is rounded, upward. Without parts it is a glass without spirit.

    >>> glass = serving([Part("rum", 20_000, 4000), Part("juice", 90_000, 0, ("sulphites",))])
    >>> glass.spirit_ul, glass.ethanol, glass.neat, glass.liquids, glass.allergens
    (20000, 80000000, False, 2, ('sulphites',))
    """
    given = [part for part in parts if part.volume_ul or part.allergens]
    spirits = [part for part in given if part.is_spirit]
    return Serving(
        spirit_ul=sum(part.volume_ul for part in spirits),
        ethanol=sum(ethanol(part.volume_ul, part.abv_e2) for part in spirits),
        neat=len(spirits) == len(given),
        liquids=len({part.product for part in given if part.liquid and part.volume_ul}),
        own=all(part.own for part in spirits),
        spirits=tuple(dict.fromkeys(part.product for part in spirits)),
        allergens=tuple(dict.fromkeys(allergen for part in given for allergen in part.allergens)),
    )


def counted_abv_e2(abv_e2: int | None, basis: str, before_e2: int | None = None) -> int:
    """Return the strength to use for the rules, in hundredths of % vol, at least the true one.

    `abv_e2` is the strength stated or measured; `basis` how it is known ("label",
    "distilled", "laboratory" or "not_known"); `before_e2` the strength of the spirit
    before fruit, sugar and water. Sugar hides the strength from a hydrometer, so a strength
    that is not known is taken as `before_e2`, and never as less than
    the stated one: cards say "at most". Raises FigureError where neither is known.
    """
    if basis != "not_known" and abv_e2 is not None:
        return abv_e2
    if before_e2 is None:
        raise FigureError("abv_e2", abv_e2, Need.KNOWN_STRENGTH)
    return max(before_e2, abv_e2 or 0)


@dataclass(frozen=True, slots=True)
class Mark:
    """One entry about a guest. `checked`: the server had seen the PIN of the person who made it."""

    key: str
    at: datetime
    kind: str
    by: int | None = None
    detail: str | None = None
    checked: bool = True


@dataclass(frozen=True, slots=True)
class Pour:
    """One entry of the ledger of pours: for a guest, or preset at a seat (`guest_id` is None).

    Of a mixed glass `product` and `volume_ul` are those of the spirit from the bottle,
    and `recipe` names the glass. `checked`: the server had seen the PIN of the person who poured.
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
    checked: bool = True


@dataclass(frozen=True, slots=True)
class PourMark:
    """One later entry about a pour: seated, void, not_served, cleared, reassign, unfinished, finished.

    Where the person who made it is only claimed (not `checked`), it can serve a glass but gives
    nothing back: only seated then has an effect.
    """

    key: str
    at: datetime
    pour_key: str
    kind: str
    guest_id: int | None = None
    checked: bool = True
    reason: str | None = None

    @property
    def effective(self) -> bool:
        """Whether it changes what counts."""
        return self.checked or self.kind == "seated"


@dataclass(frozen=True, slots=True)
class Served:
    """A pour that counts for a guest, after every correction; `at` is when it was served.

    `done_at` is when its glass was empty or left, None while the guest has it.
    `preset` means that it was poured before its guest sat down;
    `moved_at` is when it was moved to this guest from another; `checked` as of its pour.
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
    preset: bool = False
    moved_at: datetime | None = None
    checked: bool = True

    @property
    def glass(self) -> str:
        """The recipe of a mixed glass, else the product."""
        return self.recipe or self.product

    @property
    def ethanol(self) -> int:
        """The ethanol in units of 1e-4 µL."""
        return ethanol(self.volume_ul, self.abv_e2)


RETRACTABLE = frozenset({"id_check", "no_alcohol", "no_alcohol_lifted", "tasted_elsewhere", "briefed"})
"""The kinds of marks that a `void` takes back. Under age ends only by another person's check, and a stop of
service only by a manager."""


def standing_marks(marks: Iterable[Mark]) -> list[Mark]:
    """Return those of `marks` that stand, in order of time: neither a `void` nor a mark that one took back.

    The `detail` of a void is the key of the mark that it takes back. Like every mark that may open
    service it counts only where its maker is `checked`.
    """
    marks = sorted(marks, key=_order)
    taken_back = {mark.detail for mark in marks if mark.kind == "void" and mark.checked}
    return [
        mark
        for mark in marks
        if mark.kind != "void" and not (mark.kind in RETRACTABLE and mark.key in taken_back)
    ]


def guest_state(marks: Iterable[Mark]) -> ServiceState:
    """Return whether a guest may be served, from the `marks` about them in any order.

    Under age ends only when another person than all who marked it has checked an ID. A mark that
    opens service counts only where its maker is `checked`.
    """
    marks = standing_marks(marks)
    no_alcohol = stopped = False
    for mark in marks:
        match mark.kind:
            case "no_alcohol":
                no_alcohol = True
            case "service_stopped":
                stopped = True
            case "no_alcohol_lifted" if mark.checked:
                no_alcohol = False
            case "service_resumed" if mark.checked:
                stopped = False
    checked, under_age = _age(marks)
    if stopped:
        return ServiceState.SERVICE_STOPPED
    if under_age:
        return ServiceState.UNDER_AGE
    if no_alcohol:
        return ServiceState.NO_ALCOHOL
    return ServiceState.MAY_BE_SERVED if checked else ServiceState.NOT_CHECKED


def under_age_marks(marks: Iterable[Mark]) -> list[Mark]:
    """Return those of `marks` of under age that stand: those made since an ID check last lifted them."""
    return _age(standing_marks(marks))[1]


def _age(marks: Iterable[Mark]) -> tuple[bool, list[Mark]]:
    """Return whether an ID was checked that counts, and the marks of under age that stand."""
    checked, standing = False, list[Mark]()
    for mark in marks:
        if mark.kind == "under_age":
            standing.append(mark)
        elif mark.kind == "id_check" and mark.checked:
            own = any(one.checked and mark.by in (None, one.by) for one in standing)
            if not own and (mark.by is not None or not standing):
                checked, standing = True, []
    return checked, standing


def guest_gone(marks: Iterable[Mark]) -> bool:
    """Return whether a guest has left the site, by the latest of their `marks` about leaving or returning."""
    leaving = (mark for mark in marks if mark.kind == "gone" or (mark.kind == "back" and mark.checked))
    kinds = [mark.kind for mark in sorted(leaving, key=_order)]
    return bool(kinds) and kinds[-1] == "gone"


def counted(pours: Iterable[Pour], pour_marks: Iterable[PourMark]) -> list[Served]:
    """Return the pours that count for guests after their corrections, `pour_marks`, in order of time.

    Of `pours`, those void, not served or cleared do not count; one left or spat
    out counts, but the guest no longer has the glass, as with an empty one; one
    moved to another guest counts there; a preset one counts from when its guest sat down.
    """
    of_pour: dict[str, list[PourMark]] = {}
    for mark in sorted((mark for mark in pour_marks if mark.effective), key=_order):
        of_pour.setdefault(mark.pour_key, []).append(mark)
    corrected = (_corrected(pour, of_pour.get(pour.key, ())) for pour in pours)
    return sorted((served for served in corrected if served), key=_order)


def _corrected(pour: Pour, marks: Sequence[PourMark]) -> Served | None:
    at, guest_id, done_at, moved_at = pour.at, pour.guest_id, None, None
    for mark in marks:
        match mark.kind:
            case "void" | "not_served" | "cleared":
                return None
            case "seated" if guest_id is None:
                at, guest_id = mark.at, mark.guest_id
            case "reassign":
                at = mark.at if guest_id is None else at
                guest_id, done_at, moved_at = mark.guest_id, None, mark.at
            case "unfinished" | "finished":
                done_at = mark.at
    if guest_id is None:
        return None
    what = (pour.product, pour.volume_ul, pour.abv_e2, pour.neat)
    last = (done_at, pour.recipe, pour.guest_id is None, moved_at)
    return Served(pour.key, at, guest_id, pour.visit, *what, *last, checked=pour.checked)


def _order(entry: Mark | PourMark | Served) -> tuple[datetime, str]:
    return entry.at, entry.key


def start_and_finish(steps: Iterable[tuple[str, datetime]]) -> dict[str, datetime]:
    """Return when a tour started and finished, by `start` and `finish`; a key is missing until then.

    `steps` are kinds and times in order. A start that is taken back takes the finish with it; of two
    starts, or two finishes, the first counts.
    """
    walked: dict[str, datetime] = {}
    for kind, at in steps:
        if kind == "unstart":
            walked.clear()
        elif kind == "unfinish":
            walked.pop("finish", None)
        elif kind in STARTS_AND_FINISHES:
            walked.setdefault(kind, at)
    return walked
