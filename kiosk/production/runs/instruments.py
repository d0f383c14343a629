"""Instruments of the house: what each reads in, and what its certificates say at a time.

One door for forms, files and the instruments that send readings themselves: a
code becomes a scale and a certificate here and nowhere else.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.making.cuts import Reading
from kiosk.figures.strength import AS_READ, Certificate, Instrument, reading_abv_percent
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

SCALES: Mapping[str, str] = {
    Instrument.GLASS_ABV_20: N_("glass hydrometer, % vol at 20 °C"),
    Instrument.GLASS_ABV_15: N_("glass hydrometer, % vol at 15 °C"),
    Instrument.GLASS_PROOF_60: N_("glass hydrometer, proof at 60 °F"),
    Instrument.DENSITY_METER: N_("density meter, % vol at 20 °C"),
}
_READ = "kiosk_instruments"


def needs_temperature(scale: str) -> bool:
    """Return whether a reading on a scale is corrected for its temperature: a meter corrects its own."""
    return scale != Instrument.DENSITY_METER


class NotAnInstrument(Exception):
    """A code that is neither an instrument of the house nor a scale."""


@dataclass(frozen=True, slots=True)
class KnownInstrument:
    """An instrument of the house; `certificates` by the time that each holds from, oldest first."""

    id: int
    code: str
    scale: str
    certificates: Sequence[tuple[datetime, Certificate]] = ()

    def certificate(self, at: datetime) -> Certificate:
        """Return the corrections in force at a time; none before the first certificate."""
        return next((one for since, one in reversed(self.certificates) if since <= at), AS_READ)

    def has_run_out(self, at: datetime, on: date) -> bool:
        """Say whether the certificate in force at a time no longer holds on its day."""
        return self.certificate(at).has_run_out(on)


class Instruments:
    """Every instrument of the house."""

    def __init__(self, every: Sequence[KnownInstrument]) -> None:
        self.every = every
        self._by_code = {one.code.casefold(): one for one in every} | {one.code: one for one in every}
        self._by_id = {one.id: one for one in every}

    def certificate(self, instrument_id: int | None, at: datetime) -> Certificate:
        """Return the corrections of an instrument at a time; none where none was named."""
        return AS_READ if instrument_id is None else self._by_id[instrument_id].certificate(at)

    def corrected(self, row: Mapping[Any, Any]) -> Reading:
        """Return a recorded reading of a still with its % vol at 20 °C, by its instrument's certificate then.

        Raises FigureError for one that makes no strength.
        """
        certificate = self.certificate(row["instrument_id"], row["at"])
        reading, warmth_mc = row["reading_e2"] / 100, row["temperature_mc"]
        temperature_c = None if warmth_mc is None else warmth_mc / 1000
        abv_percent = reading_abv_percent(row["scale"], reading, temperature_c, certificate)
        as_read = needs_temperature(row["scale"]) and temperature_c is None
        return Reading(row["at"], row["cut"], row["collected_ml"] / 1000, abv_percent, as_read)

    def read_with(self, code: str | None, at: datetime) -> Mapping[str, Any]:
        """Return `scale`, `instrument_id` and `certificate` of what a strength was read with.

        `code` is the code of an instrument or a scale by its own name, which has no
        certificate; None leaves all of them empty. Raises NotAnInstrument.
        """
        if code is None or code in SCALES:
            return {"scale": code, "instrument_id": None, "certificate": AS_READ}
        instrument = self._by_code.get(code) or self._by_code.get(code.casefold())
        if instrument is None or instrument.scale not in SCALES:
            raise NotAnInstrument(code)
        return {
            "scale": instrument.scale,
            "instrument_id": instrument.id,
            "certificate": instrument.certificate(at),
        }


def read_instruments(session: Session) -> Instruments:
    """Return the instruments of the house with all their certificates, by code.

    They are read once in a transaction: a reading asks for them where it arrives, where it is
    built, and where it is checked.
    """
    if _READ not in session.info:
        session.info[_READ] = _read(session)
    return cast(Instruments, session.info[_READ])


def _read(session: Session) -> Instruments:
    c, i = t.certificates.c, t.instruments.c
    query = (
        select(i.id, i.code, i.kind, c.since, c.scale_e4, c.thermometer_mc, c.until)
        .outerjoin(t.certificates, c.instrument_id == i.id)
        .order_by(i.code, c.since)
    )
    every: dict[int, KnownInstrument] = {}
    dated: dict[int, list[tuple[datetime, Certificate]]] = defaultdict(list)
    for row in session.execute(query):
        every.setdefault(row.id, KnownInstrument(row.id, row.code, row.kind, dated[row.id]))
        if row.since is not None:
            says = Certificate(row.scale_e4 / 10_000, row.thermometer_mc / 1000, row.until)
            dated[row.id].append((row.since, says))
    return Instruments(list(every.values()))


def add(session: Session, code: str, scale: str) -> int:
    """Record an instrument of the house and return its id. Raises ValueError for what is none."""
    if not code or code in SCALES or scale not in SCALES:
        raise ValueError(code)
    session.info.pop(_READ, None)
    return rows.insert(session, t.instruments, {"code": code, "kind": scale})


def certify(
    session: Session, instrument_id: int, since: datetime, says: Certificate, *, by: int | None, at: datetime
) -> None:
    """Record a certificate that holds from `since` on; one of the same day is put right by it."""
    c = t.certificates.c
    values = {
        "until": says.valid_until,
        "scale_e4": round(says.scale * 10_000),
        "thermometer_mc": round(says.thermometer_c * 1000),
    }
    session.info.pop(_READ, None)
    known = select(c.id, c.revision).where(c.instrument_id == instrument_id, c.since == since)
    former = session.execute(known).one_or_none()
    if former is None:
        rows.insert(session, t.certificates, {"instrument_id": instrument_id, "since": since, **values})
    else:
        rows.change(session, t.certificates, former.id, former.revision, values, by=by, at=at)
