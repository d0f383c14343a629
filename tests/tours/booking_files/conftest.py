"""A guide's tablet in a house with a route of three stops."""

from tests.tours.calendar.conftest import desk, routed

__all__ = ["desk", "routed"]
