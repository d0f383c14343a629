"""Kiosk: the working tool of a farm-to-bottle distillery's visitor side."""

__version__ = "0.1.0"
