"""Every table, by subject. Import the subject's module, not its columns."""

from kiosk.store.tables import production, shared, staff, tasting, tours
from kiosk.store.tables.base import metadata

__all__ = ["metadata", "production", "shared", "staff", "tasting", "tours"]
