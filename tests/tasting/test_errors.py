"""Each refusal has a status and a sentence that its facts fill."""

from __future__ import annotations

import pytest

from kiosk.tasting import errors

FACTS = {
    "Malformed": {"part": "key"},
    "UnknownProduct": {"product": "x"},
    "TooLate": {"seconds": 20},
    "BottleEnded": {"code": "B-1"},
}
KINDS = [
    kind for kind in vars(errors).values() if isinstance(kind, type) and kind.__base__ is errors.TastingError
]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_each_refusal_says_what_and_with_which_status(kind):
    raised = kind(**FACTS.get(kind.__name__, {}))
    assert 400 <= raised.status < 500
    assert raised.message.format(**raised.facts)
