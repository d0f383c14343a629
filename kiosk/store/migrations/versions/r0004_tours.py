"""Tours, parties, guests and the ledgers of what happened to them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

TABLES = (
    "marks",
    "guests",
    "steps",
    "parties",
    "tours",
    "presences",
    "flight_items",
    "visitors",
    "flights",
)

LEDGERS = (
    "presences",
    "steps",
    "marks",
)


def upgrade() -> None:
    """Make the tables."""
    _flights()
    _visitors()
    _flight_items()
    _presences()
    _tours()
    _parties()
    _steps()
    _guests()
    _marks()
    for ledger in LEDGERS:
        for statement in refuse_changes(ledger, op.get_bind().dialect.name):
            op.execute(statement)


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)


def _flights() -> None:
    op.create_table(
        "flights",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flights")),
        sa.UniqueConstraint("name", name=op.f("uq_flights_name")),
        sqlite_autoincrement=True,
    )


def _visitors() -> None:
    op.create_table(
        "visitors",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("name", sa.String(length=80), nullable=True),
        sa.Column("host", sa.String(length=80), nullable=True),
        sa.Column("place", sa.String(length=60), nullable=False),
        sa.Column("in_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("out_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visitors")),
        sqlite_autoincrement=True,
    )


def _flight_items() -> None:
    op.create_table(
        "flight_items",
        sa.Column("flight_id", sa.Integer(), nullable=False),
        sa.Column("pos", sa.Integer(), nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=False),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_flight_items_volume_positive")),
        sa.ForeignKeyConstraint(
            ["flight_id"], ["flights.id"], name=op.f("fk_flight_items_flight_id"), ondelete="RESTRICT"
        ),
        sa.UniqueConstraint("flight_id", "pos", name=op.f("uq_flight_items_flight_id_pos")),
    )
    op.create_index(op.f("ix_flight_items_flight_id"), "flight_items", ["flight_id"], unique=False)


def _presences() -> None:
    op.create_table(
        "presences",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=4), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_presences_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_presences_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_presences_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_presences_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_presences")),
    )
    op.create_index(op.f("ix_presences_by"), "presences", ["by"], unique=False)
    op.create_index(op.f("ix_presences_device_id"), "presences", ["device_id"], unique=False)
    op.create_index(op.f("ix_presences_staff_id"), "presences", ["staff_id"], unique=False)


def _tours() -> None:
    op.create_table(
        "tours",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("letter", sa.String(length=4), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("route", sa.String(length=40), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=True),
        sa.Column("languages", sa.JSON(), nullable=False),
        sa.Column("guide_id", sa.Integer(), nullable=True),
        sa.Column("flight_id", sa.Integer(), nullable=True),
        sa.Column("room", sa.String(length=40), nullable=False),
        sa.Column("places", sa.Integer(), nullable=False),
        sa.Column("private", sa.Boolean(), nullable=False),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("cancelled_why", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(
            ["flight_id"], ["flights.id"], name=op.f("fk_tours_flight_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["guide_id"], ["staff.id"], name=op.f("fk_tours_guide_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tours")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_tours_flight_id"), "tours", ["flight_id"], unique=False)
    op.create_index(op.f("ix_tours_guide_id"), "tours", ["guide_id"], unique=False)
    op.create_index(op.f("ix_tours_starts_at"), "tours", ["starts_at"], unique=False)


def _parties() -> None:
    op.create_table(
        "parties",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("tour_id", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("ticket", sa.String(length=40), nullable=True),
        sa.Column("lead_name", sa.String(length=80), nullable=True),
        sa.Column("contact", sa.String(length=120), nullable=True),
        sa.Column("notes", sa.String(length=400), nullable=True),
        sa.Column("source_key", sa.String(length=64), nullable=True),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["tour_id"], ["tours.id"], name=op.f("fk_parties_tour_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_parties")),
        sa.UniqueConstraint("source_key", name=op.f("uq_parties_source_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_parties_tour_id"), "parties", ["tour_id"], unique=False)


def _steps() -> None:
    op.create_table(
        "steps",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("tour_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("stop", sa.String(length=40), nullable=True),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_steps_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_steps_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_steps_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["tour_id"], ["tours.id"], name=op.f("fk_steps_tour_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_steps")),
    )
    op.create_index(op.f("ix_steps_by"), "steps", ["by"], unique=False)
    op.create_index(op.f("ix_steps_device_id"), "steps", ["device_id"], unique=False)
    op.create_index(op.f("ix_steps_tour_id"), "steps", ["tour_id"], unique=False)


def _guests() -> None:
    op.create_table(
        "guests",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("party_id", sa.Integer(), nullable=False),
        sa.Column("tour_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("first_name", sa.String(length=40), nullable=True),
        sa.Column("allergens", sa.JSON(), nullable=True),
        sa.Column("access_needs", sa.String(length=200), nullable=True),
        sa.Column("link_no", sa.Integer(), nullable=False),
        sa.Column("purged_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["party_id"], ["parties.id"], name=op.f("fk_guests_party_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["tour_id"], ["tours.id"], name=op.f("fk_guests_tour_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_guests")),
        sa.UniqueConstraint("day", "number", name=op.f("uq_guests_day_number")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_guests_party_id"), "guests", ["party_id"], unique=False)
    op.create_index(op.f("ix_guests_tour_id"), "guests", ["tour_id"], unique=False)


def _marks() -> None:
    op.create_table(
        "marks",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("guest_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("detail", sa.String(length=80), nullable=True),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_marks_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_marks_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_marks_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["guest_id"], ["guests.id"], name=op.f("fk_marks_guest_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_marks")),
    )
    op.create_index(op.f("ix_marks_by"), "marks", ["by"], unique=False)
    op.create_index(op.f("ix_marks_device_id"), "marks", ["device_id"], unique=False)
    op.create_index(op.f("ix_marks_guest_id"), "marks", ["guest_id"], unique=False)
