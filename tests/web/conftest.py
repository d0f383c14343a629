"""The small running site."""

from tests.small_app import app, clock, screen, site, site_store, tablet

__all__ = ["app", "clock", "screen", "site", "site_store", "tablet"]
