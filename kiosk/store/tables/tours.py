"""Tours, bookings, guests and the ledgers that say what happened to them."""

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    String,
    UniqueConstraint,
    false,
)

from kiosk.store.tables.base import PERSONAL, UtcTime, ledger, ref, row

presences = ledger(
    "presences",
    ref("staff_id", "staff.id"),
    Column("kind", String(4), nullable=False),  # in, out
)

visitors = row(
    "visitors",
    "visitors",
    Column("name", String(80), nullable=True, info=PERSONAL),
    Column("host", String(80), nullable=True, info=PERSONAL),
    Column("place", String(60), nullable=False),
    Column("in_at", UtcTime, nullable=False),
    Column("out_at", UtcTime, nullable=True),
)

flights = row(
    "flights",
    "flights",
    Column("name", String(60), nullable=False, unique=True),  # in the site's first language
    Column("names", JSON(none_as_null=True), nullable=True),  # by language code
    Column("archived", Boolean, nullable=False),
)

flight_items = row(
    "flight_items",
    "flights",
    ref("flight_id", "flights.id"),
    Column("pos", Integer, nullable=False),  # 0: the welcome drink
    Column("product", String(40), nullable=False),  # or a recipe
    Column("volume_ul", Integer, nullable=True),  # empty: as the recipe says
    UniqueConstraint("flight_id", "pos"),
    CheckConstraint("volume_ul > 0", name="volume_positive"),
)

tours = row(
    "tours",
    "tours",
    Column("letter", String(4), nullable=False),
    Column("starts_at", UtcTime, nullable=False, index=True),
    Column("route", String(40), nullable=False),
    Column("plan", JSON(none_as_null=True), nullable=True),
    Column("languages", JSON, nullable=False),
    ref("guide_id", "staff.id", nullable=True),
    ref("flight_id", "flights.id", nullable=True),
    Column("room", String(40), nullable=False),
    Column("places", Integer, nullable=False),
    Column("private", Boolean, nullable=False),
    Column("cancelled_at", UtcTime, nullable=True),
    Column("cancelled_why", String(40), nullable=True),
    Column("series", String(16), nullable=True, index=True),  # the same for all tours of one pattern
)

service_days = row(
    "service_days",
    "tours",
    Column("day", Date, nullable=False, unique=True),
    Column("closed_why", String(20), nullable=True),  # empty: open
    ref("first_aider_id", "staff.id", nullable=True),
    ref("key_holder_id", "staff.id", nullable=True),
)

feeds = row(
    "feeds",
    "feeds",
    Column("staff_id", ForeignKey("staff.id", ondelete="RESTRICT"), nullable=False, unique=True),
    Column("link_no", Integer, nullable=False),
    Column("revoked_at", UtcTime, nullable=True),
)

bookings = row(
    "bookings",
    "tours",
    ref("tour_id", "tours.id"),
    Column("size", Integer, nullable=False),
    Column("language", String(8), nullable=False),
    Column("ticket", String(40), nullable=True, info=PERSONAL),
    Column("lead_name", String(80), nullable=True, info=PERSONAL),
    Column("contact", String(120), nullable=True, info=PERSONAL),
    Column("notes", String(400), nullable=True, info=PERSONAL),
    Column("access_needs", String(200), nullable=True, info=PERSONAL),
    Column("allergens", JSON(none_as_null=True), nullable=True, info=PERSONAL),
    Column("source_key", String(64), nullable=True, unique=True, info=PERSONAL),
    Column("cancelled_at", UtcTime, nullable=True),
    Column("more_languages", JSON(none_as_null=True), nullable=True),
    Column("allergy_notes", String(200), nullable=True, info=PERSONAL),
    Column("voucher", String(80), nullable=True, info=PERSONAL),  # its number, and who sold it
    Column("no_show_at", UtcTime, nullable=True),
)

guests = row(
    "guests",
    "guests",
    # Both are empty once the number was taken back: nobody has it, and nobody gets it that day.
    ref("booking_id", "bookings.id", nullable=True),
    ref("tour_id", "tours.id", nullable=True),
    Column("day", Date, nullable=False),  # the service day
    Column("number", Integer, nullable=False),
    Column("language", String(8), nullable=False),
    Column("first_name", String(40), nullable=True, info=PERSONAL),
    Column("allergens", JSON(none_as_null=True), nullable=True, info=PERSONAL),
    Column("access_needs", String(200), nullable=True, info=PERSONAL),
    Column("link_no", Integer, nullable=False),
    Column("purged_at", UtcTime, nullable=True),
    Column("place", Integer, nullable=True),  # of its booking, from 1
    UniqueConstraint("day", "number"),
    Index("ix_guests_place", "booking_id", "place", unique=True),
)

marks = ledger(
    "marks",
    ref("guest_id", "guests.id"),
    # id_check, under_age, no_alcohol, no_alcohol_lifted, service_stopped, service_resumed, gone, back,
    # declined, liked, briefed, tasted_elsewhere, void
    Column("kind", String(20), nullable=False),
    Column("detail", String(80), nullable=True),
    Column("server_checked", Boolean, nullable=False, server_default=false()),
)

steps = ledger(
    "steps",
    ref("tour_id", "tours.id"),
    Column("kind", String(8), nullable=False),  # start, next, back, count, out, finish
    Column("stop", String(40), nullable=True),
    Column("count", Integer, nullable=True),
)

set_up_ticks = ledger(
    "set_up_ticks",
    Column("day", Date, nullable=False, index=True),  # the service day
    Column("line", String(60), nullable=False),
    Column("done", Boolean, nullable=False),
)

stop_closures = ledger(
    "stop_closures",
    Column("stop", String(40), nullable=False),
    Column("reason", String(20), nullable=False),
    Column("until", UtcTime, nullable=True),
    Column("closure_key", String(32), nullable=True, index=True),  # the closure that this entry ends
)
