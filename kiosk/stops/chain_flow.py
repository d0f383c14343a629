"""The chain from field to bottle as a flow: what the sugar could give, and where it went."""

from __future__ import annotations

from kiosk.paper.flows import Node, flow
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, LINE, QUIET, REST, REST_SOFT, Picture
from kiosk.production.proportions import Proportions
from kiosk.words.catalogs import Words
from kiosk.words.numbers import number


def chain_flow(told: Proportions, bottles: int, aged: bool, words: Words) -> Picture:
    """Draw a lot's pure alcohol from the sugar to the bottle, each loss as broad as it was."""
    _ = words.gettext
    whole = max(told.possible, told.hearts + told.bought)
    last_loss = _("angels and wood") if aged else _("in vats and bottling")

    def node(key: str, name: str, litres: float, lost: bool = False, bought: bool = False) -> Node:
        colours = (QUIET, LINE) if lost else (REST, REST_SOFT) if bought else (COPPER, COPPER_SOFT)
        amount = _("{n} L", n=number(litres, 0, words))
        return Node(key, name, amount, litres / whole, *(colours if key != "sugar" else (CANE, CANE_SOFT)))

    columns = [
        [node("sugar", _("in the sugar"), told.possible)],
        [
            node("wash", _("in the washes"), told.fermented),
            node("yeast", _("the yeast"), told.possible - told.fermented, lost=True),
        ],
        [
            node("hearts", _("hearts"), told.hearts),
            node("pot", _("the stills"), told.fermented - told.hearts, lost=True),
        ],
        [
            node("lot", _("bottled"), told.bottled),
            node("air", last_loss, told.hearts + told.bought - told.bottled, lost=True),
        ],
    ]
    if told.bought:
        columns[2].insert(1, node("bought", _("received"), told.bought, bought=True))
    columns = [[one for one in column if one.value > 0.0] for column in columns]
    rows = [(one.name, one.amount) for column in columns for one in column]
    head = (_("Step"), _("Pure alcohol"))
    title, said = _words(told, bottles, words)
    return Picture("chain", title, said, flow(columns, _links(told, whole)), head, rows)


def _words(told: Proportions, bottles: int, words: Words) -> tuple[str, str]:
    """Return title and description; received spirit is named in both."""
    _ = words.gettext
    counted = {"kg": number(told.cane_kg, 0, words), "bottles": number(bottles, 0, words)}
    litres = {name: number(getattr(told, name), 0, words) for name in ("possible", "bought", "bottled")}
    if told.bought:
        return _("From {kg} kg of cane and spirit received to {bottles} bottles", **counted), _(
            "Pure alcohol at each step, as broad as it was: the sugar could give {possible} L at most, "
            "{bought} L were received from elsewhere, {bottled} L are in the bottles.",
            **litres,
        )
    return _("From {kg} kg of cane to {bottles} bottles", **counted), _(
        "Pure alcohol at each step, as broad as it was: of {possible} L that the sugar "
        "could give at most, {bottled} L are in the bottles.",
        **litres,
    )


def _links(told: Proportions, whole: float) -> dict[tuple[object, object], float]:
    """Return the bands; what is lost after the hearts is borne by own and received spirit alike."""
    spirit = told.hearts + told.bought
    own, kept = told.hearts / spirit, told.bottled / spirit
    litres: dict[tuple[object, object], float] = {
        ("sugar", "wash"): told.fermented,
        ("sugar", "yeast"): told.possible - told.fermented,
        ("wash", "hearts"): told.hearts,
        ("wash", "pot"): told.fermented - told.hearts,
        ("hearts", "lot"): spirit * own * kept,
        ("hearts", "air"): spirit * own * (1 - kept),
        ("bought", "lot"): spirit * (1 - own) * kept,
        ("bought", "air"): spirit * (1 - own) * (1 - kept),
    }
    return {pair: amount / whole for pair, amount in litres.items()}
