"""People who work here, their devices, sign-ins and what they may do."""

from sqlalchemy import JSON, Boolean, Column, Date, Integer, String, Table, false

from kiosk.store.tables.base import PERSONAL, UtcTime, ledger, metadata, ref, row

staff = row(
    "staff",
    "staff",
    Column("name", String(80), nullable=False, unique=True, info=PERSONAL),
    Column("pin_hash", String(200), nullable=False, info=PERSONAL),
    Column("languages", JSON, nullable=False),
    Column("left_on", Date, nullable=True),
    # Another person knows the PIN: it is changed at its first use.
    Column("pin_temporary", Boolean, nullable=False, server_default=false()),
)

staff_roles = Table(
    "staff_roles",
    metadata,
    Column("id", Integer, primary_key=True),
    ref("staff_id", "staff.id"),
    Column("role", String(20), nullable=False),  # guide, bar, trainee, production, manager
    info={"kind": "plain"},
)

devices = row(
    "devices",
    "staff",
    Column("name", String(60), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),  # tablet, kiosk, wall, instrument, feed
    Column("room", String(40), nullable=True),
    # Until a device is enrolled this is the hash of its one-time code.
    Column("token_hash", String(64), nullable=False, unique=True),
    Column("code_until", UtcTime, nullable=True),
    Column("enrolled_at", UtcTime, nullable=True),
    Column("revoked_at", UtcTime, nullable=True),
)

sessions = Table(
    "sessions",
    metadata,
    Column("token_hash", String(64), primary_key=True),
    ref("staff_id", "staff.id"),
    ref("device_id", "devices.id"),
    Column("started_at", UtcTime, nullable=False),
    Column("seen_at", UtcTime, nullable=False),
    info={"kind": "plain"},
)

sign_ins = Table(
    "sign_ins",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcTime, nullable=False, index=True),
    ref("staff_id", "staff.id", nullable=True),
    ref("device_id", "devices.id", nullable=True),
    Column("ok", Boolean, nullable=False),
    Column("signed_out_at", UtcTime, nullable=True),
    info={"kind": "plain"},
)

sign_offs = ledger(
    "sign_offs",
    ref("staff_id", "staff.id"),
    Column("skill", String(40), nullable=False),
    Column("stop", String(40), nullable=True),
    Column("language", String(8), nullable=True),
    Column("expires_on", Date, nullable=True),
    Column("withdraws", String(32), nullable=True, index=True),  # the key of the sign-off that this one ends
)

permits = row(
    "permits",
    "staff",
    ref("staff_id", "staff.id"),
    Column("kind", String(40), nullable=False),
    Column("number", String(60), nullable=False, info=PERSONAL),
    Column("valid_from", Date, nullable=False),
    Column("valid_until", Date, nullable=False),
)
