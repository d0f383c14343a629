"""Names that staff give to experiments and varieties of cane, in every language of the site.

Records hold the code of an experiment, a product that the settings do not list, and the variety of a
field as it was written; pages show the names. An experiment is declared by its name: a lot of it is
recorded without a question from then on.
"""

import re
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
CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", re.ASCII)
"""What may be the code of an experiment, as of every product in the records."""

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


def declared_experiments(session: Session) -> list[str]:
    """Return the codes of the experiments that staff named, in order."""
    n = display_names.c
    return list(session.scalars(select(n.code).where(n.kind == EXPERIMENT).order_by(n.code)))


def things_to_name(session: Session, products: Collection[str]) -> list[NamedThing]:
    """Return the experiments, declared or bottled and not among `products`, then the varieties, by code."""
    known = {(row.kind, row.code): row for row in session.execute(select(display_names))}
    bottled = session.scalars(select(lots.c.product).where(lots.c.product.not_in(list(products))).distinct())
    codes = [(EXPERIMENT, code) for code in sorted({*bottled, *declared_experiments(session)})]
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
    """Save the names of an experiment or a variety at its revision; a new experiment is declared by it.

    Raises NameFault, NoSuchRow for a variety that no field grows, and Stale as every change.
    """
    if not all(names.values()) or max(map(len, names.values())) > LONGEST_NAME:
        raise NameFault(N_("Give it a name of at most {most} characters."), most=LONGEST_NAME)
    things = {(one.kind, one.code): one for one in things_to_name(session, products)}
    if (thing.kind, thing.code) not in things:
        _require_new_experiment(thing, [*products, *(code for kind, code in things if kind == EXPERIMENT)])
    for (kind, code), other in things.items():
        if kind == thing.kind and code != thing.code and other.names.items() & names.items():
            raise NameFault(N_("Another has this name already. Choose one that tells them apart."))
    n, values = display_names.c, {"kind": thing.kind, "code": thing.code, "names": dict(names)}
    row_id = session.scalar(select(n.id).where(n.kind == thing.kind, n.code == thing.code))
    if row_id is None:
        rows.insert(session, display_names, values)
    else:
        rows.change(session, display_names, row_id, thing.revision, values, by=by, at=at)


def _require_new_experiment(thing: NamedThing, taken: Collection[str]) -> None:
    if thing.kind != EXPERIMENT:
        raise NoSuchRow(display_names.name, 0)
    if not CODE.fullmatch(thing.code):
        raise NameFault(
            N_("A code has at most 40 letters without accents, digits, dots, dashes or low lines.")
        )
    if alike := [one for one in taken if one.casefold() == thing.code.casefold()]:
        raise NameFault(N_("{code} is a product or an experiment already."), code=alike[0])
