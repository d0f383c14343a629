"""Where records live: tables by subject, rows with history, append-only ledgers.

Two classes of table and no third. A *row* has an id and a revision and is
changed or withdrawn only through `kiosk.store.rows`, which keeps its former self
in `history`. A *ledger* is only ever added to, through `kiosk.store.ledgers`;
triggers refuse UPDATE and DELETE.
"""
