"""The rules in force, what may be poured, what was poured and what was refused.

Volumes are whole microlitres (_ul), strengths hundredths of a per cent (_e2).
"""

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    String,
    Text,
)

from kiosk.store.tables.base import ledger, ref, row

policies = ledger(
    "policies",
    Column("digest", String(64), nullable=False, index=True),
    Column("body", JSON, nullable=False),
    Column("basis", Text, nullable=False),
)

releases = row(
    "releases",
    "releases",
    Column("code", String(40), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),  # bottled, cask_sample, new_make, experiment, mixed
    Column("product", String(40), nullable=False, index=True),
    ref("batch_id", "batches.id", nullable=True),
    Column("abv_e2", Integer, nullable=True),
    Column("abv_basis", String(20), nullable=False),
    Column("density_e4", Integer, nullable=True),  # g/mL at 20 °C
    Column("document", String(80), nullable=True),
    Column("formula", String(80), nullable=True),
    Column("rooms", JSON, nullable=False),
    Column("from_on", Date, nullable=False),
    Column("until_on", Date, nullable=True),
    ref("signed_by", "staff.id"),
)

pours = ledger(
    "pours",
    # The index on (guest_id, at) below serves this reference too.
    Column("guest_id", ForeignKey("guests.id", ondelete="RESTRICT"), nullable=True),
    Column("place", String(20), nullable=True),
    ref("tour_id", "tours.id"),
    Column("product", String(40), nullable=False),
    Column("volume_ul", Integer, nullable=False),
    Column("abv_e2", Integer, nullable=False),
    Column("neat", Boolean, nullable=False),
    Column("asked", Boolean, nullable=False),  # true: granted before it was poured; false: told afterwards
    Column("server_checked", Boolean, nullable=False),
    Column("policy_key", String(32), nullable=False),
    # How far the tablet's clock was off; a lost date puts it decades away.
    Column("clock_ms", BigInteger, nullable=False),
    CheckConstraint("volume_ul >= 0", name="volume_not_negative"),
    CheckConstraint("guest_id IS NOT NULL OR place IS NOT NULL", name="for_somebody"),
    Index("ix_pours_guest_at", "guest_id", "at"),
    Index("ix_pours_at", "at"),
)

pour_marks = ledger(
    "pour_marks",
    Column("pour_key", String(32), nullable=False, index=True),
    Column("kind", String(12), nullable=False),  # seated, mis_tap, not_served, cleared, to_guest, left
    ref("guest_id", "guests.id", nullable=True),
)

refusals = ledger(
    "refusals",
    ref("guest_id", "guests.id"),
    Column("product", String(40), nullable=False),
    Column("volume_ul", Integer, nullable=False),
    Column("reasons", JSON, nullable=False),
    Column("policy_key", String(32), nullable=False),
)
