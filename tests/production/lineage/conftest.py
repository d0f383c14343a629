"""The walk whose bottlings are looked at."""

from tests.walking import walk

__all__ = ["walk"]
