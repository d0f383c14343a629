"""From field to bottle: batches, the draws between them, and what was measured.

Units are in the names: _ml, _g, _mc (milli-degrees Celsius), _e2 (hundredths)
and _e4 (ten-thousandths) are whole numbers. `volume20_ml` is a volume at 20 °C,
`alcohol_ml` pure alcohol at 20 °C.
"""

from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    UniqueConstraint,
    text,
)

from kiosk.store.tables.base import PERSONAL, UtcTime, batch_row, metadata, provenance, ref, row


def measured_spirit() -> list[Column[Any]]:
    """Return columns for a volume and the reading of its strength as measured, and what they are at 20 °C."""
    return [
        Column("volume_ml", Integer, nullable=True),
        Column("volume_temperature_mc", Integer, nullable=True),
        *reading_of_strength(nullable=True),
        Column("volume20_ml", Integer, nullable=True),
        Column("alcohol_ml", Integer, nullable=True),
    ]


def reading_of_strength(*, nullable: bool) -> list[Column[Any]]:
    """Return columns for the reading of a strength and the instrument of the house that gave it."""
    return [
        ref("instrument_id", "instruments.id", nullable=True),
        # glass_abv20, glass_abv15, glass_proof60, density_meter
        Column("scale", String(20), nullable=nullable),
        Column("reading_e2", Integer, nullable=nullable),
        # None: not known, and the reading stands as it was read.
        Column("temperature_mc", Integer, nullable=True),
    ]


imports = row(
    "imports",
    "imports",
    Column("at", UtcTime, nullable=False),
    ref("by", "staff.id", nullable=True),
    Column("files", JSON, nullable=False),
)

