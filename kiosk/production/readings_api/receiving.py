"""Readings that instruments send: each recorded once, held, or refused with the reason."""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import MAXYEAR, MINYEAR, UTC, datetime
from typing import Any

from sqlalchemy import insert, literal, select, union_all
from sqlalchemy.orm import Session

from kiosk.production.records import kinds as k
from kiosk.production.records.faults import RecordFaults, ValueFault
from kiosk.production.records.fields import CODE, Field, Type
from kiosk.production.records.forms import COLLECTED_TEMPERATURE, STILL_READING, WASH_READING, Form
from kiosk.production.records.submission import HELD, Source, batch_in, sent_by, submit_form
from kiosk.production.runs.instruments import NotAnInstrument, read_instruments
from kiosk.site.settings import Site
from kiosk.staff.devices import new_instrument
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

SAME, RECORDED, HELD_BACK = "same", "recorded", "held"
STATUS = {SAME: 200, RECORDED: 201, HELD_BACK: 202}
_MOST = 1e12  # no instrument reads so much; NaN is less than nothing
ID = re.compile(r"[A-Za-z0-9._:-]{1,60}", re.ASCII)
"""The id of a reading, given by the instrument that sends it."""

MALFORMED = N_("{field}: missing, not known, or of the wrong kind. See the document of this address.")
NOT_BOUND = N_("This instrument does not send readings of that vessel.")
OTHER_PAYLOAD = N_("A reading with this id was sent before and says something else. It stands.")
NOTHING_UNDER_WAY = N_("Nothing was under way in that vessel at that time.")
IMPOSSIBLE = N_("{field}: this cannot be recorded. Check value, unit and time.")


@dataclass(frozen=True, slots=True)
class ReadingKind:
    """What may be sent of one kind of vessel: fields by their names here, and the form that records them."""

    form: Form
    batch: str
    fields: Mapping[str, Field]


READINGS: Mapping[str, ReadingKind] = {
    "still": ReadingKind(
        STILL_READING,
        "run",
        {
            "cut": k.CUT,
            "collected_l": k.COLLECTED_L,
            "collected_temperature_c": COLLECTED_TEMPERATURE,
            "scale": replace(k.SCALE, type=Type.CHOICE),
            "instrument": replace(k.SCALE, name="instrument", needed=False),
            **{field.name: field for field in k.READ},
        },
    ),
    "wash": ReadingKind(
        WASH_READING,
        "wash",
        {"measure" if field.name == "kind" else field.name: field for field in k.WASH_READING},
    ),
}


class ReadingRefused(Exception):
    """A reading that is not taken; `field` names what is wrong."""

    def __init__(self, status: int, code: str, message: str, field: str = "") -> None:
        super().__init__(message)
        self.status, self.code, self.message = status, code, message
        self.facts: Mapping[str, object] = {"field": field}


def receive_reading(session: Session, site: Site, device_id: int, body: object, now: datetime) -> str:
    """Record a reading in the caller's writing transaction and return what became of it.

    Sent again, it is the same; another reading under its id is refused with 409.
    Raises ReadingRefused.
    """
    sent = _checked(body)
    kind = READINGS[sent["kind"]]
    vessel_id = _vessel(session, device_id, sent["vessel"])
    digest = hashlib.sha256(json.dumps(sent, sort_keys=True).encode()).hexdigest()
    source = sent_by(device_id, sent["id"], digest)
    if (former := _former(session, source)) is not None:
        if former != digest:
            raise ReadingRefused(409, "other_payload", OTHER_PAYLOAD, "id")
        return SAME
    at = datetime.fromisoformat(sent["at"]).astimezone(UTC).replace(microsecond=0)
    values = _values(session, kind, sent, at)
    under_way = batch_in(session, kind.batch, vessel_id, at)
    if under_way is None:
        raise ReadingRefused(422, "nothing_under_way", NOTHING_UNDER_WAY, "at")
    values |= {"at": at, kind.batch: under_way}
    try:
        done = submit_form(session, site, kind.form, values, by=None, at=now, source=source, typed=False)
    except RecordFaults as faults:
        raise ReadingRefused(422, "impossible", IMPOSSIBLE, faults.faults[0].column) from faults
    return HELD_BACK if done.held_id else RECORDED


