"""The pages of the approvals: the list by room, the form that a manager signs, and ending one early."""

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.entries.errors import Malformed
from kiosk.site.products import ABV_BASES, BASIS_WORDS, allergens_of, product_name
from kiosk.site.settings import APPROVAL_KINDS
from kiosk.staff import sessions
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.tasting.approvals import approving
from kiosk.tasting.approvals.approvals import counted_e2
from kiosk.tasting.approvals.approving import ApprovalFaults
from kiosk.tasting.approvals.text import KINDS, approvals_page, parse_approval
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.bottles.views import temperature_mc, warmth_unit
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence
from kiosk.words.formats import NumberFault
from kiosk.words.record_faults import field_sentence

NO_TEMPERATURE = N_("Enter the temperature of the sample as a number.")
FIELDS = (
    *("code", "kind", "product", "source", "abv_percent", "abv_basis", "density", "document", "formula"),
    *("from_on", "until_on", "taken", "nothing_added"),
)


@bp.get("/approvals")
@open_to(*POURERS)
def approvals() -> str:
    """Show the approvals in force by room, those to come, and those that have ended."""
    site = site_context().site
    with site_context().store.read() as session:
        page = approvals_page(session, site, now())
    return render_template(
        "approvals/approvals.html",
        page=page,
        kinds=KINDS,
        bases=BASIS_WORDS,
        abv_percent=lambda one: counted_e2(site, one) / 100,
        allergens=lambda one: allergens_of(site.products.get(one.product), words()).names,
    )


@bp.get("/releases")
@open_to(*POURERS)
def former_approvals() -> Response:
    """Redirect from the address that the list of approvals had before."""
    return redirect(url_for("tasting.approvals"))


@bp.get("/releases/new")
@open_to("manager")
def former_new_approval() -> Response:
    """Redirect from the address that the form of an approval had before."""
    return redirect(url_for("tasting.new_approval"))


@bp.get("/approvals/new")
@open_to("manager")
def new_approval() -> str:
    """Show the form of an approval."""
    return _form({})


@bp.post("/approvals/new")
@open_to("manager")
def sign_approval() -> Response:
    """Approve what the form says; the PIN is asked again."""
    person, device = access.require_person(), access.require_device()
    here, at, by = site_context(), now(), person.id
    try:
        read = parse_approval(_typed(), request.form.getlist("room"), _temperature_mc(), here.site, words())
        with here.store.read() as session:
            approving.check(session, here.site, read, at)
        sessions.check_pin(here.store, here.site, by, device.id, forms.text("pin"), at)
        sample = here.record_cask_sample
        run(here.store, lambda session: approving.sign(session, here.site, read, sample, by=by, at=at))
    except ApprovalFaults as faults:
        return make_response(_form(_fault_sentences(faults)), faults.status)
    except StaffError as refusal:
        return make_response(_form({"pin": sentence(refusal, words())}), refusal.status)
    return redirect(url_for("tasting.approvals"), 303)


@bp.post("/approvals/<int:approval_id>/end")
@open_to("manager")
def end_approval(approval_id: int) -> Response:
    """End an approval before its last day."""
    revision, why, at = forms.whole("revision") or 0, forms.text("why"), now()
    by = access.require_person().id

    def work(session: Session) -> None:
        approving.end(session, approval_id, revision, by=by, at=at, why=why)

    run(site_context().store, work)
    return redirect(url_for("tasting.approvals"), 303)


def _typed() -> dict[str, str]:
    return {name: forms.text(name, 80) for name in FIELDS}


def _temperature_mc() -> int | None:
    try:
        return temperature_mc()
    except (Malformed, NumberFault) as wrong:
        raise ApprovalFaults({"temperature": (NO_TEMPERATURE, {})}) from wrong


def _with_names(facts: Mapping[str, object]) -> dict[str, object]:
    """Return the facts of a fault with the name of a product in place of its code."""
    site = site_context().site
    return {
        name: product_name(site, str(v), words()) if name == "product" else v for name, v in facts.items()
    }


def _fault_sentences(faults: ApprovalFaults) -> dict[str, str]:
    return {
        field: field_sentence(message, _with_names(facts), words(), site_context().site.units)
        for field, (message, facts) in faults.faults.items()
    }


def _form(wrong: Mapping[str, str]) -> str:
    site, day = site_context().site, site_context().site.service_day(now())
    with site_context().store.read() as session:
        unlisted = approving.experiments(session, site)
        code = approving.next_code(session, day)
    first = {"from_on": day.isoformat(), "code": code, "abv_basis": "label", "kind": "bottled"}
    return render_template(
        "approvals/new.html",
        wrong=wrong,
        typed=_typed() if request.method == "POST" else first,
        rooms=request.form.getlist("room") if request.method == "POST" else site.rooms[:1],
        kinds=[(kind, words().gettext(KINDS[kind])) for kind in APPROVAL_KINDS],
        bases=[(basis, words().gettext(BASIS_WORDS[basis])) for basis in ABV_BASES],
        products=[(one, product_name(site, one, words())) for one in (*site.products, *unlisted)],
        unlisted=unlisted,
        warmth=warmth_unit(),
    )
