"""Signing an approval, and ending one before its last day.

A cask sample is recorded on its cask in the transaction that signs its approval.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.site.products import ABV_BASES
from kiosk.site.settings import APPROVAL_KINDS, Site
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.errors import TastingError, WhyMissing
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault, FormFaults

STRONGEST_E2 = 9600
LONGEST_CODE = 34
"""So that a bottle's code, which adds a stroke and a number, fits its column."""

LIGHTEST_E4, HEAVIEST_E4 = 7_800, 14_000
"""Densities of what may be poured, in 1e-4 g/mL: no spirit is lighter, no syrup heavier."""

SOURCES: Mapping[str, tuple[str, ...]] = {
    "bottled": ("lot", "received"),
    "new_make": ("receiver", "run"),
    "experiment": ("lot", "blend", "receiver", "run"),
    "mixed": ("lot",),
}
"""Where each kind comes from. A cask sample comes from what lies in its cask now."""

FROM_STOCK = frozenset(APPROVAL_KINDS) - {"mixed"}
"""Kinds that name the document of their removal; what is mixed here was removed bottle by bottle."""

NEEDED = N_("This value is needed.")
TAKEN = N_("An approval with this code exists already. Choose another code.")
TOO_LONG = N_("A code has at most {most} characters.")
NO_KIND = N_("Choose what you approve.")
NO_PRODUCT = N_("Choose a product. Enter a new one in the house’s product list first.")
ONLY_AN_EXPERIMENT = N_("The house has no such product yet: approve it as an experiment.")
SOMETHING_ADDED = N_(
    "Confirm that nothing was added after distilling. If it holds an allergen or another addition, enter it "
    "in the house’s product list first."
)
NO_SUCH_SOURCE = N_("Nothing of this code is on record for this kind. Check the code.")
NOT_FILLED = N_("This cask holds nothing now. Check the code.")
NO_BASIS = N_("Choose how the strength is known.")
TOO_STRONG = N_("A strength is from 0 to {most} % vol.")
OWN_STRENGTH = N_("A cask sample, new make, or what is no product yet states its own strength, as measured.")
OTHER_PRODUCT = N_("This lot is of another product: {product}.")
ODD_DENSITY = N_("A density lies between {low} and {high} g/mL.")
NO_FORMULA = N_("The law asks a formula or an approval for this: enter its number.")
NO_ROOM = N_("Choose at least one room.")
DAYS_TURNED = N_("The last day is before the first.")
PAST = N_("The last day is past already.")
ENDED = N_("This approval has already ended.")


@dataclass(frozen=True, slots=True)
class NewApproval:
    """An approval to sign. `source` is the code of a lot, cask or run; `taken_ul` left the cask.

    `nothing_added`: nothing went in after distilling, so it has no allergen to name.
    """

    code: str
    kind: str
    product: str
    source: str
    abv_e2: int | None
    abv_basis: str
    density_e4: int | None
    document: str
    formula: str
    rooms: tuple[str, ...]
    from_on: date
    until_on: date | None
    taken_ul: int | None = None
    taken_mc: int | None = None
    nothing_added: bool = False


class ApprovalFaults(FormFaults[str]):
    """An approval that cannot be signed: a message with its facts by field."""

    message = N_("Not approved yet. What is missing is marked below.")


class ApprovalEnded(TastingError):
    """An approval that has ended already cannot be ended."""

    status = 409
    message = ENDED


def check(session: Session, site: Site, entry: NewApproval, at: datetime) -> int | None:
    """Return the id of a new approval's batch, or None. Raises ApprovalFaults with every fault of it."""
    faults = {field: (message, facts) for field, message, facts in _faults(session, site, entry, at)}
    batch_id = None
    if entry.source and entry.kind in APPROVAL_KINDS:
        batch_id = _batch(session, entry)
        lot_of = session.scalar(select(t.lots.c.product).where(t.lots.c.id == batch_id))
        if batch_id is None:
            faults["source"] = (NOT_FILLED if entry.kind == "cask_sample" else NO_SUCH_SOURCE, {})
        elif "product" not in faults and lot_of not in (None, entry.product):
            faults["source"] = (OTHER_PRODUCT, {"product": lot_of})
    if faults:
        raise ApprovalFaults(faults)
    return batch_id


def next_code(session: Session, day: date) -> str:
    """Return a code that no approval has yet, for one that is signed on a day."""
    return f"R-{day:%y%m%d}-{(session.scalar(select(func.max(approvals.c.id))) or 0) + 1}"


def experiments(session: Session, site: Site) -> list[str]:
    """Return the products of lots that the site does not list, in order: they are experiments."""
    of = t.lots.c.product
    return list(session.scalars(select(of).distinct().where(of.not_in(list(site.products))).order_by(of)))


def sign(
    session: Session,
    site: Site,
    entry: NewApproval,
    record_cask_sample: Callable[..., Fault | None],
    *,
    by: int,
    at: datetime,
) -> int:
    """Record a new approval and return its id. The caller has checked the manager's PIN.

    A cask sample is recorded on its cask in the same transaction, by production's own rules: by
    `record_cask_sample`, which returns what prevents it. Raises ApprovalFaults.
    """
    batch_id = check(session, site, entry, at)
    if entry.kind == "cask_sample":
        fault = record_cask_sample(
            session,
            site,
            entry.source,
            volume_l=(entry.taken_ul or 0) / 1_000_000,
            temperature_c=(20_000 if entry.taken_mc is None else entry.taken_mc) / 1000,
            abv_percent=(entry.abv_e2 or 0) / 100,
            by=by,
            at=at,
        )
        if fault:  # nothing is released that its cask cannot have given
            raise ApprovalFaults({"taken": fault})
    return rows.insert(session, approvals, _values(entry, batch_id, by, at))


