"""A lot's provenance in words and pictures: a paragraph for guests and two flow diagrams."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date

from kiosk.figures.making.lineage import LEAST_SHARE, lineage
from kiosk.paper.flows import Node, flow
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, LINE, QUIET, REST, REST_SOFT, Picture
from kiosk.production.lineage.provenance import Part, Proportions, Provenance, feints
from kiosk.words.catalogs import Words
from kiosk.words.formats import day, joined, number, percent
from kiosk.words.units import translated_thing

EARLIER, STRAIGHT, LOT = "earlier", "straight", "lot"


def paragraph(found: Provenance, bottled_on: date, words: Words) -> str:
    """Return what guests are told, plain and whole; "" where nothing is recorded behind the lot."""
    if not found.known:
        return ""
    told = [*_cane(found, words), *_bought(found, words), *_wood(found, words), *_added(found, words)]
    told.append(words.gettext("It was bottled on {day}.", day=day(bottled_on, words)))
    return " ".join(told)


def _cane(found: Provenance, words: Words) -> Iterator[str]:
    _, cut = words.gettext, [load.row.cut_on for load in found.of("load")]
    if not cut:
        return
    fields = joined([_with_share(field, words) for field in found.of("field")], words)
    first, last = (day(on, words) for on in (min(cut), max(cut)))
    if first == last:
        yield _("Its cane grew in the fields {fields} and was cut on {day}.", fields=fields, day=first)
    else:
        yield _(
            "Its cane grew in the fields {fields} and was cut between {first} and {last}.",
            fields=fields,
            first=first,
            last=last,
        )
    kinds = Counter(run.row.kind for run in found.of("run"))
    steps = [
        words.ngettext("{n} load of cane at the mill", "{n} loads of cane at the mill", len(cut)),
        words.ngettext("{n} wash in the tanks", "{n} washes in the tanks", len(found.of("wash"))),
    ]
    if kinds["spirit"]:
        steps.append(words.ngettext("{n} spirit run", "{n} spirit runs", kinds["spirit"]))
    yield _("Behind it stand {steps}.", steps=joined(steps, words))


def _with_share(part: Part, words: Words) -> str:
    return words.gettext("{name} ({share})", name=part.code, share=percent(part.share, 0, words))


def _bought(found: Provenance, words: Words) -> Iterator[str]:
    parts = [
        words.gettext(
            "{what}, {origin}, received on {day}",
            what=translated_thing(part.row.what, words),
            origin=part.row.origin or words.gettext("origin not recorded"),
            day=day(part.row.received_on, words),
        )
        for part in found.bought
    ]
    if parts:
        share = percent(sum(part.share for part in found.bought), 0, words)
        yield words.gettext(
            "{share} of its alcohol was not made here: {parts}.", share=share, parts="; ".join(parts)
        )


def _wood(found: Provenance, words: Words) -> Iterator[str]:
    fills = found.of("fill")
    if not fills:
        if not found.bought:
            yield words.gettext("It has not lain in wood.")
        return
    stores = joined(list(dict.fromkeys(fill.row.store for fill in fills)), words)
    casks = len({fill.row.cask for fill in fills})
    yield words.ngettext(
        "It lay in {n} cask in {stores}.", "It lay in {n} casks in {stores}.", casks, stores=stores
    )
    years = found.age.years
    if years is None:
        yield words.gettext("Of a part of it the age is not known, so none is told.")
    elif years == 0:
        yield words.gettext("Its youngest spirit spent less than a year in the cask.")
    else:
        yield words.ngettext(
            "Its youngest spirit spent {n} full year in the cask.",
            "Its youngest spirit spent {n} full years in the cask.",
            years,
        )


def _added(found: Provenance, words: Words) -> Iterator[str]:
    things = [
        words.gettext(
            "{what} ({origin})", what=translated_thing(part.row.what, words), origin=part.row.origin
        )
        if part.row.origin
        else translated_thing(part.row.what, words)
        for part in found.added
    ]
    if things:
        yield words.gettext("Besides the spirit there is in it: {things}.", things=joined(things, words))


def where_from(found: Provenance, name: str, words: Words) -> Picture | None:
    """Return where a lot comes from as a flow: fields and received spirit, casks, the bottle."""
    origins = _origins(found, words)
    if not origins:
        return None
    _ = words.gettext
    middle, links = _casks(found, origins, words)
    whole = Node(LOT, name, "", 1.0, CANE, CANE_SOFT)
    columns = [origins, middle, [whole]] if middle else [origins, [whole]]
    links |= {(node.key, LOT): node.value for node in middle or origins}
    title = _("Where lot {name} comes from", name=name)
    said = joined([f"{node.name} {node.amount}" for node in origins], words)
    description = _("The bands are as broad as their shares of the alcohol: {shares}.", shares=said)
    rows = [(node.name, node.amount) for node in (*origins, *middle)]
    return Picture("where-from", title, description, flow(columns, links), (_("What"), _("Share")), rows)


def _origins(found: Provenance, words: Words) -> list[Node]:
    fields = [(part, CANE, CANE_SOFT, part.code) for part in found.of("field")]
    bought = [(part, REST, REST_SOFT, part.row.origin or part.code) for part in found.bought]
    nodes = [
        Node(part.id, said, percent(part.share, 0, words), part.share, colour, soft)
        for part, colour, soft, said in (*fields, *bought)
    ]
    if found.earlier > 0.0:
        told = percent(found.earlier, 1, words)
        nodes.append(Node(EARLIER, words.gettext("earlier runs"), told, found.earlier, QUIET, LINE))
    return nodes


def _casks(
    found: Provenance, origins: list[Node], words: Words
) -> tuple[list[Node], dict[tuple[object, object], float]]:
    """Return the stores of the casks that the lot was drawn from, and what each origin sent there."""
    if not found.of("fill"):
        return [], {}
    links: dict[tuple[object, object], float] = defaultdict(float)
    edges = [(edge.from_id, edge.to_id, float(edge.amount)) for edge in found.upstream.edges]
    into: dict[object, float] = defaultdict(float)
    for fill in found.of("fill"):
        share, cask = found.drawn_from.get(fill.id, 0.0), words.gettext("cask {code}", code=fill.row.cask)
        behind = lineage(fill.id, edges, feints(found.upstream), LEAST_SHARE)
        for key, part in (*behind.origins.items(), (EARLIER, behind.earlier)):
            links[key, cask] += part * share
        into[cask] += share
    straight = 1.0 - sum(into.values())
    if straight > LEAST_SHARE:
        for node in origins:
            rest = node.value - sum(links.get((node.key, cask), 0.0) for cask in into)
            links[node.key, STRAIGHT] = max(rest, 0.0)
        into[STRAIGHT] = straight
    named = {STRAIGHT: words.gettext("not in our casks")}
    nodes = [
        Node(key, named.get(str(key), str(key)), percent(value, 0, words), value, COPPER, COPPER_SOFT)
        for key, value in into.items()
        if value > 0.0
    ]
    return nodes, dict(links)


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
