"""Pages of the shift closing: the balance, signing it by PIN, and a signed closing as PDF and CSV."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from flask import Response, make_response, redirect, render_template, request, url_for
from sqlalchemy import Row
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as Answer

from kiosk.entries.errors import Malformed
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
from kiosk.tasting.shift_closing.closing import ShiftRecord
from kiosk.tasting.shift_closing.text import (
    ClosingText,
    closing_pdf,
    closing_rows,
    closing_text,
    csv_text,
    staff_name,
)
from kiosk.tasting.shift_closing.tiles import product_tiles, to_do
from kiosk.tasting.shift_closing.typed import NoLongerFits, Sent, faults_of, missing_of, read_sent
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import paper_asked
from kiosk.words import formats
from kiosk.words.catalogs import N_
from kiosk.words.errors import FormFaults, sentence
from kiosk.words.formats import NumberFault
from kiosk.words.units import to_us

NO_WARMTH = N_("“{typed}” is not possible. Allowed: {least} to {most} {unit}.")


@bp.get("/closing")
@open_to(*CLOSERS)
def closing() -> str:
    """Show a room's shift by all entries until now, or a signed revision of its closing."""
    room, day = room_asked(), _day()
    return _page(room, day, read_sent({}, now(), _warm_c()))


@bp.post("/closing")
@open_to(*CLOSERS)
def sign_closing() -> Answer:
    """Record what was typed and sign the shift, after the signer's PIN was checked again; or only preview it.

    What cannot be recorded, and what is missing and not confirmed, comes back with all that was typed.
    """
    room, day = room_asked(), _day()
    sent, by, device = _sent(day), access.require_person(), access.require_device()
    if "preview" in request.form:
        return make_response(_page(room, day, sent))
    if unfit := _unfit(room, day, sent):
        return make_response(_page(room, day, sent, unfit), 422)
    try:
        sessions.check_pin(
            site_context().store, site_context().site, by.id, device.id, forms.text("pin"), now()
        )
        warm_c = sent.typed.temperature_c
        done = run_use_case(closings.sign, form_origin(), room, day, warm_c, now(), sent.typed)
    except (StaffError, NoLongerFits) as refusal:
        return make_response(_page(room, day, sent, sentence(refusal, words())), refusal.status)
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


def _page(room: str, day: date, sent: Sent, wrong: str = "") -> str:
    return render_template(
        "shift_closing/closing.html",
        room=room,
        day=day,
        **_shift(room, day, sent),
        day_before=day - timedelta(days=1),
        wrong=wrong,
        new_key=new_key,
        warmth=warmth_unit(),
        warm=sent.as_typed.get("temperature")
        or formats.plain_number(_in_unit(sent.typed.temperature_c), words()),
    )


def _shift(room: str, day: date, sent: Sent) -> dict[str, Any]:
    """Return what the page shows of a shift: tiles, its closing as text, the closings that were signed."""
    site = site_context().site
    with site_context().store.read() as session:
        signed = closings.signed_closings(session, room, day)
        asked = _chosen(signed)
        names = closings.staff_names(session)
        shift = None if asked else _record(session, room, day, sent, signed)
        late = closings.entries_since(session, site, signed[0]) if signed else 0
    body = shift.body if shift else asked.body if asked else {}
    return {
        **(_open_shift(shift, sent) if shift else {}),
        "closing": closing_text(body, site, words(), names, asked, room, day),
        "asked": asked,
        "signed": signed,
        "late": late,
        "running": closings.is_running(site, day, now()),
        "name_of": lambda staff_id: staff_name(names, staff_id, words()),
    }


def _record(
    session: Session, room: str, day: date, sent: Sent, signed: Sequence[Row[Any]] | None = None
) -> ShiftRecord:
    typed = sent.typed
    return closings.shift_record(session, site_context().site, room, day, typed.temperature_c, signed, typed)


def _open_shift(shift: ShiftRecord, sent: Sent) -> dict[str, Any]:
    """Return the tiles of a shift that is not signed, what it lacks, and what is wrong with what was sent."""
    missing = missing_of(shift.products)
    faults = FormFaults(faults_of(sent, shift.products)).sentences(words())
    tiles = product_tiles(shift.products, site_context().site, words(), sent.as_typed, faults)
    to_do_lines = to_do(missing, tiles, shift.body, words())
    return {"tiles": tiles, "faults": faults, "missing": missing, "to_do": to_do_lines, "figures": shift.body}


def _unfit(room: str, day: date, sent: Sent) -> str:
    """Return why a shift cannot be signed as sent, or "": a field is wrong, or missing and not confirmed."""
    with site_context().store.read() as session:
        shift = _record(session, room, day, sent)
    if faults_of(sent, shift.products):
        return words().gettext("Nothing was recorded: check what is marked.")
    running = closings.is_running(site_context().site, day, now())
    if running and missing_of(shift.products) and "incomplete" not in request.form:
        return words().gettext(
            "Nothing was recorded: something is not weighed or not counted. Weigh and count it, or confirm "
            "that you sign without it."
        )
    return "" if forms.text("pin") else words().gettext("Nothing was recorded: type your PIN to sign.")


def _sent(day: date) -> Sent:
    """Return the fields of the closing's form; a temperature that is not possible is a fault of its field."""
    site = site_context().site
    fields = request.form if closings.is_running(site, day, now()) else {}
    try:
        return read_sent(fields, now(), _warm_c())
    except (NumberFault, Malformed):
        least, most = ("32", "104") if site.units is Units.US else ("0", "40")
        read, typed = read_sent(fields, now(), site.room_temperature_c), forms.text("temperature", 20)
        fault = NO_WARMTH, {"typed": typed, "least": least, "most": most, "unit": warmth_unit()}
        as_typed = {**read.as_typed, "temperature": typed}
        return replace(read, as_typed=as_typed, faults={**read.faults, "temperature": fault})


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
