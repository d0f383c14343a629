"""The one page of what is held for review, and the answer to a tablet's entry that waits there."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy import Row, select
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.entries import review
from kiosk.entries.errors import EntryError
from kiosk.entries.guest_marks import OPENING
from kiosk.entries.pages import bp
from kiosk.entries.review import DISCARD_REASONS, HELD_ENTRY_KINDS, HeldItem, HeldSource
from kiosk.entries.typed_in import KINDS, REASONS, PartMissing, TypedForm, record_typed_entry
from kiosk.figures.drinks import STARTS_AND_FINISHES, parse_volume_ul
from kiosk.figures.errors import FigureError
from kiosk.site.products import product_name
from kiosk.site.settings import instants_of
from kiosk.store.engine import run
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.tables.tours import guests, tours
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence
from kiosk.words.formats import YEARS, NumberFault, parse_number

__all__ = ["HELD_ENTRIES", "bp"]

SETTLERS = ("production", "manager")
MOST_SHOWN = 50
"""What is settled makes room for the rest: a spoilt file can hold thousands of rows."""
MOST_SETTLED = 20

TITLES: Mapping[str, str] = {
    "pours": N_("Pour"),
    "marks": N_("Entry about a guest"),
    "pour_marks": N_("Correction of a pour"),
    "steps": N_("Step of a tour"),
    "": N_("Unknown entry"),
}
KIND_WORDS: Mapping[str, str] = {
    "id_check": N_("ID checked"),
    "under_age": N_("Under age"),
    "no_alcohol": N_("No alcohol today"),
    "no_alcohol_lifted": N_("Drinking after all"),
    "service_stopped": N_("Stop serving"),
    "service_resumed": N_("Resume service"),
    "gone": N_("Has left"),
    "back": N_("Is back"),
    "declined": N_("Skip this sample"),
    "briefed": N_("Closed shoes and safety words"),
    "tasted_elsewhere": N_("Tasted elsewhere today"),
    "void": N_("Nothing was poured"),
    "not_served": N_("Poured, not served"),
    "cleared": N_("Poured, not served"),
    "reassign": N_("Moved to another guest"),
    "unfinished": N_("Not finished or spat out"),
    "finished": N_("Glass empty"),
    "seated": N_("Seat guest"),
}
STEP_WORDS: Mapping[str, str] = {
    "start": N_("The tour starts"),
    "unstart": N_("The start was pressed by mistake"),
    "next": N_("On to the next stop"),
    "back": N_("Back at the stop before"),
    "count": N_("Heads counted"),
    "out": N_("Out of the closed stop"),
    "finish": N_("The tour is finished"),
    "unfinish": N_("The finish was pressed by mistake"),
}
UNKNOWN = frozenset({"malformed", "unknown_guest", "unknown_pour"})
"""Reasons against an entry that nothing can be recorded of."""
RESULT_OF_POUR = N_(
    "It counts as served when it happened: in the guest's limits, the shift closing and the inspection, "
    "with the server as claimed."
)
RESULT_OF_MARK = N_("It holds from when it happened, in the name that it claims.")
RESULT_OF_STEP = N_(
    "The group counts as being where this puts it, from when it happened: on the walk, in the house and "
    "in planning."
)


@bp.get("/held")
@open_to(*SETTLERS)
def inbox() -> str:
    """List what is held for review and was settled lately."""
    return inbox_page()


@bp.post("/held/<int:held_id>")
@open_to("manager")
def settle_entry(held_id: int) -> Response:
    """Record a held entry as it was, or discard it."""
    at, by, revision = now(), access.require_person().id, forms.whole("revision") or 0
    record, why = asked_to_record()
    here = site_context()

    def work(session: Session) -> None:
        row = review.held_row(session, held_id, HELD_ENTRY_KINDS)
        if row is None:
            raise NotFound()
        if record:
            review.record_held_entry(session, here.site, here.entry_kinds, row, revision, by=by, at=at)
        else:
            review.settle(session, row, revision, review.DISCARDED, why, by=by, at=at)

    try:
        run(here.store, work)
    except (EntryError, NoSuchRow, KeyConflict) as error:
        return make_response(inbox_page(sentence(error, words())), 409)
    return redirect(url_for("entries.inbox"), 303)


@bp.get("/held/type-in")
@open_to("manager")
def type_in() -> str:
    """Show the form for an entry that a tablet kept, filled in from the tablet's list where it asks."""
    return _type_in_page(
        {**request.args, "at": _on_the_clock(request.args.get("at", ""))},
        done=words().gettext("Recorded.") if "done" in request.args else "",
    )


