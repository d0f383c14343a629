"""Finds what ships with the code: content, catalogs, the demo site.

In an installed wheel they lie inside the package, in a checkout beside it.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent

NEW_SITE = Path(__file__).resolve().parent / "new_site"
"""The settings that a new site begins with."""


def shipped(name: str) -> Path:
    """Return the folder `content`, `locales` or `demo_site`."""
    inside = _PACKAGE / "_shipped" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
