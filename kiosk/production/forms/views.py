"""The page of the records, the forms that write them, and what was held for review."""

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.entries.review import HeldItem, HeldSource
from kiosk.entries.views import asked_to_record, inbox_page
from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.forms import corrections, review
from kiosk.production.forms.definitions import FORMS, STEPS
from kiosk.production.forms.pages import (
    LAST_INSTRUMENT,
    cell_text,
    fault_sentences,
    field_label,
    input_texts,
    known_instruments,
    offers_of,
)
from kiosk.production.forms.review import HeldEntry
from kiosk.production.forms.suggestions import suggested_codes
from kiosk.production.forms.under_way import (
    last_entry,
    last_on_casks,
    loads_of_day,
    read_work,
    recent_readings,
)
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.fields import CODE
from kiosk.production.records.forms import Form, typed_values
from kiosk.production.records.holding import ROW
from kiosk.production.records.kinds import LISTED
from kiosk.production.records.submission import HELD, submit_form
from kiosk.store.engine import run
from kiosk.store.names import (
    EXPERIMENT,
    VARIETY,
    NamedThing,
    NameFault,
    save_names,
    things_to_name,
    typed_names,
)
from kiosk.web import forms
from kiosk.web.access import open_to, require_person
from kiosk.web.context import cookie, now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence
from kiosk.words.record_faults import fault_sentence

NAMED = {EXPERIMENT: N_("Experiments"), VARIETY: N_("Varieties of cane")}
YEAR_S = 31_536_000


@bp.get("/records/")
@open_to(*WRITERS)
def records() -> str:
    """Show the forms, what waits to be settled and the newest records."""
    with site_context().store.read() as session:
        held, latest = review.count_held(session), corrections.latest_records(session)
        work = read_work(session, site_context().site, now())
    done, code = forms.local_path(request.args.get("done"), ""), request.args.get("code", "")
    form = FORMS.get(done.rpartition("/")[2])
    recorded = f"{words().gettext(form.title)} {code if CODE.fullmatch(code) else ''}".strip() if form else ""
    fields = {table: corrections.fields_of(table) for table in LISTED}
    last = {step.title: last_entry(step, latest) for step in STEPS}
    loads = loads_of_day(latest["loads"], site_context().site, now())
    here = {
        "steps": STEPS,
        "work": work,
        "last": last,
        "loads": loads,
        "held": held,
        "latest": latest,
        "kinds": LISTED,
        "fields": fields,
        "done": done,
    }
    here |= {"recorded": recorded, "last_on_casks": last_on_casks(latest)}
    return render_template("production/records.html", **here)


@bp.get("/records/new/<name>")
@open_to(*WRITERS)
def new(name: str) -> str:
    """Show an empty form, or one filled with what was held."""
    form, held = _form(name)
    typed = {"instrument": cookie(LAST_INSTRUMENT)}
    if held:
        typed |= input_texts(form.fields, held.values)
    return _page(form, typed, {}, held, is_new=not held)


@bp.post("/records/new/<name>")
@open_to(*WRITERS)
def write(name: str) -> Response:
    """Record what was typed, or show it again with what is wrong."""
    form, held = _form(name)
    at, by, site, revision = now(), require_person().id, site_context().site, forms.whole("revision") or 0
    try:
        values = typed_values(form.fields, request.form, site, words(), held.values if held else {})

        def work(session: Session) -> bool:
            if held:
                return review.correct_held(session, site, held, revision, values, by=by, at=at)
            return submit_form(session, site, form, values, by=by, at=at).held_id is None

        recorded = run(site_context().store, work)
    except RecordFaults as faults:
        return make_response(_page(form, request.form, fault_sentences(faults), held), faults.status)
    return _written(recorded, values.get(form.own[0].name))


def _written(recorded: bool, code: str | None) -> Response:
    done = url_for("production.records", done=request.path, code=code)
    answer = redirect(done if recorded else url_for("entries.inbox"))
    if request.form.get("instrument"):
        forms.set_cookie(answer, LAST_INSTRUMENT, forms.text("instrument", 40), YEAR_S)
    return answer


def _form(name: str) -> tuple[Form, HeldEntry | None]:
    """Return the form of this name, and the held entry that it corrects, if any."""
    held_id = forms.digits(request.args.get("held", ""))
    held = _held_entry(held_id) if held_id else None
    form = held.form if held else FORMS.get(name)
    if form is None or form.name != name:
        raise NotFound()
    return form, held