@bp.post("/held/type-in")
@open_to("manager")
def record_typed_in() -> Response:
    """Record what a manager typed in for a tablet that kept it, or show it again with what is wrong."""
    here, by, device = site_context(), access.require_person().id, access.require_device().id

    def work(session: Session) -> None:
        form = _typed_form()
        record_typed_entry(session, here.site, here.entry_kinds, form, by=by, device_id=device, now=now())

    try:
        run(here.store, work)
    except (EntryError, NoSuchRow, KeyConflict, NumberFault, FigureError) as error:
        return make_response(_type_in_page(request.form, sentence(error, words())), 422)
    return redirect(url_for("entries.type_in", done=1), 303)


def _on_the_clock(sent: str) -> str:
    """Return an instant that a tablet's list names as the form takes it, on the site's clock; else ""."""
    try:
        at = datetime.fromisoformat(sent)
    except ValueError:
        return ""
    if at.year not in YEARS:
        return ""
    return f"{site_context().site.local(at) if at.tzinfo else at:%Y-%m-%dT%H:%M}"


def _typed_form() -> TypedForm:
    site = site_context().site
    try:
        wall = datetime.fromisoformat(forms.text("at"))
    except ValueError:
        raise PartMissing() from None
    at = [wall] if wall.tzinfo else instants_of(wall, site.zone)
    volume = forms.text("volume", 20)
    read = f"{parse_number(volume, words()):f} {site.volume_unit}" if volume else ""
    return TypedForm(
        forms.text("code", 20),
        forms.text("kind", 20),
        forms.whole("guest"),
        at[0] if at and at[0].year in YEARS else None,
        forms.whole("server"),
        forms.text("reason", 20),
        forms.text("product", 40),
        parse_volume_ul(read, round_up=False) if read else None,
    )


def _type_in_page(typed: Mapping[str, str], wrong: str = "", done: str = "") -> str:
    _, site = words().gettext, site_context().site
    with site_context().store.read() as session:
        names = sorted(review.staff_names(session).items(), key=lambda one: one[1])
    glasses = [(one, product_name(site, one, words())) for one in (*site.products, *site.recipes)]
    return render_template(
        "entries/type_in.html",
        typed=typed,
        wrong=wrong,
        done=done,
        kinds=[(kind, _(label)) for kind, label in KINDS.items()],
        products=[("", ""), *glasses],
        people=[("", ""), *((str(staff_id), name) for staff_id, name in names)],
        reasons=[(reason, _(label)) for reason, label in REASONS.items()],
    )


def asked_to_record() -> tuple[bool, str]:
    """Return whether a form asks to record what is held, and the reason of one that discards it.

    Raises NotFound for a reason that is on no list.
    """
    record, why = request.form.get("outcome") == review.RECORDED, forms.text("why")
    if not record and why not in DISCARD_REASONS:
        raise NotFound()
    return record, why


def inbox_page(wrong: str = "") -> str:
    """Return the page of what waits for the person who asks, with what was wrong with an answer."""
    sources = _own_sources()
    kinds = [kind for source in sources for kind in source.kinds]
    with site_context().store.read() as session:
        items = [item for source in sources for item in source.items(session, MOST_SHOWN)]
        further = review.count_waiting(session, kinds) - len(items)
        settled = review.settled_lately(session, kinds, MOST_SETTLED)
    return render_template(
        "entries/held.html",
        items=items,
        further=further,
        settled=settled,
        names={kind: source.name for source in sources for kind in source.kinds},
        discard_reasons=DISCARD_REASONS,
        wrong=wrong,
    )


def count_held() -> int:
    """Return how much waits that the person who asks may settle."""
    kinds = [kind for source in _own_sources() for kind in source.kinds]
    if not kinds:
        return 0
    with site_context().store.read() as session:
        return review.count_waiting(session, kinds)


def _own_sources() -> list[HeldSource]:
    person = access.require_person()
    return [source for source in site_context().held_sources if person.has(*source.roles)]


def _items(session: Session, most: int) -> Sequence[HeldItem]:
    names = review.staff_names(session)
    held = review.waiting_rows(session, HELD_ENTRY_KINDS, most)
    return [_item(session, row, names) for row in held]


