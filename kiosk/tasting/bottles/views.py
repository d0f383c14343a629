"""Pages of the bar: open bottles, sealed stock, checks of measures."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from flask import redirect, render_template, request, url_for
from sqlalchemy import select
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.entries.entries import KEY, EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.site.settings import Units
from kiosk.staff.people import members
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.approvals.approvals import covers
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.bottles import bottle_entries as keeping
from kiosk.tasting.bottles import measures, stock, text
from kiosk.tasting.bottles.bottle_entries import BottleEntryForm, Opening
from kiosk.tasting.bottles.shelf import one_bottle, shelf
from kiosk.tasting.bottles.stock import Line
from kiosk.tasting.room.text import product_name, size
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats


@bp.get("/bottles")
@open_to(*POURERS)
def bottles() -> str:
    """Show a room's open bottles, its sealed stock and the measures."""
    here, at = site_context(), now()
    room = room_asked()
    with here.store.read() as session:
        open_here = [text.bottle(one, here.site, words(), at) for one in shelf(session, here.site, room)]
        known = session.execute(select(approvals).order_by(approvals.c.product, approvals.c.code)).all()
        kept = stock.sealed(session, room, at + timedelta(seconds=1))
        checked = measures.checks(session, at + timedelta(seconds=1))
        held = keeping.held_weighings(session)
    covered = [one for one in known if covers(one, room, here.site, at)]
    return render_template(
        "bottles/bottles.html",
        room=room,
        bottles=open_here,
        approvals=[(one.id, f"{name_of(one.product)} · {one.code}") for one in covered],
        # What is no longer approved is still counted and sent back.
        in_stock=[
            (one.id, f"{name_of(one.product)} · {one.code}")
            for one in known
            if one in covered or one.id in {approval for approval, _size in kept}
        ],
        stock=[
            (name_of(one.product), one.code, kept[key]) for key in kept for one in known if one.id == key[0]
        ],
        stock_kinds=[(kind, words().gettext(said)) for kind, said in text.STOCK_KINDS.items()],
        other_rooms=[("", "–"), *((one, one) for one in here.site.rooms if one != room)],
        measures=[
            (one, size(one.volume_ul, here.site, words()), checked.get(one.id)) for one in here.site.measures
        ],
        held=[(one, words().gettext(text.FINDINGS[one.reasons[0]])) for one in held],
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
        forms.whole("size_ml") or 0,
        forms.text("kind") or "bottle",
        forms.whole("gross_g"),
        temperature_mc(),
        forms.whole("tare_g"),
        now() + timedelta(hours=hours) if hours else None,
    )
    run(
        site_context().store,
        lambda session: keeping.open_new(session, site_context().site, origin(), opening, now()),
    )
    return redirect(url_for("tasting.bottles", room=opening.room), 303)


@bp.get("/bottles/<int:bottle_id>")
@open_to(*POURERS)
def bottle(bottle_id: int) -> str:
    """Show one bottle and what may be told about it."""
    with site_context().store.read() as session:
        found = one_bottle(session, site_context().site, bottle_id)
        people = members(session, site_context().site, now())
    if found is None:
        raise NotFound()
    return render_template(
        "bottles/bottle.html",
        one=text.bottle(found, site_context().site, words(), now()),
        told=found.account(),
        volume=lambda ul: text.volume(ul, site_context().site, words()),
        people=[(one.id, one.name) for one in people],
        held=request.args.get("told") == "held",
        new_key=new_key,
        warmth=warmth_unit(),
    )


@bp.post("/bottles/<int:bottle_id>")
@open_to(*POURERS)
def tell_bottle(bottle_id: int) -> Response:
    """Record a weighing, a spill, house use, a break or the end of a bottle."""
    told = BottleEntryForm(
        forms.text("kind"), forms.whole("gross_g"), temperature_mc(), volume_ul(), forms.whole("used_by")
    )
    became = run(
        site_context().store,
        lambda session: keeping.enter(session, site_context().site, origin(), bottle_id, told, now()),
    )
    return redirect(url_for("tasting.bottle", bottle_id=bottle_id, told=became), 303)


@bp.post("/bottles/held/<int:held_id>")
@open_to("manager")
def settle_weighing(held_id: int) -> Response:
    """Set a weighing aside that could not be."""
    somebody = access.person()
    assert somebody is not None  # `open_to` lets nobody else through
    with site_context().store.write() as session:
        keeping.settle(session, held_id, forms.whole("revision") or 0, by=somebody.id, at=now())
    return redirect(url_for("tasting.bottles"), 303)


@bp.post("/bottles/stock")
@open_to(*POURERS)
def record_stock() -> Response:
    """Record sealed bottles received, returned, moved or counted."""
    n, size_ml = forms.whole("bottles"), forms.whole("size_ml")
    if n is None or size_ml is None:
        raise Malformed(part="bottles")
    document = forms.text("document", 80) or None
    line = Line(forms.whole("approval") or 0, room_asked(), forms.text("kind"), n, size_ml, document)
    to = forms.text("to_room")
    run(
        site_context().store,
        lambda s: stock.record(s, site_context().site, origin(), line, now(), to_room=to),
    )
    return redirect(url_for("tasting.bottles", room=line.room), 303)


@bp.post("/bottles/measures")
@open_to(*POURERS)
def check_measure() -> Response:
    """Record ten weighed pours of water."""
    weights = [float(formats.parse_number(one, words())) for one in forms.text("weights_g").split()]
    measure = forms.text("measure")
    run(
        site_context().store,
        lambda s: measures.check(s, site_context().site, origin(), measure, weights, now()),
    )
    return redirect(url_for("tasting.bottles"), 303)


def origin() -> EntryOrigin:
    """Return what a form's entry carries."""
    somebody, device = access.person(), access.device()
    if not KEY.fullmatch(forms.text("key")):
        raise Malformed(part="key")
    return EntryOrigin(forms.text("key"), somebody.id if somebody else None, device.id if device else None)


def room_asked() -> str:
    """Return the room that the request names, else the device's, else the site's first."""
    device = access.device()
    asked = request.values.get("room") or (device.room if device else None)
    return asked if asked in site_context().site.rooms else site_context().site.rooms[0]


def warmth_unit() -> str:
    """Return the unit in which this site reads a room's temperature."""
    return "°F" if site_context().site.units is Units.US else "°C"


def temperature_mc() -> int | None:
    """Return the temperature that was sent, by form or address, in thousandths of a °C, or None."""
    sent = request.values.get("temperature", "").strip()
    if not sent:
        return None
    read = formats.parse_number(sent, words())
    celsius = (read - 32) * 5 / 9 if site_context().site.units is Units.US else read
    if not 0 <= celsius <= 40:
        raise Malformed(part="temperature")
    return round(celsius * 1000)


def volume_ul() -> int | None:
    """Return the form's mL as µL, or None."""
    sent = forms.text("volume_ml")
    return int(formats.parse_number(sent, words()) * Decimal(1000)) if sent else None


def name_of(product: str) -> str:
    """Return a product's name in the reader's language."""
    return product_name(site_context().site, product, words())
