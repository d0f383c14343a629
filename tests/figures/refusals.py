"""How a calculation refuses a value: the argument, the reason, and the range that is named."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kiosk.figures.errors import Allowed, FigureError

Call = Callable[[], object]


def refusal(call: Call) -> tuple[str, str, Allowed]:
    """Return field, reason and allowed range of the error that a call raises."""
    with pytest.raises(FigureError) as caught:
        call()
    return caught.value.field, caught.value.reason, caught.value.allowed