def _item(session: Session, row: Row[Any], names: Mapping[object, str]) -> HeldItem:
    _, payload = words().gettext, {part: _readable(value) for part, value in row.payload.items()}
    claimed = payload.get("by")
    name = names.get(claimed, "") if isinstance(claimed, int) else ""
    result = _result(row.kind, payload, row.reasons)
    return HeldItem(
        id=row.id,
        revision=row.revision,
        title=_(TITLES[row.kind]),
        at=row.at,
        device=row.device or "",
        person=_("{name} (claimed)", name=name) if name else "",
        reasons=[_(review.REASONS[reason]) for reason in row.reasons if reason in review.REASONS],
        details=_step_details(session, payload) if row.kind == "steps" else _details(session, payload),
        settle=url_for("entries.settle_entry", held_id=row.id),
        recorded=_(result) if result else "",
    )


def _readable(value: object) -> object:
    """Return a part of an entry as it was sent; as text that a page can show where it was no plain value."""
    if value is None or (isinstance(value, int) and abs(value) < 2**63):
        return value
    return str(value).encode("utf-8", "replace").decode()


def _result(ledger: str, payload: Mapping[str, Any], reasons: Sequence[str]) -> str:
    """Return what follows from recording an entry, "" where it cannot be recorded from here."""
    gives_back = ledger == "pour_marks" and payload.get("kind") not in ("unfinished", "finished", "seated")
    if not UNKNOWN.isdisjoint(reasons) or gives_back or payload.get("kind") in OPENING:
        return ""
    if ledger == "steps":
        return "" if payload.get("kind") in STARTS_AND_FINISHES else RESULT_OF_STEP
    return RESULT_OF_POUR if ledger == "pours" or payload.get("kind") == "seated" else RESULT_OF_MARK


def _details(session: Session, payload: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the parts of an entry that a person can judge, with labels; odd ones as they were sent."""
    _, site = words().gettext, site_context().site
    details = []
    kind, guest, product = payload.get("kind"), payload.get("guest"), payload.get("product")
    if kind is not None:
        details.append((_("What"), _(KIND_WORDS[kind]) if kind in KIND_WORDS else str(kind)))
    if product is not None:
        details.append((_("Product"), product_name(site, str(product), words())))
    if isinstance(payload.get("volume_ul"), int):
        ml = formats.number(payload["volume_ul"] / 1000, 1, words())
        details.append((_("Size"), _("{ml} mL", ml=ml)))
    if guest is not None:
        details.append((_("Guest"), _guest(session, guest)))
    if payload.get("seat") is not None:
        details.append((_("Seat"), str(payload["seat"])))
    return details + _time_sent(payload)


def _step_details(session: Session, payload: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the parts of a step of a tour, with labels: what, of which tour, its stop and its count."""
    _, kind, stop = words().gettext, payload.get("kind"), payload.get("stop")
    details = [(_("What"), _(STEP_WORDS[kind]) if kind in STEP_WORDS else str(kind))] if kind else []
    if payload.get("tour") is not None:
        details.append((_("Tour"), _tour(session, payload["tour"])))
    if stop is not None:
        known = site_context().content.stops.get(str(stop))
        details.append((_("Stop"), known.names[words().language] if known else str(stop)[:40]))
    if payload.get("count") is not None:
        details.append((_("People counted"), str(payload["count"])[:20]))
    return details + _time_sent(payload)


def _time_sent(payload: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [(words().gettext("Time sent"), str(payload["at"])[:40])] if payload.get("at") is not None else []


def _tour(session: Session, tour_id: object) -> str:
    """Return a tour's letter and start by the id that was sent, or the id where there is no such tour."""
    known = isinstance(tour_id, int) and 0 < tour_id < 2**31
    row = session.execute(
        select(tours.c.letter, tours.c.starts_at).where(tours.c.id == (tour_id if known else 0))
    ).one_or_none()
    if row is None:
        return f"? ({str(tour_id)[:20]})"
    return f"{row.letter}, {formats.moment(row.starts_at, site_context().site.zone, words(), now())}"


def _guest(session: Session, guest_id: object) -> str:
    """Return a guest's number and day by the id that was sent, or the id where there is no such guest."""
    known = isinstance(guest_id, int) and 0 < guest_id < 2**31
    row = session.execute(
        select(guests.c.number, guests.c.day).where(guests.c.id == (guest_id if known else 0))
    ).one_or_none()
    return f"{row.number}, {formats.day(row.day, words())}" if row else f"? ({str(guest_id)[:20]})"


HELD_ENTRIES = HeldSource(HELD_ENTRY_KINDS, N_("Entries of tablets"), ("manager",), _items)
