"""The tasting of the room's tests."""

from tests.tasting.conftest import app, bar, clock, manager, site, tablet_of, tasting

__all__ = ["app", "bar", "clock", "manager", "site", "tablet_of", "tasting"]
