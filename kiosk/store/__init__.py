"""The store of records: tables by subject, rows with history, append-only ledgers.

There are two classes of table. A *row* has an id and a revision and is
changed or voided only through `kiosk.store.rows`, which copies its former
revision to `history`. A *ledger* is only ever added to, through `kiosk.store.ledgers`;
triggers refuse UPDATE and DELETE.
"""
