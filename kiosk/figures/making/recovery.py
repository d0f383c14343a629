"""The balance of a still run: the alcohol that went in, that came out, and that is missing.

A wash run turns wash into low wines, a spirit run low wines and feints into hearts.
Part of a charge is feints, heads and tails of earlier runs that are distilled
again, so the alcohol is counted by source and by cut.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kiosk.figures.errors import FigureError, Need
from kiosk.figures.making.cuts import Cut, Reading, cuts
from kiosk.figures.strength.quantities import pure_alcohol_l

LEAST_SHARE, MOST_SHARE = 0.80, 1.005
"""Recoveries below and above which the charge or a gauge is wrong: still losses are some per cent, and
two honest measurements differ by half a per cent (common practice)."""
FEINTS = "feints"
POT = "pot"
TO_BE_FEINTS = frozenset({"heads", "tails"})
"""The cuts that go back into a later charge where no other use is recorded (common practice)."""


@dataclass(frozen=True, slots=True)
class Receipt:
    """One part of a charge: `source` is wash, low_wines or feints; litres and % vol at 20 °C."""

    source: str
    volume_l: float
    abv_percent: float


@dataclass(frozen=True, slots=True)
class Receiver:
    """A receiver gauged at the end of a run: litres and % vol at 20 °C.

    `cut` is low_wines, heads, hearts, tails or pot (the rest in the still);
    `fate` is cask, tank, feints, destroyed, or "" where none is recorded:
    heads and tails are then feints.
    """

    cut: str
    volume_l: float
    abv_percent: float
    fate: str = ""


@dataclass(frozen=True, slots=True)
class Recovery:
    """The balance of one run, in litres of pure alcohol.

    `charge_l` went in, by source in `by_source`; `received_l` came out, by cut in
    `by_cut` (the pot among them). `feints_in_l` and `feints_out_l` are the recycled
    part. `product_l` was distilled and is neither feints nor destroyed:
    low wines of a wash run, hearts of a spirit run.
    """

    by_source: Mapping[str, float]
    by_cut: Mapping[str, float]
    feints_in_l: float
    feints_out_l: float
    product_l: float

    @property
    def charge_l(self) -> float:
        """The pure alcohol that went in, in litres."""
        return sum(self.by_source.values())

    @property
    def received_l(self) -> float:
        """The pure alcohol in all receivers, the pot included, in litres."""
        return sum(self.by_cut.values())

    @property
    def share(self) -> float:
        """Recovery, received / charge; above 1 means that a gauge or the charge is wrong."""
        return self.received_l / self.charge_l

    @property
    def usual(self) -> tuple[float, float]:
        """The least and the most that a still recovers."""
        return LEAST_SHARE, MOST_SHARE

    @property
    def is_credible(self) -> bool:
        """Whether a still may have recovered so much and no more."""
        return LEAST_SHARE <= self.share <= MOST_SHARE

    @property
    def lost_l(self) -> float:
        """The pure alcohol in no receiver, in litres; below 0 where more came out than went in."""
        return self.charge_l - self.received_l

    @property
    def new_l(self) -> float:
        """The pure alcohol of the charge that is not feints, in litres."""
        return self.charge_l - self.feints_in_l

    @property
    def product_of_new_share(self) -> float | None:
        """Product plus growth of the feints, over `new_l`; None for a charge of feints alone.

        Feints that only pass through do not change it.
        """
        if not self.new_l > 0.0:
            return None
        return (self.product_l + self.feints_out_l - self.feints_in_l) / self.new_l


@dataclass(frozen=True, slots=True)
class Difference:
    """The gauge of a receiver less the sum of the readings: litres, % vol and pure alcohol at 20 °C.

    `share` is the difference of pure alcohol over the gauge's; 0 for an empty receiver.
    """

    volume_l: float
    abv_percent: float
    pure_alcohol_l: float
    share: float


def recovery(charge: Iterable[Receipt], receivers: Iterable[Receiver]) -> Recovery:
    """Return the balance of alcohol of a wash run or a spirit run.

    `charge` is every receipt that went into the still; `receivers` every one gauged at
    the end, the pot included. Litres 0 or more and 0 to 100 % vol, both
    at 20 °C. Raises FigureError `out_of_range`, and `too_few` for a charge without
    alcohol. Source: conservation of ethanol; 27 CFR 19.301 wants unfinished spirits
    gauged before they are mingled.
    """
    charged, received = list(charge), list(receivers)
    by_source = _sums((one.source, _alcohol(one)) for one in charged)
    if not sum(by_source.values()) > 0.0:
        raise FigureError("charge", len(charged), Need.A_RECEIPT_WITH_ALCOHOL, "too_few")
    return Recovery(
        by_source=by_source,
        by_cut=_sums((one.cut, _alcohol(one)) for one in received),
        feints_in_l=by_source.get(FEINTS, 0.0),
        feints_out_l=sum(_alcohol(one) for one in received if _is_feints(one)),
        product_l=sum(_alcohol(one) for one in received if _is_product(one)),
    )


def against_gauges(readings: Iterable[Reading], receivers: Iterable[Receiver]) -> dict[str, Difference]:
    """Return the difference between gauge and readings for every cut that was both read and gauged.

    `readings` of one run in any order; `receivers` of it, several of a cut summed by
    `pure_alcohol_l` and volume. Raises FigureError as `cuts` and `recovery`.
    Source: as `cuts`.
    """
    run = cuts(readings)
    gauged = list(receivers)
    alcohol = _sums((one.cut, _alcohol(one)) for one in gauged)
    litres = _sums((one.cut, one.volume_l) for one in gauged)
    return {cut: _difference(run[cut], litres[cut], alcohol[cut]) for cut in run if cut in alcohol}


def _difference(read: Cut, volume_l: float, alcohol_l: float) -> Difference:
    abv = 100.0 * alcohol_l / volume_l if volume_l else 0.0
    more_l = alcohol_l - read.pure_alcohol_l
    share = more_l / alcohol_l if alcohol_l else 0.0
    return Difference(volume_l - read.volume_l, abv - read.abv_percent, more_l, share)


def _alcohol(one: Receipt | Receiver) -> float:
    return pure_alcohol_l(one.volume_l, one.abv_percent)


def _is_feints(receiver: Receiver) -> bool:
    return receiver.fate == FEINTS or (not receiver.fate and receiver.cut in TO_BE_FEINTS)


def _is_product(receiver: Receiver) -> bool:
    return receiver.cut != POT and receiver.fate != "destroyed" and not _is_feints(receiver)


def _sums(amounts: Iterable[tuple[str, float]]) -> dict[str, float]:
    sums: dict[str, float] = {}
    for name, amount in amounts:
        sums[name] = sums.get(name, 0.0) + amount
    return sums
