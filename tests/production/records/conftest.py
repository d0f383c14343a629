"""Books that a test fills itself."""

from tests.production.live.conftest import books

__all__ = ["books"]
