"""Readings that instruments send: each taken once, held, or refused with the reason."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from datetime import MAXYEAR, MINYEAR, datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.production.entering.entering import HELD, Source, enter, sent_by
from kiosk.production.entering.forms import FORMS
from kiosk.production.entering.reading import EntryFaults
from kiosk.production.runs.instruments import NotAnInstrument, read_instruments
from kiosk.site.settings import Site
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

SAME, RECORDED, HELD_BACK = "same", "recorded", "held"
STATUS = {SAME: 200, RECORDED: 201, HELD_BACK: 202}
ASKED = {
    "still": ("cut", "collected_l", "collected_temperature_c", "scale", "reading", "temperature_c"),
    "wash": ("measure", "value"),
}
MAY = {"still": ("instrument",), "wash": ("temperature_c",)}
WORDS = frozenset({"kind", "cut", "scale", "measure"})
CODES = frozenset({"vessel", "instrument"})
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", re.ASCII)
_MOST = 1e12  # no instrument reads so much; NaN is less than nothing
_ID = re.compile(r"[A-Za-z0-9._:-]{1,60}", re.ASCII)


class ReadingRefused(Exception):
    """A reading that is not taken; `field` names what is wrong."""

    def __init__(self, status: int, code: str, message: str, field: str = "") -> None:
        super().__init__(message)
        self.status, self.code, self.message = status, code, message
        self.facts: Mapping[str, object] = {"field": field}


MALFORMED = N_("{field}: missing, not known, or of the wrong kind. See the document of this address.")
NOT_BOUND = N_("This instrument does not send readings of that vessel.")
OTHER_PAYLOAD = N_("A reading with this id was sent before and says something else. It stands.")
NOTHING_UNDER_WAY = N_("Nothing was under way in that vessel at that time.")
IMPOSSIBLE = N_("{field}: this cannot be recorded. Check value, unit and time.")


def receive(session: Session, site: Site, device_id: int, body: object, now: datetime) -> str:
    """Take a reading in, in the caller's writing transaction, and say what became of it.

    Sent again, it is the same; another reading under its id is refused with 409.
    Raises ReadingRefused.
    """
    sent = _checked(body)
    vessel_id = _vessel(session, device_id, sent["vessel"])
    digest = hashlib.sha256(json.dumps(sent, sort_keys=True).encode()).hexdigest()
    source = sent_by(device_id, sent["id"], digest)
    if (former := _former(session, source)) is not None:
        if former != digest:
            raise ReadingRefused(409, "other_payload", OTHER_PAYLOAD, "id")
        return SAME
    at = datetime.fromisoformat(sent["at"])
    _agree(session, sent, at)
    table, name = (t.runs, "run") if sent["kind"] == "still" else (t.washes, "wash")
    cells = _cells(site, sent, at) | {name: _under_way(session, table, vessel_id, at)}
    try:
        form = FORMS["still-reading" if name == "run" else "wash-reading"]
        entered = enter(session, site, form, cells, by=None, at=now, source=source)
    except EntryFaults as faults:
        raise ReadingRefused(422, "impossible", IMPOSSIBLE, faults.faults[0].column) from faults
    return HELD_BACK if entered.held_id else RECORDED


def _checked(body: object) -> dict[str, Any]:
    if not isinstance(body, dict) or not isinstance(body.get("kind"), str) or body["kind"] not in ASKED:
        raise ReadingRefused(400, "malformed", MALFORMED, "kind")
    needed = ("id", "kind", "vessel", "at", *ASKED[body["kind"]])
    for field in {*body, *needed}:
        known = field in needed or field in MAY[body["kind"]]
        if not known or not _fits(field, body.get(field)):
            raise ReadingRefused(400, "malformed", MALFORMED, field)
    return body


def _fits(field: str, value: object) -> bool:
    if field == "id":
        return isinstance(value, str) and bool(_ID.fullmatch(value))
    if field == "at":
        return isinstance(value, str) and _aware(value)
    if field in CODES:
        return isinstance(value, str) and bool(_CODE.fullmatch(value))
    if field in WORDS:
        return isinstance(value, str) and 0 < len(value) <= 40 and value.isprintable()
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _MOST


def _aware(text: str) -> bool:
    try:
        at = datetime.fromisoformat(text)
        # Any zone must have a day for it: the site's is a day away at most.
        return at.tzinfo is not None and MINYEAR < at.year < MAXYEAR
    except ValueError:
        return False


def _vessel(session: Session, device_id: int, code: str) -> int:
    bound, v = t.instrument_vessels.c, t.vessels.c
    query = select(v.id).join(t.instrument_vessels, bound.vessel_id == v.id)
    found = session.scalar(query.where(v.code == code, bound.device_id == device_id))
    if found is None:
        raise ReadingRefused(403, "not_bound", NOT_BOUND, "vessel")
    return int(found)


def _agree(session: Session, sent: Mapping[str, Any], at: datetime) -> None:
    """Refuse an instrument that is not known here, or that reads in another scale than was sent."""
    if "instrument" not in sent:
        return
    try:
        scale = read_instruments(session).read_with(sent["instrument"], at)["scale"]
    except NotAnInstrument as unknown:
        raise ReadingRefused(422, "impossible", IMPOSSIBLE, "instrument") from unknown
    if scale != sent["scale"]:
        raise ReadingRefused(422, "impossible", IMPOSSIBLE, "scale")


def _former(session: Session, source: Source) -> str | None:
    """Return the digest of what was sent under this id before, recorded or held."""
    for table in (t.run_readings, t.wash_readings):
        c = table.c
        digest = session.scalar(select(c.source_hash).where(c.source == source.name))
        if digest is not None:
            return str(digest)
    h = t.held.c
    sent = select(h.payload).where(h.kind == HELD, h.payload["source"].as_string() == source.name)
    payload = session.scalar(sent.limit(1))
    return None if payload is None else str(payload["digest"])


def _under_way(session: Session, table: Any, vessel_id: int, at: datetime) -> str:
    c, b = table.c, t.batches.c
    begun = c.started_at if table is t.runs else c.set_at
    query = select(b.code).join(table, c.id == b.id).where(c.vessel_id == vessel_id, begun <= at)
    found = query.where(or_(c.ended_at.is_(None), c.ended_at >= at)).order_by(begun.desc()).limit(1)
    code = session.scalar(found)
    if code is None:
        raise ReadingRefused(422, "nothing_under_way", NOTHING_UNDER_WAY, "at")
    return str(code)


def _cells(site: Site, sent: Mapping[str, Any], at: datetime) -> dict[str, str]:
    local = site.local(at).replace(tzinfo=None, microsecond=0)
    named = {"scale": "instrument", "measure": "kind"}
    # An instrument of the house comes after its scale and takes that one's place.
    fields = (*ASKED[sent["kind"]], *MAY[sent["kind"]])
    cells = {named.get(name, name): _text(sent[name]) for name in fields if name in sent}
    return {**cells, "at": local.isoformat(" ", "seconds")}


def _text(value: object) -> str:
    return value if isinstance(value, str) else f"{value:.6f}".rstrip("0").rstrip(".")
