"""The small running site."""

from tests.small_app import app, clock, screen, site, tablet

__all__ = ["app", "clock", "screen", "site", "tablet"]
