"""What is in a glass: spirits, mixers, garnish, and what of it the rules see.

A rule on size or volume sees the spirit part; juice, ice and water count for
nothing but their allergens. Amounts are whole numbers as in `service`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from kiosk.figures.errors import FigureError
from kiosk.figures.service.policy import Offer
from kiosk.figures.service.standard_drinks import ethanol

PURE_E2 = 10_000
"""The strength of pure alcohol, in hundredths of % vol."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing in a glass. `abv_e2` is hundredths of % vol; 0 for mixers, ice, water and garnish.

    `allergens` are those added after distilling. `own` says whether the house made
    it. `liquid` is false for ice and garnish. Raises FigureError for a volume below
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
            raise FigureError("volume_ul", self.volume_ul, "0 µL or more")
        if not 0 <= self.abv_e2 <= PURE_E2:
            raise FigureError("abv_e2", self.abv_e2, f"0 to {PURE_E2} hundredths of % vol")

    @property
    def is_spirit(self) -> bool:
        """Whether this part is what the rules count."""
        return ethanol(self.volume_ul, self.abv_e2) > 0


@dataclass(frozen=True, slots=True)
class Serving:
    """A glass as the rules see it: the spirit in it and nothing else, but everybody's allergens.

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

    def offer(self, product: str, *, released: bool = True) -> Offer:
        """Return the pour that is proposed under the glass's own name, or that of its only spirit."""
        return Offer(product, self.spirit_ul, self.abv_e2, self.neat, released, self.own, self.liquids)


def serving(parts: Iterable[Part]) -> Serving:
    """Return what a glass of `parts` is: spirit volumes and ethanol summed, allergens the union.

    An empty glass is one of no spirit. Exact: nothing is rounded but the strength of
    a mixture of spirits, and that upward.

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
    """Return the strength that counts, in hundredths of % vol.

    `abv_e2` is what is stated or measured; `basis` how it is known ("label",
    "distilled", "laboratory" or "not_known"); `before_e2` the strength of the spirit
    before fruit, sugar and water. Sugar hides the strength from a hydrometer, so one
    that is not known counts as the spirit's before all that, and never as less than
    what is stated: cards say "at most". Raises FigureError where nothing bounds it.
    """
    if basis != "not_known" and abv_e2 is not None:
        return abv_e2
    if before_e2 is None:
        raise FigureError(
            "abv_e2", abv_e2, "a strength that is known, or that of the spirit before fruit and water"
        )
    return max(before_e2, abv_e2 or 0)
