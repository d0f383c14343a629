"""A lot's provenance in words and pictures: a paragraph for guests and two flow diagrams."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import chain

from kiosk.figures.making.lineage import LEAST_SHARE, lineage
from kiosk.paper.charts import Node, flow
from kiosk.paper.pictures import CANE, CANE_SOFT, COPPER, COPPER_SOFT, LINE, QUIET, REST, REST_SOFT, Picture
from kiosk.production.lineage.provenance import Proportions, Provenance, feints
from kiosk.words.catalogs import Words
from kiosk.words.formats import day, joined, number, percent, percents
from kiosk.words.units import translated_thing

EARLIER, STRAIGHT, LOT = "earlier", "straight", "lot"


def paragraph(provenance: Provenance, bottled_on: date, words: Words) -> str:
    """Return the paragraph about a lot for guests; "" where none of its provenance is recorded."""
    if not provenance.known:
        return ""
    parts = (part(provenance, words) for part in (_cane, _bought, _wood, _added))
    bottled = words.gettext("It was bottled on {day}.", day=day(bottled_on, words))
    return " ".join([*chain.from_iterable(parts), bottled])


def _cane(provenance: Provenance, words: Words) -> Iterator[str]:
    _, cut = words.gettext, [load.row.cut_on for load in provenance.of("load")]
    if not cut:
        return
    grown = zip(provenance.of("field"), _origin_shares(provenance, words), strict=False)
    fields = joined([_("{name} ({share})", name=one.code, share=share) for one, share in grown], words)
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
    kinds = Counter(run.row.kind for run in provenance.of("run"))
    steps = [
        words.ngettext("{n} load of cane at the mill", "{n} loads of cane at the mill", len(cut)),
        words.ngettext("{n} wash in the tanks", "{n} washes in the tanks", len(provenance.of("wash"))),
    ]
    if kinds["spirit"]:
        steps.append(words.ngettext("{n} spirit run", "{n} spirit runs", kinds["spirit"]))
    yield _("Behind it stand {steps}.", steps=joined(steps, words))


def _origin_shares(provenance: Provenance, words: Words) -> list[str]:
    """Return the shares of the fields, of each spirit received and of earlier runs, which add up to 100%."""
    origins = (*provenance.of("field"), *provenance.bought)
    return percents([*(part.share for part in origins), provenance.earlier], 0, words)


def _bought(provenance: Provenance, words: Words) -> Iterator[str]:
    parts = [
        words.gettext(
            "{what}, {origin}, received on {day}",
            what=translated_thing(part.row.what, words),
            origin=part.row.origin or words.gettext("origin not recorded"),
            day=day(part.row.received_on, words),
        )
        for part in provenance.bought
    ]
    if parts:
        share = percent(sum(part.share for part in provenance.bought), 0, words)
        yield words.gettext(
            "{share} of its alcohol was not made here: {parts}.", share=share, parts="; ".join(parts)
        )


def _wood(provenance: Provenance, words: Words) -> Iterator[str]:
    fills = provenance.of("fill")
    if not fills:
        if not provenance.bought:
            yield words.gettext("It has not lain in wood.")
        return
    stores = joined(list(dict.fromkeys(fill.row.store for fill in fills)), words)
    casks = len({fill.row.cask for fill in fills})
    yield words.ngettext(
        "It lay in {n} cask in {stores}.", "It lay in {n} casks in {stores}.", casks, stores=stores
    )
    years = provenance.age.years
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


def _added(provenance: Provenance, words: Words) -> Iterator[str]:
    things = [
        words.gettext(
            "{what} ({origin})", what=translated_thing(part.row.what, words), origin=part.row.origin
        )
        if part.row.origin
        else translated_thing(part.row.what, words)
        for part in provenance.added
    ]
    if things:
        yield words.gettext("Besides the spirit there is in it: {things}.", things=joined(things, words))


def where_from(provenance: Provenance, name: str, words: Words) -> Picture | None:
    """Draw where a lot comes from: fields and received spirit, casks, the bottle. None without any origin."""
    origins = _origins(provenance, words)
    if not origins:
        return None
    _ = words.gettext
    middle, links = _casks(provenance, origins, words)
    whole = Node(LOT, name, "", 1.0, CANE, CANE_SOFT)
    columns = [origins, middle, [whole]] if middle else [origins, [whole]]
    links |= {(node.key, LOT): node.value for node in middle or origins}
    title = _("Where lot {name} comes from", name=name)
    shares = joined([f"{node.name} {node.amount}" for node in origins], words)
    description = _("The bands are as broad as their shares of the alcohol: {shares}.", shares=shares)
    rows = [(node.name, node.amount) for node in (*origins, *middle)]
    return Picture("where-from", title, description, flow(columns, links), (_("What"), _("Share")), rows)


def _origins(provenance: Provenance, words: Words) -> list[Node]:
    fields = [(part, CANE, CANE_SOFT, part.code) for part in provenance.of("field")]
    bought = [(part, REST, REST_SOFT, part.row.origin or part.code) for part in provenance.bought]
    shares = _origin_shares(provenance, words)
    nodes = [
        Node(part.id, name, share, part.share, colour, soft)
        for (part, colour, soft, name), share in zip((*fields, *bought), shares, strict=False)
    ]
    if provenance.earlier > 0.0:
        name = words.gettext("earlier runs")
        nodes.append(Node(EARLIER, name, shares[-1], provenance.earlier, QUIET, LINE))
    return nodes


def _casks(
    provenance: Provenance, origins: list[Node], words: Words
) -> tuple[list[Node], dict[tuple[object, object], float]]:
    """Return the stores of the casks that the lot was drawn from, and what each origin sent there."""
    if not provenance.of("fill"):
        return [], {}
    links: dict[tuple[object, object], float] = defaultdict(float)
    edges = [(edge.from_id, edge.to_id, float(edge.amount)) for edge in provenance.upstream.edges]
    into: dict[object, float] = defaultdict(float)
    for fill in provenance.of("fill"):
        share, cask = (
            provenance.drawn_from.get(fill.id, 0.0),
            words.gettext("cask {code}", code=fill.row.cask),
        )
        of_fill = lineage(fill.id, edges, feints(provenance.upstream), LEAST_SHARE)
        for key, part in (*of_fill.origins.items(), (EARLIER, of_fill.earlier)):
            links[key, cask] += part * share
        into[cask] += share
    straight = 1.0 - sum(into.values())
    if straight > LEAST_SHARE:
        for node in origins:
            rest = node.value - sum(links.get((node.key, cask), 0.0) for cask in into)
            links[node.key, STRAIGHT] = max(rest, 0.0)
        into[STRAIGHT] = straight
    named = {STRAIGHT: words.gettext("not in our casks")}
    poured = {key: value for key, value in into.items() if value > 0.0}
    shares = percents(list(poured.values()), 0, words)
    nodes = [
        Node(key, named.get(str(key), str(key)), share, value, COPPER, COPPER_SOFT)
        for (key, value), share in zip(poured.items(), shares, strict=True)
    ]
    return nodes, dict(links)


def chain_flow(steps: Proportions, bottles: int, aged: bool, words: Words) -> Picture:
    """Draw a lot's pure alcohol from the sugar to the bottle, the losses beside it, each in proportion."""
    _ = words.gettext
    whole = max(steps.possible, steps.hearts + steps.bought)
    last_loss = _("angels and wood") if aged else _("in vats and bottling")
    made, lost, bought = (COPPER, COPPER_SOFT), (QUIET, LINE), (REST, REST_SOFT)
    parts = (
        [("sugar", _("in the sugar"), steps.possible, (CANE, CANE_SOFT))],
        [
            ("wash", _("in the washes"), steps.fermented, made),
            ("yeast", _("the yeast"), steps.possible - steps.fermented, lost),
        ],
        [
            ("hearts", _("hearts"), steps.hearts, made),
            ("bought", _("received"), steps.bought, bought),
            ("pot", _("the stills"), steps.fermented - steps.hearts, lost),
        ],
        [
            ("lot", _("bottled"), steps.bottled, made),
            ("air", last_loss, steps.hearts + steps.bought - steps.bottled, lost),
        ],
    )
    columns = [
        [
            Node(key, name, _("{n} L", n=number(litres, 0, words)), litres / whole, *colours)
            for key, name, litres, colours in column
            if litres > 0.0
        ]
        for column in parts
    ]
    rows = [(node.name, node.amount) for column in columns for node in column]
    head = (_("Step"), _("Pure alcohol"))
    title, description = _title_and_description(steps, bottles, words)
    return Picture("chain", title, description, flow(columns, _bands(steps, whole)), head, rows)


