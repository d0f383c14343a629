"""Pages of the bar: open bottles, sealed stock and checks of measures."""

from collections.abc import Callable, Iterable
from datetime import timedelta
from typing import Any, TypeVar

from flask import redirect, render_template, request, url_for
from sqlalchemy import Row
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.entries import review
from kiosk.entries.errors import Malformed
from kiosk.entries.pages import form_origin
from kiosk.entries.review import HeldItem, HeldSource
from kiosk.entries.views import asked_to_record
from kiosk.figures.drinks import parse_bottle_ml, parse_volume_ul
from kiosk.figures.figure import Unit
from kiosk.site.products import product_name
from kiosk.site.settings import Units
from kiosk.staff.people import members
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.bottles import bottle_entries, measures, stock, text
from kiosk.tasting.bottles.bottle_entries import BottleEntryForm, Opening
from kiosk.tasting.bottles.by_product import OpeningChoice, by_product, next_of, opening_choices, pours_ahead
from kiosk.tasting.bottles.shelf import find_bottle, shelf
from kiosk.tasting.bottles.stock import Line
from kiosk.tasting.room.text import size_in_both
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.catalogs import N_
from kiosk.words.units import from_us

T = TypeVar("T")


@bp.get("/bottles")
@open_to(*POURERS)
def bottles() -> str:
    """Show a room's open bottles, its sealed stock and the measures."""
    here, at, room = site_context(), now(), room_asked()
    with here.store.read() as session:
        open_bottles = shelf(session, here.site, room)
        stock_here = stock.room_stock(session, here.site, room, at)
        checks = measures.last_checks(session, at + timedelta(seconds=1))
        held = bottle_entries.held_weighings(session)
        ahead = pours_ahead(session, here.site, room, at)
    shelves = by_product(open_bottles, stock_here, ahead, here.site, words(), at)
    return render_template(
        "bottles/bottles.html",
        room=room,
        shelves=shelves,
        next=next_of(shelves),
        stock=stock_here,
        stock_kinds=[(kind, words().gettext(label)) for kind, label in text.STOCK_KINDS.items()],
        other_rooms=[("", "–"), *((one, name) for one, name in room_choices() if one != room)],
        checks=checks,
        held=held,
        new_key=new_key,
        warmth=warmth_unit(),
    )


@bp.get("/bottles/open")
@open_to(*POURERS)
def opening() -> str:
    """Ask for the weight of a bottle that is opened, of the product that the address names, or of any."""
    here, room = site_context(), room_asked()
    with here.store.read() as session:
        stock_here = stock.room_stock(session, here.site, room, now())
    return render_template(
        "bottles/opening.html",
        room=room,
        product=request.args.get("product", ""),
        tint=text.tint_of(here.site, request.args.get("product", "")),
        choices=opening_choices(stock_here, request.args.get("product", "")),
        to=forms.local_path(request.args.get("to"), url_for("tasting.bottles", room=room)),
        new_key=new_key,
        warmth=warmth_unit(),
    )


@bp.post("/bottles")
@open_to(*POURERS)
def open_bottle() -> Response:
    """Open a bottle or a jug."""
    hours = forms.whole("hours")
    opening = Opening(
        forms.whole("approval") or 0,
        room_asked(),
        size_ml(),
        forms.text("kind") or "bottle",
        forms.whole("gross_g"),
        temperature_mc(),
        forms.whole("tare_g"),
        now() + timedelta(hours=hours) if hours else None,
    )
    run_use_case(bottle_entries.record_opening, form_origin(), opening, now())
    otherwise = url_for("tasting.bottles", room=opening.room)
    return redirect(forms.local_path(forms.text("to"), otherwise), 303)


@bp.get("/bottles/<int:bottle_id>")
@open_to(*POURERS)
def bottle(bottle_id: int) -> str:
    """Show a bottle, its balance and the forms for entries about it."""
    with site_context().store.read() as session:
        bottle = find_bottle(session, site_context().site, bottle_id)
        people = members(session, site_context().site, now())
    if bottle is None:
        raise NotFound()
    return render_template(
        "bottles/bottle.html",
        bottle=bottle,
        tint=text.tint_of(site_context().site, bottle.product),
        account=bottle.account(),
        people=[(member.id, member.name) for member in people],
        held=request.args.get("outcome") == "held",
        new_key=new_key,
        warmth=warmth_unit(),
        empty_ul=text.EMPTY_UL,
    )


@bp.post("/bottles/<int:bottle_id>")
@open_to(*POURERS)
def record_bottle_entry(bottle_id: int) -> Response:
    """Record a weighing, a spill, house use, a break or the end of a bottle."""
    form = BottleEntryForm(
        forms.text("kind"), forms.whole("gross_g"), temperature_mc(), volume_ul(), forms.whole("used_by")
    )
    outcome = run_use_case(bottle_entries.record_entry, form_origin(), bottle_id, form, now())
    return redirect(url_for("tasting.bottle", bottle_id=bottle_id, outcome=outcome), 303)


@bp.post("/bottles/held/<int:held_id>")
@open_to("manager")
def settle_weighing(held_id: int) -> Response:
    """Record a held weighing as it was, or discard it."""
    by, at, revision = access.require_person().id, now(), forms.whole("revision") or 0
    record, why = asked_to_record()
    outcome = (review.RECORDED, review.RECORDED) if record else (review.DISCARDED, why)
    with site_context().store.write() as session:
        weighing = review.held_row(session, held_id, (bottle_entries.HELD,))
        if weighing is None:
            raise NotFound()
        review.settle(session, weighing, revision, *outcome, by=by, at=at)
        if record:
            bottle_entries.record_held_weighing(session, weighing, at=at)
    return redirect(url_for("entries.inbox"), 303)