def _page(
    form: Form,
    typed: Mapping[str, str],
    wrong: Mapping[str, str],
    held: HeldEntry | None,
    *,
    is_new: bool = False,
) -> str:
    with site_context().store.read() as session:
        offers = offers_of(session, suggested_codes(session, form.fields, form.name))
        known = known_instruments(session)
        recent = recent_readings(session, form, now())
    if is_new and recent:
        typed = {"run": recent.run, "cut": recent.readings[-1].cut if recent.readings else "", **typed}
    here = {"form": form, "typed": typed, "wrong": wrong, "offers": offers, "recent": recent}
    here |= {"revision": held.revision if held else 0, "reasons": _reasons(held) if held else []}
    return render_template("production/form.html", **here, instruments=known)


def _reasons(held: HeldEntry) -> list[str]:
    """Return a sentence for each reason why an entry is held."""
    units = site_context().site.units
    return [fault_sentence(one.code, one.facts, words(), units) for one in held.reasons]


@bp.get("/records/names")
@open_to(*WRITERS)
def names() -> str:
    """Show the experiments and the varieties of cane, with the names that pages give them."""
    return _names_page()


@bp.post("/records/names")
@open_to(*WRITERS)
def name_thing() -> Response:
    """Save the names of an experiment or a variety, or show them again with what is wrong."""
    at, by, site = now(), require_person().id, site_context().site
    thing = NamedThing(forms.text("kind", 20), forms.text("code", 60), forms.whole("revision") or 0, {})
    typed = typed_names(request.form, site.codes)
    try:
        run(
            site_context().store,
            lambda session: save_names(session, site.products, thing, typed, by=by, at=at),
        )
    except NameFault as fault:
        return make_response(_names_page(thing, typed, sentence(fault, words())), fault.status)
    return redirect(url_for("production.names"), 303)


def _names_page(
    thing: NamedThing | None = None, typed: Mapping[str, str] | None = None, wrong: str = ""
) -> str:
    with site_context().store.read() as session:
        things = things_to_name(session, site_context().site.products)
    here = {"thing": thing, "typed": typed, "wrong": wrong, "first": site_context().site.codes[0]}
    return render_template("production/names.html", things=things, kinds=NAMED, **here)


@bp.get("/records/held")
@open_to(*WRITERS)
def held() -> Response:
    """Redirect from the address that the page of held records had before."""
    return redirect(url_for("entries.inbox"))


@bp.post("/records/held/<int:held_id>")
@open_to(*WRITERS)
def settle(held_id: int) -> Response:
    """Record an entry as it stands, or discard it."""
    one, revision, site = _held_entry(held_id), forms.whole("revision") or 0, site_context().site
    at, by = now(), require_person().id
    record, why = asked_to_record()

    def work(session: Session) -> None:
        if record:
            review.confirm(session, site, one, revision, by=by, at=at)
        else:
            review.settle(session, one.id, revision, review.DROPPED, by=by, at=at, why=why)

    try:
        run(site_context().store, work)
    except RecordFaults as faults:
        return make_response(inbox_page("; ".join(fault_sentences(faults).values())), faults.status)
    return redirect(url_for("entries.inbox"))


def _held_entry(held_id: int) -> review.HeldEntry:
    """Return an entry that waits. Raises NotFound."""
    with site_context().store.read() as session:
        held = review.held_entries(session, site_context().site, held_id)
    if not held:
        raise NotFound()
    return held[0]


def _items(session: Session, most: int) -> list[HeldItem]:
    _ = words().gettext
    result = _("It is recorded as it stands, as if it had passed; what waited for it is recorded too.")
    return [
        HeldItem(
            id=one.id,
            revision=one.revision,
            title=_(one.form.title),
            at=one.at,
            device=_("{file}, row {row}", file=one.origin.file, row=str(one.origin.row))
            if one.origin
            else "",
            person=one.by,
            reasons=_reasons(one),
            details=[
                (field_label(field), cell_text(field, one.values))
                for field in one.form.fields
                if one.values[field.name] is not None
            ],
            settle=url_for("production.settle", held_id=one.id),
            recorded=result if one.recordable else "",
            correct=url_for("production.new", name=one.form.name, held=one.id),
        )
        for one in review.held_entries(session, site_context().site, most=most)
    ]


HELD_RECORDS = HeldSource((HELD, ROW), N_("Records"), WRITERS, _items)