def _title_and_description(steps: Proportions, bottles: int, words: Words) -> tuple[str, str]:
    """Return the title and description of the picture; both name received spirit."""
    _ = words.gettext
    counts = {"kg": number(steps.cane_kg, 0, words), "bottles": number(bottles, 0, words)}
    litres = {name: number(getattr(steps, name), 0, words) for name in ("possible", "bought", "bottled")}
    if steps.bought:
        return _("From {kg} kg of cane and spirit received to {bottles} bottles", **counts), _(
            "Pure alcohol at each step, as broad as it was: the sugar could give {possible} L at most, "
            "{bought} L were received from elsewhere, {bottled} L are in the bottles.",
            **litres,
        )
    return _("From {kg} kg of cane to {bottles} bottles", **counts), _(
        "Pure alcohol at each step, as broad as it was: of {possible} L that the sugar "
        "could give at most, {bottled} L are in the bottles.",
        **litres,
    )


def _bands(steps: Proportions, whole: float) -> dict[tuple[object, object], float]:
    """Return the width of each band; own and received spirit share the losses after the hearts."""
    spirit = steps.hearts + steps.bought
    own, kept = steps.hearts / spirit, steps.bottled / spirit
    litres: dict[tuple[object, object], float] = {
        ("sugar", "wash"): steps.fermented,
        ("sugar", "yeast"): steps.possible - steps.fermented,
        ("wash", "hearts"): steps.hearts,
        ("wash", "pot"): steps.fermented - steps.hearts,
        ("hearts", "lot"): spirit * own * kept,
        ("hearts", "air"): spirit * own * (1 - kept),
        ("bought", "lot"): spirit * (1 - own) * kept,
        ("bought", "air"): spirit * (1 - own) * (1 - kept),
    }
    return {pair: amount / whole for pair, amount in litres.items()}
