"""Names that staff give to experiments and varieties of cane, in every language of the site.

Records hold the code of an experiment, a product that the settings do not list, and the variety of a
field as it was written; pages show the names.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.store import rows
from kiosk.store.errors import N_, NoSuchRow
from kiosk.store.tables.production import fields, lots
from kiosk.store.tables.shared import display_names

EXPERIMENT, VARIETY = "experiment", "variety"
LONGEST_NAME = 60

Names = Mapping[tuple[str, str], Mapping[str, str]]
"""Names by language, by kind and code of what they name."""


class NameFault(Exception):
    """Names that cannot be saved."""

    status = 422

    def __init__(self, message: str, **facts: object) -> None:
        super().__init__(message)
        self.message, self.facts = message, facts


@dataclass(frozen=True, slots=True)
class NamedThing:
    """An experiment or a variety with its names by language; none, and revision 0, before it has any."""

    kind: str
    code: str
    revision: int
    names: Mapping[str, str]


def typed_names(form: Mapping[str, str], languages: Sequence[str]) -> dict[str, str]:
    """Return the names of a form by language: `name` is that of the first, `name-es` that of Spanish.

    A language whose field was left empty calls the thing as the first language does.
    """
    typed = {code: " ".join(form.get(f"name-{code}", "").split()) for code in languages}
    first = " ".join(form.get("name", "").split())
    return {code: name or first for code, name in typed.items()}


def read_names(session: Session) -> Names:
    """Return every name that staff gave."""
    n = display_names.c
    return {(kind, code): names for kind, code, names in session.execute(select(n.kind, n.code, n.names))}


def things_to_name(session: Session, products: Collection[str]) -> list[NamedThing]:
    """Return the experiments, products of lots that are not among `products`, then the varieties, by code."""
    known = {(row.kind, row.code): row for row in session.execute(select(display_names))}
    unlisted = select(lots.c.product).where(lots.c.product.not_in(list(products))).distinct()
    codes = [(EXPERIMENT, code) for code in session.scalars(unlisted.order_by(lots.c.product))]
    varieties = select(fields.c.variety).distinct().order_by(fields.c.variety)
    codes += [(VARIETY, code) for code in session.scalars(varieties)]
    return [
        NamedThing(*key, *((known[key].revision, known[key].names) if key in known else (0, {})))
        for key in codes
    ]


def save_names(
    session: Session,
    products: Collection[str],
    thing: NamedThing,
    names: Mapping[str, str],
    *,
    by: int | None,
    at: datetime,
) -> None:
    """Save the names of an experiment or a variety at its revision.

    Raises NameFault, NoSuchRow where the records do not know it, and Stale as every change.
    """
    if not all(names.values()) or max(map(len, names.values())) > LONGEST_NAME:
        raise NameFault(N_("Give it a name of at most {most} characters."), most=LONGEST_NAME)
    things = {(one.kind, one.code): one for one in things_to_name(session, products)}
    if (thing.kind, thing.code) not in things:
        raise NoSuchRow(display_names.name, 0)
    for (kind, code), other in things.items():
        if kind == thing.kind and code != thing.code and other.names.items() & names.items():
            raise NameFault(N_("Another has this name already. Choose one that tells them apart."))
    n, values = display_names.c, {"kind": thing.kind, "code": thing.code, "names": dict(names)}
    row_id = session.scalar(select(n.id).where(n.kind == thing.kind, n.code == thing.code))
    if row_id is None:
        rows.insert(session, display_names, values)
    else:
        rows.change(session, display_names, row_id, thing.revision, values, by=by, at=at)
