"""The closing of a shift: on screen, signed by PIN, as PDF and as CSV."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from flask import Response, make_response, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as Answer

from kiosk.paper.sheet import Paper
from kiosk.site.settings import Units
from kiosk.staff import sessions
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import staff
from kiosk.tasting.blueprint import CLOSERS, bp
from kiosk.tasting.bottles.views import origin, room_asked, temperature_mc, warmth_unit
from kiosk.tasting.shift_closing import closing as closes
from kiosk.tasting.shift_closing.closing import Closing
from kiosk.tasting.shift_closing.text import ClosingText, closing_pdf, csv_text, shown
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.errors import sentence


@bp.get("/closing")
@open_to(*CLOSERS)
def closing() -> str:
    """Show a room's shift as it is known now, or as it was signed."""
    return _page("")


@bp.post("/closing")
@open_to(*CLOSERS)
def sign_closing() -> Answer:
    """Sign a shift; the PIN is asked again."""
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
    done = run(
        site_context().store,
        lambda session: closes.sign(session, site_context().site, origin(), room, day, warm_c, now()),
    )
    return redirect(url_for("tasting.closing", room=room, day=day, revision=done.revision), 303)


@bp.get("/closing.pdf")
@open_to(*CLOSERS)
def closing_on_paper() -> Response:
    """Answer a signed closing as a PDF."""
    told, signed = _signed()
    paper = request.args.get("paper", Paper.LETTER)
    if paper not in set(Paper):
        raise NotFound()
    return _file(
        closing_pdf(told, site_context().site, words(), Paper(paper)), signed, "pdf", "application/pdf"
    )


@bp.get("/closing.csv")
@open_to(*CLOSERS)
def closing_as_table() -> Response:
    """Answer a signed closing as a table."""
    told, signed = _signed()
    return _file(csv_text(told).encode("utf-8-sig"), signed, "csv", "text/csv; charset=utf-8")


def _page(wrong: str) -> str:
    here, room, day = site_context(), room_asked(), _day()
    warm_c = _warm_c()
    with here.store.read() as session:
        signed = closes.closings_of(session, room, day)
        asked = _chosen(signed)
        names = _names(session)
        body = asked.body if asked else closes.body(session, here.site, room, day, warm_c, signed)
        late = closes.truth_since(session, here.site, signed[0]) if signed else 0
    return render_template(
        "shift_closing/closing.html",
        room=room,
        day=day,
        told=shown(body, here.site, words(), names, asked, (room, day)),
        asked=asked,
        signed=signed,
        names=names,
        late=late,
        day_before=day - timedelta(days=1),
        wrong=wrong,
        new_key=new_key,
        warmth=warmth_unit(),
        warm=formats.plain_number(_in_unit(warm_c), words()),
    )


def _warm_c() -> float:
    """Return how warm the room is: as somebody read it, else as the site says that it usually is."""
    read = temperature_mc()
    return site_context().site.room_temperature_c if read is None else read / 1000


def _in_unit(celsius: float) -> Decimal:
    """Return a temperature in the unit in which this site reads a room's, to a tenth."""
    shown = celsius * 9 / 5 + 32 if site_context().site.units is Units.US else celsius
    return Decimal(str(round(shown, 1)))


def _signed() -> tuple[ClosingText, Closing]:
    with site_context().store.read() as session:
        found = _chosen(closes.closings_of(session, room_asked(), _day()))
        names = _names(session)
    if found is None:
        raise NotFound()
    return shown(found.body, site_context().site, words(), names, found, (found.room, found.day)), found


def _names(session: Session) -> dict[int, str]:
    """Return names by id, of those who left too: what they signed stands."""
    return dict(session.execute(select(staff.c.id, staff.c.name)).all())


def _chosen(signed: list[Closing]) -> Closing | None:
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
