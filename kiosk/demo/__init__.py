"""The demo: the invented estate Loma Candil, whose clock begins where its records end."""

import gc
import json
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.demo import bar, records
from kiosk.demo.records import Row, read_table
from kiosk.figures.strength import Certificate
from kiosk.production.importing.previews import import_folder
from kiosk.production.readings_api.receiving import bind_instrument
from kiosk.production.runs import instruments
from kiosk.production.runs.account import read_runs
from kiosk.site.loading import CLOCK_FILE, load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.staff.devices import new_code
from kiosk.store.engine import open_store
from kiosk.store.ledgers import new_key
from kiosk.store.migrate import upgrade
from kiosk.store.names import EXPERIMENT
from kiosk.store.tables import production as t
from kiosk.store.tables import tours
from kiosk.tasting.rules import policy

# What makes the estate's files, and what a site of one's own would hold, is not copied.
_NOT_COPIED = shutil.ignore_patterns("*.py", "__pycache__", "secret", "*.sqlite*")
_DEVICES = (("tablet 1", "mirador"), ("tablet 2", None))
# Codes of a real site are valid for half an hour; a demo may stand open for most of a day.
_EXTRA_CODE_LIFE = timedelta(hours=12)
INSTRUMENT = "density meter at the stills"
HYDROMETER, METER = "H-60-70", "DM-1"
# Invented: what a calibration house might certify of a sound hydrometer and its thermometer.
_CERTIFICATES = ((HYDROMETER, "glass_abv20", -0.1, 0.2), (METER, "density_meter", 0.02, 0.0))
_RULES_CONFIRMED_AGO = timedelta(days=90)
_CERTIFIED_AGO, _VALID_FOR = timedelta(days=200), timedelta(days=165)


@dataclass(frozen=True, slots=True)
class Prepared:
    """A demo ready to be served: its folder, its database, and the lines that say how to sign in.

    `first` are lines with what to look at first, `sending` is a shell line that sends a
    reading; `{address}` in them stands for where the demo is served.
    """

    folder: Path
    database: str
    sign_ins: tuple[str, ...]
    first: tuple[str, ...] = ()
    sending: str = ""


def prepare_demo(folder: Path, now: datetime, say: Callable[[str], None]) -> Prepared:
    """Make the demo in `folder`, which must not exist; its clock starts when the computer's shows `now`.

    The database lies in the folder whatever the environment says: a demo never
    touches a site's own records. `say` gets a line for each step.
    """
    say("Copying the invented estate Loma Candil ...")
    shutil.copytree(shipped("demo_site"), folder, ignore=_NOT_COPIED)
    make_secret(folder)
    with (folder / CLOCK_FILE).open("a", encoding="utf-8") as clock:
        clock.write(f"at = {now.isoformat()}\n")
    site = load_site(folder, database=f"sqlite:///{folder.resolve() / 'kiosk.sqlite'}")
    if site.demo_clock is None:
        raise ValueError(f"{CLOCK_FILE} does not say what the demo's clock shows")
    now = site.local(site.demo_clock.shows)
    say("Making its database ...")
    people = read_table(folder / "staff.csv")
    upgrade(site.database, backup=False)
    say("Taking in its records, people and bookings ...")
    store = open_store(site.database)
    gc.disable()  # rows hold no cycles, and looking for some among so many takes a third of the time
    try:
        with store.write() as session:
            manager = _fill(session, site, folder, people, now)
            later = now + _EXTRA_CODE_LIFE
            codes = {name: new_code(session, site, name, "tablet", room, later) for name, room in _DEVICES}
            sending = add_instruments(session, site, manager, now)
            first = look_first(session, site, now)
    finally:
        gc.enable()
        store.close()
    enrolling = [f"  {code}  for {name}" for name, code in codes.items()]
    head = "A browser becomes a staff device with a one-time code, at /staff/enrol:"
    lines = (head, *enrolling, "Sign in:", *records.sign_ins(people))
    return Prepared(folder, site.database, lines, first, sending)


def _fill(session: Session, site: Site, folder: Path, people: Sequence[Row], now: datetime) -> int:
    """Record everything in the estate's files and return its manager's id, under whose name it stands."""
    staff = records.add_staff(session, site, people, now)
    manager = next(staff[row["name"]] for row in people if "manager" in row["roles"])
    named = read_table(folder / "names.csv")
    experiments = [row for row in named if row["kind"] == EXPERIMENT]
    records.add_names(session, site, experiments, manager, now)  # before their lots, which would wait
    import_folder(session, site, folder / "records", by=manager, at=now)
    others = [row for row in named if row["kind"] != EXPERIMENT]
    names = records.add_names(session, site, others, manager, now)
    flights = records.add_flights(session, site, read_table(folder / "bookings/flights.csv"), names)
    table = read_table(folder / "bookings/tours.csv")
    tour_ids = records.add_tours(session, site, table, flights, staff)
    records.add_bookings(session, site, read_table(folder / "bookings/bookings.csv"), tour_ids, manager)
    records.add_steps(session, site, read_table(folder / "bookings/steps.csv"), tour_ids)
    policy.confirm(session, site, key=new_key(), by=manager, at=now - _RULES_CONFIRMED_AGO)
    bar.add_approvals(session, read_table(folder / "approvals.csv"), manager)
    stock, rounds = read_table(folder / "stock.csv"), read_table(folder / "bookings/rounds.csv")
    today = site.service_day(now)
    bar.open_bar(session, site, stock, today, manager)
    bar.pour_rounds(session, site, [row for row in rounds if row["day"] < today], tour_ids, staff)
    bar.close_shift(session, site, stock, today - timedelta(days=1), manager)
    bar.pour_rounds(session, site, [row for row in rounds if row["day"] == today], tour_ids, staff)
    return manager


