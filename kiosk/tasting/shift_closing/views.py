"""Pages of the shift closing: the balance, signing it by PIN, and a signed closing as PDF and CSV."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from flask import Response, make_response, redirect, render_template, request, url_for
from sqlalchemy import Row
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as Answer

from kiosk.entries.pages import form_origin
from kiosk.figures.figure import Unit
from kiosk.paper.sheet import Paper
from kiosk.site.settings import Units
from kiosk.staff import sessions
from kiosk.staff.errors import StaffError
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import CLOSERS, bp
from kiosk.tasting.bottles.views import room_asked, run_use_case, temperature_mc, warmth_unit
from kiosk.tasting.shift_closing import closing as closings
from kiosk.tasting.shift_closing.text import (
    ClosingText,
    closing_pdf,
    closing_rows,
    closing_text,
    csv_text,
    staff_name,
)
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import paper_asked
from kiosk.words import formats
from kiosk.words.errors import sentence
from kiosk.words.units import to_us


@bp.get("/closing")
@open_to(*CLOSERS)
def closing() -> str:
    """Show a room's shift by all entries until now, or a signed revision of its closing."""
    return _page("")


@bp.post("/closing")
@open_to(*CLOSERS)
def sign_closing() -> Answer:
    """Sign a shift after the signer's PIN was checked again."""
    person, device = access.require_person(), access.require_device()
    room, day, warm_c = room_asked(), _day(), _warm_c()
    try:
        sessions.sign_in(
            site_context().store, site_context().site, person.id, device.id, forms.text("pin"), now()
        )
    except StaffError as refusal:
        return make_response(_page(sentence(refusal, words())), refusal.status)
    done = run_use_case(closings.sign, form_origin(), room, day, warm_c, now())
    return redirect(url_for("tasting.closing", room=room, day=day, revision=done.revision), 303)


@bp.get("/closing.pdf")
@open_to(*CLOSERS)
def closing_on_paper() -> Response:
    """Answer a signed closing as a PDF."""
    signed, text = _signed()
    pdf = closing_pdf(text, site_context().site, words(), paper_asked(Paper.LETTER))
    return document(pdf, f"{_file_name(signed)}.pdf")


@bp.get("/closing.csv")
@open_to(*CLOSERS)
def closing_as_table() -> Response:
    """Answer a signed closing as CSV."""
    signed, text = _signed()
    table = csv_text(closing_rows(text, words()))
    return document(table.encode("utf-8-sig"), f"{_file_name(signed)}.csv")


def _page(error: str) -> str:
    room, day, warm_c = room_asked(), _day(), _warm_c()
    return render_template(
        "shift_closing/closing.html",
        room=room,
        day=day,
        **_shift(room, day, warm_c),
        day_before=day - timedelta(days=1),
        wrong=error,
        new_key=new_key,
        warmth=warmth_unit(),
        warm=formats.plain_number(_in_unit(warm_c), words()),
    )


def _shift(room: str, day: date, warm_c: float) -> dict[str, Any]:
    """Return what the page shows of a shift: its closing as text, and the closings that were signed."""
    site = site_context().site
    with site_context().store.read() as session:
        signed = closings.signed_closings(session, room, day)
        asked = _chosen(signed)
        names = closings.staff_names(session)
        body = asked.body if asked else closings.body(session, site, room, day, warm_c, signed)
        late = closings.entries_since(session, site, signed[0]) if signed else 0
    return {
        "closing": closing_text(body, site, words(), names, asked, room, day),
        "asked": asked,
        "signed": signed,
        "late": late,
        "name_of": lambda staff_id: staff_name(names, staff_id, words()),
    }


def _warm_c() -> float:
    """Return the room's temperature in °C: as it was sent, else the site's usual one."""
    sent_mc = temperature_mc()
    return site_context().site.room_temperature_c if sent_mc is None else sent_mc / 1000


def _in_unit(celsius: float) -> Decimal:
    """Return a temperature in the site's unit, to a tenth."""
    is_us = site_context().site.units is Units.US
    return formats.rounded(to_us(celsius, Unit.CELSIUS) if is_us else celsius, 1)


def _signed() -> tuple[Row[Any], ClosingText]:
    """Return the signed closing that the address names, and its text. Raises NotFound."""
    site, room, day = site_context().site, room_asked(), _day()
    with site_context().store.read() as session:
        signed = _chosen(closings.signed_closings(session, room, day))
        names = closings.staff_names(session)
    if signed is None:
        raise NotFound()
    return signed, closing_text(signed.body, site, words(), names, signed, room, day)


def _chosen(signed: Sequence[Row[Any]]) -> Row[Any] | None:
    """Return the closing whose revision the address names, or None."""
    revision = request.args.get("revision", "")
    return next((one for one in signed if str(one.revision) == revision), None)


def _day() -> date:
    sent = request.values.get("day", "")
    day = formats.parse_day(sent) if sent else site_context().site.service_day(now())
    if day is None:
        raise NotFound()
    return day


def _file_name(signed: Row[Any]) -> str:
    return f"closing-{signed.room}-{signed.day}-{signed.revision}"


def document(content: bytes, name: str, disposition: str = "inline") -> Response:
    """Answer a document that no cache may keep, a PDF or CSV by the ending of its name."""
    headers = {"Content-Disposition": f'{disposition}; filename="{name}"', "Cache-Control": "no-store"}
    mimetype = "application/pdf" if name.endswith(".pdf") else "text/csv; charset=utf-8"
    return Response(content, mimetype=mimetype, headers=headers)
