"""The rules in force, what may be poured, what was poured and refused, bottles and the shift's closing.

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
    UniqueConstraint,
    false,
)

from kiosk.store.tables.base import UtcTime, ledger, ref, row

policies = ledger(
    "policies",
    Column("digest", String(64), nullable=False, index=True),
    Column("body", JSON, nullable=False),
    Column("basis", Text, nullable=False),
)

day_restrictions = ledger(
    "day_restrictions",
    Column("day", Date, nullable=False, index=True),  # the service day that it ends with
    Column("room", String(40), nullable=False),  # "" is every room
    Column("rule", String(40), nullable=False),  # the id of a limit, or of `kiosk.figures.service.policy`
    Column("most", BigInteger, nullable=False),  # in the unit of its rule
    Column("why", String(200), nullable=False),
)

approvals = row(
    "approvals",
    "approvals",
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
    # Within its days it holds from the one instant until before the other.
    Column("signed_at", UtcTime, nullable=True),
    Column("ended_at", UtcTime, nullable=True),
)

bottles = row(
    "bottles",
    "bottles",
    Column("code", String(40), nullable=False, unique=True),
    ref("approval_id", "approvals.id"),
    Column("room", String(40), nullable=False, index=True),
    Column("kind", String(10), nullable=False),  # bottle, jug
    Column("size_ml", Integer, nullable=False),
    Column("tare_g", Integer, nullable=True),
    Column("discard_at", UtcTime, nullable=True),
    CheckConstraint("size_ml > 0", name="size_positive"),
)

pours = ledger(
    "pours",
    # The index on (guest_id, at) below serves this reference too.
    Column("guest_id", ForeignKey("guests.id", ondelete="RESTRICT"), nullable=True),
    Column("seat", String(20), nullable=True),
    ref("tour_id", "tours.id"),
    ref("bottle_id", "bottles.id", nullable=True),
    Column("product", String(40), nullable=False),
    Column("volume_ul", Integer, nullable=False),
    Column("abv_e2", Integer, nullable=False),
    Column("neat", Boolean, nullable=False),
    Column("asked", Boolean, nullable=False),  # true: granted before it was poured; false: told afterwards
    # Whether a PIN was checked for `by`, who otherwise is only claimed.
    Column("server_checked", Boolean, nullable=False),
    Column("policy_key", String(32), nullable=False),
    # How far the tablet's clock was off; a lost date puts it decades away.
    Column("clock_ms", BigInteger, nullable=False),
    Column("recipe", String(40), nullable=True),  # of a mixed glass; product and volume are its spirit's
    # The server's time of the state that the tablet showed: what was recorded later, it did not know.
    Column("believed_at", UtcTime, nullable=True),
    CheckConstraint("volume_ul >= 0", name="volume_not_negative"),
    CheckConstraint("guest_id IS NOT NULL OR seat IS NOT NULL", name="for_somebody"),
    Index("ix_pours_guest_at", "guest_id", "at"),
    Index("ix_pours_at", "at"),
)

pour_marks = ledger(
    "pour_marks",
    Column("pour_key", String(32), nullable=False, index=True),
    Column(
        "kind", String(12), nullable=False
    ),  # seated, void, not_served, cleared, reassign, unfinished, finished
    ref("guest_id", "guests.id", nullable=True),
    Column("reason", String(20), nullable=True),  # why it gives back; none for an undo
    Column("server_checked", Boolean, nullable=False, server_default=false()),
)

# Under the key of an entry of another ledger: a manager typed it in for a tablet that kept it.
typed_entries = ledger(
    "typed_entries",
    Column("code", String(13), nullable=False, unique=True),  # both ends of the key that the tablet gave it
    Column("reason", String(20), nullable=False),
)

refusals = ledger(
    "refusals",
    ref("guest_id", "guests.id"),
    Column("product", String(40), nullable=False),
    Column("volume_ul", Integer, nullable=False),
    Column("reasons", JSON, nullable=False),
    Column("policy_key", String(32), nullable=False),
)

bottle_entries = ledger(
    "bottle_entries",
    ref("bottle_id", "bottles.id"),
    Column("kind", String(10), nullable=False),  # open, weigh, spill, break, house_use, close
    Column("gross_g", Integer, nullable=True),  # glass, spirit and pourer
    Column("temperature_mc", Integer, nullable=True),  # of the room, where it was read
    Column("volume_ul", Integer, nullable=True),
    ref("used_by", "staff.id", nullable=True),
    CheckConstraint("gross_g >= 0", name="weight_not_negative"),
    CheckConstraint("volume_ul >= 0", name="volume_not_negative"),
)

stock_entries = ledger(
    "stock_entries",
    ref("approval_id", "approvals.id"),
    Column("room", String(40), nullable=False, index=True),
    Column("kind", String(10), nullable=False),  # received, returned, moved, counted
    Column("bottles", Integer, nullable=False),  # below nothing only where moved out
    Column("size_ml", Integer, nullable=False),
    Column("document", String(80), nullable=True),
    CheckConstraint("size_ml > 0", name="size_positive"),
    CheckConstraint("bottles >= 0 OR kind = 'moved'", name="only_moved_out_below_nothing"),
)

measure_checks = ledger(
    "measure_checks",
    Column("measure", String(40), nullable=False, index=True),
    Column("weights_g", JSON, nullable=False),  # of ten pours of water
)

shift_closings = ledger(
    "shift_closings",
    Column("room", String(40), nullable=False),
    Column("day", Date, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("body", JSON, nullable=False),  # no names
    UniqueConstraint("room", "day", "revision"),
)
