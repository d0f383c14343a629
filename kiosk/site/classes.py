"""A product's strength against the least that its class in law asks for.

The table stands among the facts: `least_strength_us_rum` is the least of the
class `us_rum`, in % vol, with its law, its year and how it is known.
"""

from __future__ import annotations

from kiosk.site.content import Content
from kiosk.site.faults import Fault
from kiosk.site.reader import Where
from kiosk.site.settings import Product, Site
from kiosk.words.catalogs import N_

LEAST = "least_strength_"


def class_faults(site: Site, content: Content) -> list[Fault]:
    """Return where a product is weaker than its class, or its class is in no table."""
    least = {
        name.removeprefix(LEAST): float(fact.value)
        for name, fact in content.facts.items()
        if name.startswith(LEAST)
    }
    source = (site.folder / "products.toml").read_text(encoding="utf-8")
    faults: list[Fault] = []
    for place, product in enumerate(site.products.values()):
        _check(product, least, Where("products.toml", source, faults, ("product", place)))
    return faults


def _check(product: Product, least: dict[str, float], where: Where) -> None:
    for name in product.classes:
        if name not in least:
            where.at("classes").note(name, N_("one of {choices}"), choices=", ".join(sorted(least)))
        elif product.abv_e2 < round(least[name] * 100):
            remedy = N_("at least {least} % vol for the class {name}, by the table of facts")
            where.at("abv_percent").note(product.abv_e2 / 100, remedy, least=least[name], name=name)
