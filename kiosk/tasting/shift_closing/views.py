"""Pages of the shift closing: the balance, signing it by PIN, and a signed closing as PDF and CSV."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from flask import Response, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as Answer

from kiosk.paper.sheet import Paper
from kiosk.site.settings import Units
from kiosk.staff import sessions
from kiosk.staff.errors import StaffError
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import CLOSERS, bp
from kiosk.tasting.bottles.views import origin, room_asked, run_use_case, temperature_mc, warmth_unit
from kiosk.tasting.shift_closing import closing as closings
from kiosk.tasting.shift_closing.closing import Closing
from kiosk.tasting.shift_closing.text import ClosingText, closing_csv, closing_pdf, closing_text, staff_name
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.errors import sentence


@bp.get("/closing")
@open_to(*CLOSERS)
def closing() -> str:
    """Show a room's shift by all entries until now, or a signed revision of its closing."""
    return _page("")


@bp.post("/closing")
@open_to(*CLOSERS)
def sign_closing() -> Answer:
    """Sign a shift after the signer's PIN was checked again."""
    person, device = access.person(), access.device()
    assert person is not None  # `open_to` lets nobody else through
    assert device is not None
    room, day, warm_c = room_asked(), _day(), _warm_c()
    try:
        sessions.sign_in(
            site_context().store, site_context().site, person.id, device.id, forms.text("pin"), now()
        )
    except StaffError as refusal:
        return make_response(_page(sentence(refusal, words())), refusal.status)
    done = run_use_case(closings.sign, origin(), room, day, warm_c, now())
    return redirect(url_for("tasting.closing", room=room, day=day, revision=done.revision), 303)


@bp.get("/closing.pdf")
@open_to(*CLOSERS)
def closing_on_paper() -> Response:
    """Answer a signed closing as a PDF."""
    signed, text = _signed()
    paper = request.args.get("paper", Paper.LETTER)
    if paper not in set(Paper):
        raise NotFound()
    pdf = closing_pdf(text, site_context().site, words(), Paper(paper))
    return _file(pdf, signed, "pdf", "application/pdf")


@bp.get("/closing.csv")
@open_to(*CLOSERS)
def closing_as_table() -> Response:
    """Answer a signed closing as CSV."""
    signed, text = _signed()
    return _file(closing_csv(text, words()).encode("utf-8-sig"), signed, "csv", "text/csv; charset=utf-8")


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
    value = celsius * 9 / 5 + 32 if site_context().site.units is Units.US else celsius
    return Decimal(str(round(value, 1)))


def _signed() -> tuple[Closing, ClosingText]:
    """Return the signed closing that the address names, and its text. Raises NotFound."""
    site, room, day = site_context().site, room_asked(), _day()
    with site_context().store.read() as session:
        signed = _chosen(closings.signed_closings(session, room, day))
        names = closings.staff_names(session)
    if signed is None:
        raise NotFound()
    return signed, closing_text(signed.body, site, words(), names, signed, room, day)


def _chosen(signed: list[Closing]) -> Closing | None:
    """Return the closing whose revision the address names, or None."""
    revision = request.args.get("revision", "")
    return next((one for one in signed if str(one.revision) == revision), None)


def _day() -> date:
    sent = request.values.get("day", "")
    try:
        return date.fromisoformat(sent) if sent else site_context().site.service_day(now())
    except ValueError:
        raise NotFound() from None


def _file(content: bytes, signed: Closing, ending: str, kind: str) -> Response:
    name = f"closing-{signed.room}-{signed.day}-{signed.revision}.{ending}"
    headers: dict[str, Any] = {
        "Content-Disposition": f'inline; filename="{name}"',
        "Cache-Control": "no-store",
    }
    return Response(content, mimetype=kind, headers=headers)
