"""Expecting a refusal by its reason."""

from __future__ import annotations

import pytest

from kiosk.staff.errors import Refusal, StaffError


def refused(reason: Refusal) -> pytest.RaisesExc[StaffError]:
    """Expect a StaffError of this reason."""
    return pytest.raises(StaffError, check=lambda error: error.reason is reason)