held = row(
    "held",
    "held",
    Column("kind", String(40), nullable=False),
    # As it was sent; what a tablet sends may hold anything. It never changes while it waits.
    Column("payload", JSON, nullable=False, info=PERSONAL),
    Column("reasons", JSON, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("settled_at", UtcTime, nullable=True),
    ref("settled_by", "staff.id", nullable=True),
    Column("outcome", String(40), nullable=True),
    ref("device_id", "devices.id", nullable=True),  # that sent it
    Column("digest", String(64), nullable=True, unique=True),  # of what was sent: it waits once
    Index("ix_held_waiting", "kind", "settled_at"),
)

instruments = row(
    "instruments",
    "instruments",
    Column("code", String(40), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),
)

# What is added to a reading and to its temperature, true less read; a certificate holds until the
# next one of its instrument. Readings of stills are corrected whenever they are looked at.
certificates = row(
    "certificates",
    "runs",
    ref("instrument_id", "instruments.id"),
    Column("since", UtcTime, nullable=False),
    Column("until", Date, nullable=True),
    Column("scale_e4", Integer, nullable=False),  # in the unit of the instrument
    Column("thermometer_mc", Integer, nullable=False),
    UniqueConstraint("instrument_id", "since"),
)

batches = Table(
    "batches",
    metadata,
    Column("id", Integer, primary_key=True),
    # field, load, wash, run, receiver, fill, blend, received, lot
    Column("kind", String(20), nullable=False),
    Column("code", String(60), nullable=False),
    UniqueConstraint("kind", "code"),
    info={"kind": "plain"},
    sqlite_autoincrement=True,
)

vessels = row(
    "vessels",
    "vessels",
    Column("code", String(40), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),  # tank, wash_still, spirit_still, vat
    Column("capacity_ml", Integer, nullable=False),
)

# Which vessels an instrument may send readings of; the device is of kind "instrument".
instrument_vessels = Table(
    "instrument_vessels",
    metadata,
    Column("device_id", ForeignKey("devices.id", ondelete="RESTRICT"), primary_key=True),
    Column("vessel_id", ForeignKey("vessels.id", ondelete="RESTRICT"), primary_key=True),
    info={"kind": "plain"},
)

stores = row(
    "stores",
    "casks",
    Column("code", String(40), nullable=False, unique=True),
    Column("name", String(80), nullable=False),
)

casks = row(
    "casks",
    "casks",
    Column("code", String(40), nullable=False, unique=True),
    Column("wood", String(60), nullable=False),
    Column("capacity_ml", Integer, nullable=False),
    Column("tare_g", Integer, nullable=True),
)

fields = batch_row(
    "fields",
    "loads",
    Column("variety", String(60), nullable=False),
    Column("area_m2", Integer, nullable=False),
    *provenance(),
)

loads = batch_row(
    "loads",
    "loads",
    Column("cut_on", Date, nullable=False),
    Column("milled_at", UtcTime, nullable=False, index=True),
    Column("cane_g", Integer, nullable=False),
    Column("juice_ml", Integer, nullable=False),
    Column("brix_e2", Integer, nullable=True),
    *provenance(),
)

washes = batch_row(
    "washes",
    "washes",
    ref("vessel_id", "vessels.id"),
    Column("set_at", UtcTime, nullable=False, index=True),
    Column("ended_at", UtcTime, nullable=True),
    Column("volume_ml", Integer, nullable=False),
    *provenance(),
)

wash_readings = row(
    "wash_readings",
    "washes",
    ref("wash_id", "washes.id"),
    Column("at", UtcTime, nullable=False),
    Column("kind", String(20), nullable=False),  # gravity, brix, ph, temperature
    Column("value_e4", Integer, nullable=False),
    Column("temperature_mc", Integer, nullable=True),
    *provenance(),
    UniqueConstraint("wash_id", "at", "kind"),
    Index("ix_wash_readings_source", "source"),
)

runs = batch_row(
    "runs",
    "runs",
    ref("vessel_id", "vessels.id"),
    Column("kind", String(10), nullable=False),  # wash, spirit
    Column("started_at", UtcTime, nullable=False, index=True),
    Column("ended_at", UtcTime, nullable=True),
    *provenance(),
)

run_readings = row(
    "run_readings",
    "runs",
    ref("run_id", "runs.id"),
    Column("at", UtcTime, nullable=False),
    Column("cut", String(10), nullable=False),  # low_wines, heads, hearts, tails
    Column("collected_ml", Integer, nullable=False),  # since the run began
    *reading_of_strength(nullable=False),
    *provenance(),
    UniqueConstraint("run_id", "at"),
    Index("ix_run_readings_source", "source"),
)

receivers = batch_row(
    "receivers",
    "runs",
    ref("run_id", "runs.id"),
    Column("cut", String(10), nullable=False),  # low_wines, heads, hearts, tails, pot
    Column("gauged_at", UtcTime, nullable=True),
    *measured_spirit(),
    Column("fate", String(20), nullable=True),  # cask, tank, feints, destroyed
    *provenance(),
)

fills = batch_row(
    "fills",
    "casks",
    ref("cask_id", "casks.id"),
    ref("store_id", "stores.id"),
    Column("filled_at", UtcTime, nullable=False, index=True),
    Column("emptied_at", UtcTime, nullable=True),
    *provenance(),
    # A cask holds one fill at a time.
    Index(
        "uq_fills_open_cask",
        "cask_id",
        unique=True,
        sqlite_where=text("emptied_at IS NULL"),
        postgresql_where=text("emptied_at IS NULL"),
    ),
)

gauges = row(
    "gauges",
    "casks",
    ref("fill_id", "fills.id"),
    Column("at", UtcTime, nullable=False),
    Column("how", String(10), nullable=False),  # dip, weight, emptied
    Column("volume_ml", Integer, nullable=True),
    Column("volume_temperature_mc", Integer, nullable=True),
    Column("gross_g", Integer, nullable=True),
    *reading_of_strength(nullable=False),
    Column("volume20_ml", Integer, nullable=False),
    Column("alcohol_ml", Integer, nullable=False),
    *provenance(),
    UniqueConstraint("fill_id", "at"),
)

cask_events = row(
    "cask_events",
    "casks",
    ref("fill_id", "fills.id"),
    Column("kind", String(10), nullable=False),  # leak, sample, dump, move, retired
    Column("at", UtcTime, nullable=False),
    *measured_spirit(),
    ref("store_id", "stores.id", nullable=True),
    *provenance(),
)

blends = batch_row(
    "blends",
    "lots",
    ref("vessel_id", "vessels.id", nullable=True),
    Column("made_at", UtcTime, nullable=False),
    Column("volume_ml", Integer, nullable=False),
    Column("volume_temperature_mc", Integer, nullable=True),
    *reading_of_strength(nullable=True),
    Column("volume20_ml", Integer, nullable=True),
    Column("alcohol_ml", Integer, nullable=False),
    *provenance(),
)

received = batch_row(
    "received",
    "lots",
    Column("kind", String(10), nullable=False),  # spirit, water, sugar, fruit
    Column("what", String(80), nullable=False),
    Column("origin", String(80), nullable=True),
    Column("document", String(80), nullable=True),
    Column("received_on", Date, nullable=False),
    *measured_spirit(),
    Column("stated_age_years", Integer, nullable=True),  # completed years, by the supplier's own word
    *provenance(),
)

lots = batch_row(
    "lots",
    "lots",
    Column("product", String(40), nullable=False, index=True),
    Column("bottled_on", Date, nullable=False),
    Column("bottles", Integer, nullable=False),
    Column("bottle_ml", Integer, nullable=False),
    Column("abv_e2", Integer, nullable=False),
    Column("solids_g_per_l_e2", Integer, nullable=True),
    Column("strength_basis", String(20), nullable=False),  # distilled, label, laboratory, not_known
    *provenance(),
)

draws = row(
    "draws",
    "draws",
    ref("from_id", "batches.id"),
    ref("to_id", "batches.id"),
    Column("at", UtcTime, nullable=False),
    Column("measure", String(12), nullable=False),  # cane_g, sugar_g, alcohol_ml
    Column("amount", Integer, nullable=False),
    Column("volume_ml", Integer, nullable=True),
    *provenance(),
    CheckConstraint("amount >= 0", name="amount_not_negative"),
    CheckConstraint("from_id <> to_id", name="not_into_itself"),
    Index("ix_draws_lineage", "to_id", "from_id"),
)
