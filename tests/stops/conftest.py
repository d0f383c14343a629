"""The walk that the tests of the stops take."""

from tests.walking import walk

__all__ = ["walk"]
