"""A tasting that has begun, on each kind of database in turn."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tasting_room import Tasting, tasting_site


@pytest.fixture
def tasting(store, now, tmp_path: Path) -> Tasting:
    """Two guests, the first checked."""
    begun = Tasting.begun(store, tasting_site(tmp_path), now)
    begun.check(begun.guests[0])
    return begun
