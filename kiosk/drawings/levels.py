"""Where a value stands in a drawing: levels in round vessels, marks on a stem, the top of a scale."""

import math
from collections.abc import Callable

from kiosk.figures.strength import density, mass_fraction_of_abv


def circle_share(height: float) -> float:
    """Return which share of a circle's area lies below `height`, itself a share of the diameter."""
    u = min(1.0, max(-1.0, 2 * height - 1))
    return (math.pi / 2 + math.asin(u) + u * math.sqrt(1 - u * u)) / math.pi


def circle_height(share: float) -> float:
    """Return how high a lying cask stands when `share` of it is full, as a share of its diameter.

    The cask counts as a cylinder cut across, so the lines of a dipping rod stand closer in the
    middle than above and below.
    """
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if circle_share(middle) < share else (low, middle)
    return low


def revolved_height(share: float, half_at: Callable[[float], float], top: float, steps: int = 400) -> float:
    """Return how high a round vessel stands when `share` of it is left.

    `half_at` gives half its width at a height, `top` the height when it is full; each slice
    counts with the square of its width.
    """
    slices = [half_at((i + 0.5) * top / steps) ** 2 for i in range(steps)]
    wanted, so_far = min(1.0, max(0.0, share)) * sum(slices), 0.0
    for i, piece in enumerate(slices):
        if so_far + piece >= wanted:
            return (i + (wanted - so_far) / piece) * top / steps
        so_far += piece
    return top


def stem_place(value: float, lightest: float, heaviest: float) -> float:
    """Return where a density stands on a float's stem: 0 at the mark of the lightest liquid, on top.

    A float sinks until it displaces its own mass, so the marks follow the inverse of the density.
    """
    return (1 / lightest - 1 / value) / (1 / lightest - 1 / heaviest)


def density_of_abv(abv_percent: float) -> float:
    """Return the density at 20 °C of spirit of a strength in % vol, in kg/m³."""
    return density(mass_fraction_of_abv(abv_percent), 20.0)


def top_of_scale(value: float, usual: float) -> float:
    """Return a round number that a scale may end with: at least the value and at least the usual one.

    >>> top_of_scale(1830, 1000), top_of_scale(1.2, 2)
    (2000.0, 2.0)
    """
    wanted = max(value, usual)
    size = 10.0 ** math.floor(math.log10(wanted))
    return next(step * size for step in (1, 2, 2.5, 3, 4, 5, 6, 8, 10) if step * size >= wanted * (1 - 1e-9))
