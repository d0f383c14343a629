"""The API against its own document: whatever is made up from the document is answered as it says."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, given, settings
from schemathesis import Case, GenerationMode
from schemathesis.core.parameters import ParameterLocation
from schemathesis.specs.openapi.checks import positive_data_acceptance

EXAMPLES = [60, pytest.param(5_000, marks=pytest.mark.deep)]
ENDS = {"0001", "9999"}
"""The years in which the site's zone may have no day for an instant: 400."""
BOUNDED = settings(
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[*HealthCheck],
)
BETWEEN_S = 10
"""Between two requests. Each reading is also sent without its token, and an address that sends more
wrong tokens than one in six seconds is asked to wait: 429."""

UNDER_WAY = {"still": ("SS", "2026-06-06T13:{:02}:00-04:00"), "wash": ("T1", "2026-06-03T08:{:02}:00-04:00")}
"""By kind a vessel in which something was under way, and a minute of that time."""


@pytest.mark.parametrize("examples", EXAMPLES)
@pytest.mark.parametrize("mode", GenerationMode)
def test_every_answer_is_one_that_the_document_promises(
    app: Flask, token: str, mode: GenerationMode, examples: int
) -> None:
    """Readings that fit the document are taken, held or refused as it says; others are told from them."""

    def from_here(environ: dict[str, Any], start: Any) -> Any:
        app.extensions["kiosk"].clock.pass_s(BETWEEN_S)
        # The client of the library says no address; without https only this machine is answered.
        return app({**environ, "REMOTE_ADDR": "127.0.0.1"}, start)

    served = schemathesis.openapi.from_wsgi("/staff/readings/openapi.json", from_here)
    statuses = set()

    @settings(BOUNDED, max_examples=examples)
    @given(case=served["/staff/readings"]["POST"].as_strategy(generation_mode=mode))
    def holds(case: Case) -> None:
        if mode is GenerationMode.POSITIVE and len(case.body["id"]) % 2:
            vessel, at = UNDER_WAY[case.body["kind"]]
            case.body |= {"vessel": vessel, "at": at.format(len(case.body["id"]))}
        headers = {"Authorization": f"Bearer {token}"}
        # A reading that fits the document may still be of a time when nothing was under way: 422.
        answer = case.call_and_validate(headers=headers, excluded_checks=[positive_data_acceptance])
        if case.meta.components[ParameterLocation.BODY].mode is mode and not _at_the_end(case.body):
            statuses.add(answer.status_code)  # where only a header was made wrong, ours was right

    holds()
    fits = {201, 202, 403, 422}
    assert statuses >= fits if mode is GenerationMode.POSITIVE else statuses <= {400, 401, 403, 415, 429}, (
        statuses
    )
    assert (400 in statuses) == (mode is GenerationMode.NEGATIVE)


def _at_the_end(body: Any) -> bool:
    return isinstance(body, dict) and str(body.get("at"))[:4] in ENDS