def end(session: Session, approval_id: int, revision: int, *, by: int, at: datetime, why: str) -> None:
    """End an approval at an instant, with the reason; earlier pours stay approved.

    Raises WhyMissing, ApprovalEnded and Stale.
    """
    if not why:
        raise WhyMissing()
    row = session.execute(select(approvals.c.ended_at).where(approvals.c.id == approval_id)).one_or_none()
    if row is not None and row.ended_at is not None:
        raise ApprovalEnded()
    rows.change(session, approvals, approval_id, revision, {"ended_at": at}, by=by, at=at, why=why)


def _faults(
    session: Session, site: Site, entry: NewApproval, at: datetime
) -> Iterator[tuple[str, str, Mapping[str, object]]]:
    if not entry.code:
        yield "code", NEEDED, {}
    elif len(entry.code) > LONGEST_CODE:
        yield "code", TOO_LONG, {"most": LONGEST_CODE}
    elif session.execute(select(approvals.c.id).where(approvals.c.code == entry.code)).first():
        yield "code", TAKEN, {}
    if entry.kind not in APPROVAL_KINDS:
        yield "kind", NO_KIND, {}
    if entry.product not in site.products:
        yield from _no_product_faults(session, site, entry)
    if not entry.source and not _of_no_batch(site, entry):
        yield "source", NEEDED, {}
    yield from _strength_faults(site, entry)
    if entry.kind in FROM_STOCK and not entry.document:
        yield "document", NEEDED, {}
    if not entry.formula and {entry.kind, entry.product}.intersection(site.formula_for):
        yield "formula", NO_FORMULA, {}
    if not entry.rooms or not set(entry.rooms) <= set(site.rooms):
        yield "rooms", NO_ROOM, {}
    if entry.until_on is not None and entry.until_on < max(entry.from_on, site.service_day(at)):
        yield "until_on", DAYS_TURNED if entry.until_on < entry.from_on else PAST, {}
    if entry.kind == "cask_sample" and not entry.taken_ul:
        yield "taken", NEEDED, {}


def _no_product_faults(
    session: Session, site: Site, entry: NewApproval
) -> Iterator[tuple[str, str, Mapping[str, object]]]:
    """Yield the faults of an unlisted product, which is approved only with nothing added."""
    if entry.product not in experiments(session, site):
        yield "product", NO_PRODUCT, {}
    elif entry.kind != "experiment":
        yield "kind", ONLY_AN_EXPERIMENT, {}
    elif not entry.nothing_added:
        yield "nothing_added", SOMETHING_ADDED, {}


def _of_no_batch(site: Site, entry: NewApproval) -> bool:
    """Return whether an approval needs no lot: it is mixed here, or has no alcohol."""
    product = site.products.get(entry.product)
    return entry.kind == "mixed" or (product is not None and product.abv_e2 == 0)


def _strength_faults(site: Site, entry: NewApproval) -> Iterator[tuple[str, str, Mapping[str, object]]]:
    if entry.abv_basis not in ABV_BASES:
        yield "abv_basis", NO_BASIS, {}
    if entry.abv_e2 is not None and not 0 <= entry.abv_e2 <= STRONGEST_E2:
        yield "abv_percent", TOO_STRONG, {"most": STRONGEST_E2 / 100}
    unlisted = entry.kind == "experiment" and entry.product not in site.products
    if (unlisted or entry.kind in ("cask_sample", "new_make")) and (
        entry.abv_e2 is None or entry.abv_basis == "not_known"
    ):
        yield "abv_percent", OWN_STRENGTH, {}
    if entry.density_e4 is not None and not LIGHTEST_E4 <= entry.density_e4 <= HEAVIEST_E4:
        yield "density", ODD_DENSITY, {"low": LIGHTEST_E4 / 10_000, "high": HEAVIEST_E4 / 10_000}


def _batch(session: Session, entry: NewApproval) -> int | None:
    """Return the batch that an approval is of: what lies in the cask, or the first of its code."""
    if entry.kind == "cask_sample":
        f, c = t.fills.c, t.casks.c
        filled = select(f.id).join(t.casks, c.id == f.cask_id)
        return session.scalar(filled.where(c.code == entry.source, f.emptied_at.is_(None)))
    b, kinds = t.batches.c, SOURCES[entry.kind]
    named = session.execute(select(b.kind, b.id).where(b.code == entry.source, b.kind.in_(kinds))).all()
    return min(named, key=lambda row: kinds.index(row.kind)).id if named else None


def _values(entry: NewApproval, batch_id: int | None, by: int, at: datetime) -> dict[str, object]:
    same = ("code", "kind", "product", "abv_e2", "abv_basis", "density_e4", "from_on", "until_on")
    return {
        **{name: getattr(entry, name) for name in same},
        "batch_id": batch_id,
        "document": entry.document or None,
        "formula": entry.formula or None,
        "rooms": list(entry.rooms),
        "signed_by": by,
        "signed_at": at,
    }
