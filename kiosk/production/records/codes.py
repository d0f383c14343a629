"""Codes and products as the records have them, however upper and lower case was typed."""

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.production.records.building import Row
from kiosk.production.records.fields import Field, Type, Values
from kiosk.production.records.kinds import KINDS, LOTS, Kind
from kiosk.site.settings import Site
from kiosk.store.names import declared_experiments
from kiosk.store.tables import production as t

_NAMED = {kind.named: kind.table for kind in KINDS if kind.named}
PRODUCT = "product"


class Codes:
    """The codes of what is referred to, by kind, and the products of the house."""

    def __init__(self, known: Iterable[tuple[str, str]]) -> None:
        self._known = set(known)
        self._by_fold: dict[tuple[str, str], set[str]] = defaultdict(set)
        for kind, code in self._known:
            self._by_fold[kind, code.casefold()].add(code)

    def as_recorded(self, kind: str, code: str) -> str:
        """Return the one code that differs in case alone, else the code as it was written."""
        alike = self._by_fold.get((kind, code.casefold()), set())
        return code if (kind, code) in self._known or len(alike) != 1 else next(iter(alike))

    def values(self, fields: Iterable[Field], values: Values) -> dict[str, Any]:
        """Return typed values with every code and product as it is recorded."""
        return {**values, **dict(self._changed(fields, values))}

    def _changed(self, fields: Iterable[Field], values: Values) -> Iterable[tuple[str, str]]:
        for field in fields:
            kind, value = _kind_of(field, values), values.get(field.name)
            if kind and value is not None and (code := self.as_recorded(kind, value)) != value:
                yield field.name, code


def _kind_of(field: Field, values: Values) -> str:
    """Return what a field's code names, "" for one that names nothing on record."""
    if field.type is not Type.CODE:
        return ""
    stem, row = re.fullmatch(r"(.*?)(_\d+)?", field.name).groups("")  # type: ignore[union-attr]
    if stem == PRODUCT:
        return PRODUCT
    if field.refers.endswith("_kind"):
        return values.get(field.refers + row) or ""
    return field.refers


def codes_of_form(session: Session, site: Site, fields: Sequence[Field], values: Values) -> Codes:
    """Return the codes on record that differ at most in case from those that a form's values name."""
    wanted: dict[str, set[str]] = defaultdict(set)
    for field in fields:
        if (kind := _kind_of(field, values)) and values.get(field.name) is not None:
            wanted[kind].add(values[field.name].lower())
    known = [(kind, code) for kind, codes in wanted.items() for code in _alike(session, site, kind, codes)]
    return Codes(known)


def _alike(session: Session, site: Site, kind: str, codes: Collection[str]) -> Iterable[str]:
    if kind == PRODUCT:
        return known_products(session, site)
    if kind in _NAMED:
        c = _NAMED[kind].c.code
        return session.scalars(select(c).where(func.lower(c).in_(codes))).all()
    b = t.batches.c
    return session.scalars(select(b.code).where(b.kind == kind, func.lower(b.code).in_(codes))).all()


def known_products(session: Session, site: Site) -> list[str]:
    """Return the products that the site lists, then the experiments, declared or of a lot on record."""
    listed = {one.casefold(): one for one in site.products}
    others = {*session.scalars(select(t.lots.c.product).distinct()), *declared_experiments(session)}
    return [*listed.values(), *sorted(one for one in others if one.casefold() not in listed)]


def rows_as_recorded(
    session: Session, site: Site, rows: Mapping[str, Sequence[Row]], known: Collection[tuple[str, str]]
) -> dict[str, list[Row]]:
    """Return the rows of files with codes and products as they are recorded, or as the files write them."""
    products = [(PRODUCT, one) for one in known_products(session, site)] if LOTS.file in rows else []
    recorded, own = Codes(known), set(products)
    for kind in KINDS:
        for row in rows.get(kind.file, ()) if kind.referred else ():
            own.add((kind.referred, recorded.as_recorded(kind.referred, str(row["code"]))))
    codes = Codes({*known, *own})
    return {
        kind.file: [_row(kind, one, recorded, codes) for one in rows[kind.file]]
        for kind in KINDS
        if kind.file in rows
    }


def _row(kind: Kind, row: Row, recorded: Codes, codes: Codes) -> Row:
    if not row.sound:
        return row
    values = codes.values(kind.fields, row.values)
    if kind.referred:
        values["code"] = recorded.as_recorded(kind.referred, values["code"])
    return row if values == row.values else replace(row, values=values)
