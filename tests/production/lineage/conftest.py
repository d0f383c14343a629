"""The walk whose bottlings are looked at, and books that a test fills itself."""

from tests.production.live.conftest import books
from tests.walking import walk

__all__ = ["books", "walk"]