_FIRST = (
    ("the stills, for guests", "/en/stops/still-house"),
    ("behind a bottle", "/en/bottles/{lot}"),
    ("the day", "/staff/"),
    ("tour {room} in the room", "/staff/tours/{room_id}/tasting"),
    ("tour {walk} on its walk", "/staff/tours/{walk_id}/walk"),
    ("tour {next} arriving", "/staff/tours/{next_id}"),
    ("the plan of the house", "/staff/house"),
    ("yesterday's shift", "/staff/closing?day={yesterday}"),
    ("the records", "/staff/records/"),
)


def look_first(session: Session, site: Site, now: datetime) -> tuple[str, ...]:
    """Return lines that name what to look at first, with addresses that begin with `{address}`."""
    s, today = tours.steps.c, site.day_bounds(site.service_day(now))
    of_day = select(tours.tours).where(tours.tours.c.starts_at.between(*today))
    in_room = select(s.tour_id).where(s.stop == "tasting-room")
    groups: dict[str, Mapping[Any, Any]] = {}
    for tour in session.execute(of_day.order_by(tours.tours.c.starts_at)).mappings():
        steps = session.scalars(select(s.key).where(s.tour_id == tour["id"])).first()
        there = session.scalars(in_room.where(s.tour_id == tour["id"])).first()
        groups.setdefault("room" if there else "walk" if steps else "next", tour)
    lot = session.scalar(select(t.batches.c.code).join(t.lots).order_by(t.lots.c.bottled_on.desc()))
    facts = {name: tour["letter"] for name, tour in groups.items()}
    facts |= {f"{name}_id": tour["id"] for name, tour in groups.items()}
    facts |= {"lot": lot, "yesterday": site.service_day(now) - timedelta(days=1)}
    return tuple(f"  {what.format(**facts):<24}{{address}}{path.format(**facts)}" for what, path in _FIRST)


def add_instruments(session: Session, site: Site, manager: int, now: datetime) -> str:
    """Record a hydrometer and a density meter and return a shell line that sends a reading of the meter.

    `{address}` in the line stands for the address at which the demo is served.
    """
    today = site.local(now).date()
    since = datetime.combine(today - _CERTIFIED_AGO, time(), site.zone)
    for code, scale, correction, thermometer_c in _CERTIFICATES:
        instrument = instruments.add(session, code, scale)
        certificate = Certificate(correction, thermometer_c, today + _VALID_FOR)
        instruments.certify(session, instrument, since, certificate, by=manager, at=now)
    v = t.vessels.c
    stills = list(session.scalars(select(v.code).where(v.kind.in_(("wash_still", "spirit_still")))))
    w = t.washes.c
    tanks = select(v.code).join(t.washes, w.vessel_id == v.id).where(w.ended_at.is_(None), w.set_at <= now)
    tank = session.scalars(tanks.order_by(w.set_at.desc())).first()
    token = bind_instrument(session, site, INSTRUMENT, [*stills, *([tank] if tank else [])], now)
    body = json.dumps(_still_reading(session, now) or _tank_reading(tank or "", now))
    headers = f"-H 'Authorization: Bearer {token}' -H 'Content-Type: application/json'"
    return f"  curl {headers} -d '{body}' {{address}}/staff/readings"


def _still_reading(session: Session, now: datetime) -> dict[str, object] | None:
    """Return the next reading of the run that is under way."""
    r = t.runs.c
    under_way = select(r.id, t.vessels.c.code).join(t.vessels, t.vessels.c.id == r.vessel_id)
    run = session.execute(
        under_way.where(r.ended_at.is_(None), r.started_at <= now).order_by(r.started_at.desc())
    ).first()
    readings = read_runs(session, [run.id], now).get(run.id) if run else None
    if not run or not readings:
        return None
    last = readings[-1][1]
    return {
        **_reading("still", run.code, now),
        "cut": last.cut,
        "collected_l": round(last.collected_l + 1, 1),
        "collected_temperature_c": 20,
        "scale": "density_meter",
        "instrument": METER,
        "reading": round(last.abv_percent - 0.2, 1),
        "temperature_c": 20,
    }


def _tank_reading(tank: str, now: datetime) -> dict[str, object]:
    return {**_reading("wash", tank, now), "measure": "temperature", "value": 31.5}


def _reading(kind: str, vessel: str, now: datetime) -> dict[str, object]:
    return {"id": "try-1", "kind": kind, "vessel": vessel, "at": now.isoformat(timespec="seconds")}
