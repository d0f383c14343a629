"""Runs revisions on the connection and in the transaction that `kiosk.store.migrate` opened."""

from alembic import context

from kiosk.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
    # SQLite alters a table by building it anew.
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