def bind_instrument(session: Session, site: Site, name: str, codes: Sequence[str], now: datetime) -> str:
    """Record an instrument bound to the vessels named and return its token. Raises StaffError."""
    device = new_instrument(session, site, name, now)
    for vessel_id in session.scalars(select(t.vessels.c.id).where(t.vessels.c.code.in_(codes))).all():
        session.execute(insert(t.instrument_vessels).values(device_id=device.id, vessel_id=vessel_id))
    return device.token


def vessel_codes(session: Session) -> list[str]:
    """Return the codes of all vessels."""
    return list(session.scalars(select(t.vessels.c.code).order_by(t.vessels.c.code)))


def _checked(body: object) -> dict[str, Any]:
    """Return a body whose every field is known and of its type; ranges are asked later."""
    if not isinstance(body, dict) or not isinstance(body.get("kind"), str) or body["kind"] not in READINGS:
        raise ReadingRefused(400, "malformed", MALFORMED, "kind")
    fields = READINGS[body["kind"]].fields
    needed = {"id", "kind", "vessel", "at", *(name for name, field in fields.items() if field.needed)}
    for name in {*body, *needed}:
        if not _fits(name, body.get(name), fields):
            raise ReadingRefused(400, "malformed", MALFORMED, name)
    return body


def _fits(name: str, value: object, fields: Mapping[str, Field]) -> bool:
    field = fields.get(name)
    if field is not None and field.type is Type.NUMBER:
        return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _MOST
    if not isinstance(value, str):
        return False
    if name == "id":
        return bool(ID.fullmatch(value))
    if name == "at":
        return _is_instant(value)
    if name == "vessel" or (field is not None and field.type is Type.INSTRUMENT):
        return bool(CODE.fullmatch(value))
    return (name == "kind" or field is not None) and 0 < len(value) <= 40 and value.isprintable()


def _is_instant(text: str) -> bool:
    try:
        at = datetime.fromisoformat(text)
        # Any zone must have a day for it: the site's is a day away at most.
        return at.tzinfo is not None and MINYEAR < at.year < MAXYEAR
    except ValueError:
        return False


def _values(session: Session, kind: ReadingKind, sent: Mapping[str, Any], at: datetime) -> dict[str, Any]:
    """Return the values of the form's fields. Raises ReadingRefused for what lies outside its range.

    An instrument of the house takes the place of its scale, in which it must have read.
    """
    values: dict[str, Any] = {}
    for name, field in kind.fields.items():
        try:
            values[field.name] = field.check(sent[name]) if name in sent else None
        except ValueFault as fault:
            raise ReadingRefused(422, "impossible", IMPOSSIBLE, name) from fault
    scale, named = values.pop("scale", None), values.get("instrument")
    if scale is None:
        return values
    try:
        if named is not None and read_instruments(session).read_with(named, at)["scale"] != scale:
            raise ReadingRefused(422, "impossible", IMPOSSIBLE, "scale")
    except NotAnInstrument as unknown:
        raise ReadingRefused(422, "impossible", IMPOSSIBLE, "instrument") from unknown
    return {**values, "instrument": named or scale}


def _vessel(session: Session, device_id: int, code: str) -> int:
    bound, v = t.instrument_vessels.c, t.vessels.c
    query = select(v.id).join(t.instrument_vessels, bound.vessel_id == v.id)
    vessel_id = session.scalar(query.where(v.code == code, bound.device_id == device_id))
    if vessel_id is None:
        raise ReadingRefused(403, "not_bound", NOT_BOUND, "vessel")
    return int(vessel_id)


def _former(session: Session, source: Source) -> str | None:
    """Return the digest of what was sent under this id before, recorded or held."""
    h, payload = t.held.c, t.held.c.payload
    recorded = (
        select(table.c.source_hash).where(table.c.source == source.name)
        for table in (t.run_readings, t.wash_readings)
    )
    held = select(payload["digest"].as_string()).where(
        h.kind == literal(HELD), payload["source"].as_string() == source.name
    )
    return session.scalars(union_all(*recorded, held)).first()
