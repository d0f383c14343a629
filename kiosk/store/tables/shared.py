"""History of rows, versions of subjects, names that staff give, and the mark of the site."""

from sqlalchemy import JSON, Column, Integer, String, Table, UniqueConstraint, text

from kiosk.store.tables.base import UtcTime, metadata, ref, row

history = Table(
    "history",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("table_name", String(40), nullable=False),
    Column("row_id", Integer, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("act", String(20), nullable=False),  # changed, voided, or an audit act of its own
    Column("before", JSON, nullable=False),  # the former self without personal columns
    Column("at", UtcTime, nullable=False),
    ref("by", "staff.id", nullable=True),
    Column("why", String(200), nullable=False, server_default=text("''")),
    UniqueConstraint("table_name", "row_id", "revision"),
    info={"kind": "ledger"},
)

changes = Table(
    "changes",
    metadata,
    Column("subject", String(40), primary_key=True),
    Column("n", Integer, nullable=False),
    info={"kind": "plain"},
)

display_names = row(
    "display_names",
    "display_names",
    Column("kind", String(20), nullable=False),  # experiment, variety
    Column("code", String(60), nullable=False),  # as records name it
    Column("names", JSON, nullable=False),  # by language code
    UniqueConstraint("kind", "code"),
)

site_mark = Table(
    "site_mark",
    metadata,
    Column("site_key", String(32), primary_key=True),
    Column("made_at", UtcTime, nullable=False),
    info={"kind": "plain"},
)