def _held_items(session: Session, most: int) -> list[HeldItem]:
    _, names = words().gettext, review.staff_names(session)
    result = _("It is recorded; the balance leaves out a weight that cannot be, and the closing names it.")
    return [
        HeldItem(
            id=one.id,
            revision=one.revision,
            title=_("Weighing of bottle {code}", code=one.payload["code"]),
            at=one.at,
            device=one.device or "",
            person=names.get(one.payload["by"], ""),
            reasons=[question_about(reason) for reason in one.reasons],
            details=[(_("Weight"), f"{one.payload['gross_g']} g")],
            settle=url_for("tasting.settle_weighing", held_id=one.id),
            recorded=result,
        )
        for one in review.waiting_rows(session, (bottle_entries.HELD,), most)
    ]


HELD_WEIGHINGS = HeldSource((bottle_entries.HELD,), N_("Weighings"), ("manager",), _held_items)


@bp.post("/bottles/stock")
@open_to(*POURERS)
def record_stock() -> Response:
    """Record sealed bottles received, returned, moved or counted."""
    n = forms.whole("bottles")
    if n is None:
        raise Malformed(part="bottles")
    document = forms.text("document", 80) or None
    line = Line(forms.whole("approval") or 0, room_asked(), forms.text("kind"), n, size_ml(), document)
    run_use_case(stock.record, form_origin(), line, now(), to_room=forms.text("to_room"))
    return redirect(url_for("tasting.bottles", room=line.room), 303)


@bp.post("/bottles/measures")
@open_to(*POURERS)
def check_measure() -> Response:
    """Record ten weighed pours of water."""
    weights = [float(formats.parse_number(weight, words())) for weight in forms.text("weights_g").split()]
    measure = forms.text("measure")
    run_use_case(measures.record_check, form_origin(), measure, weights, now())
    return redirect(url_for("tasting.bottles"), 303)


def run_use_case(use_case: Callable[..., T], *args: Any, **kwargs: Any) -> T:
    """Return the result of a use case, run in a transaction with its session and the site before `args`."""
    site = site_context().site
    return run(site_context().store, lambda session: use_case(session, site, *args, **kwargs))


def room_asked() -> str:
    """Return the room that the request names, else the device's, else the site's first."""
    device = access.device()
    room = request.values.get("room") or (device.room if device else None)
    return room if room in site_context().site.rooms else site_context().site.rooms[0]


def room_choices() -> list[tuple[str, str]]:
    """Return the site's rooms with their names."""
    site = site_context().site
    return [(room, site.room_name(room, words().language)) for room in site.rooms]


def warmth_unit() -> str:
    """Return the unit of room temperatures at this site."""
    return "°F" if site_context().site.units is Units.US else "°C"


def temperature_mc() -> int | None:
    """Return the temperature that was sent, by form or address, in thousandths of a °C, or None."""
    sent = request.values.get("temperature", "").strip()
    if not sent:
        return None
    read = formats.parse_number(sent, words())
    celsius = from_us(read, Unit.CELSIUS) if site_context().site.units is Units.US else read
    if not 0 <= celsius <= 40:
        raise Malformed(part="temperature")
    return round(celsius * 1000)


def volume_ul() -> int | None:
    """Return the form's volume, typed in the site's unit, as µL rounded down, or None."""
    sent = forms.text("volume")
    if not sent:
        return None
    typed = formats.parse_number(sent, words())
    return parse_volume_ul(f"{typed:f} {site_context().site.volume_unit}", round_up=False)


def size_ml() -> int:
    """Return the form's size of a bottle in mL, typed in the site's unit, or in mL with "mL" after it."""
    sent, unit = forms.text("size"), site_context().site.volume_unit
    if sent.lower().endswith("ml"):
        sent, unit = sent[:-2], "mL"
    size = parse_bottle_ml(f"{formats.parse_number(sent, words()):f} {unit}")
    if not 0 < size <= bottle_entries.LARGEST_ML:
        raise Malformed(part="size")
    return size


@bp.app_template_filter("measure_size")
def size_of(volume_ul: float, digits: int = 1) -> str:
    """Return the size of a pour in the site's units, the other beside it; in mL with `digits` decimals."""
    return size_in_both(volume_ul, site_context().site, words(), digits)


@bp.app_template_filter("bottle_volume")
def volume_of(volume_ul: float) -> str:
    """Return the content of a bottle with its unit, by the site's units."""
    return text.volume(volume_ul, site_context().site, words())


@bp.app_template_filter("weighing_question")
def question_about(finding: str) -> str:
    """Return the question that an implausible weighing raises."""
    return words().gettext(text.FINDINGS[finding])


@bp.app_template_filter("opening_labels")
def opening_labels(choices: Iterable[OpeningChoice]) -> list[tuple[int, str]]:
    """Return the choices of a form's field for what is opened: approval, with product, code and size."""
    site = site_context().site
    return [
        (one.approval_id, f"{product_name(site, one.product, words())} · {one.code} · {one.size_ml} mL")
        for one in choices
    ]


@bp.app_template_filter("approval_choices")
def choices_of(approvals: Iterable[Row[Any]]) -> list[tuple[int, str]]:
    """Return the choices of a form's field for approvals: their id, with product and code as the label."""
    return [
        (row.id, f"{product_name(site_context().site, row.product, words())} · {row.code}")
        for row in approvals
    ]
