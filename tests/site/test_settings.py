"""The service day, where the clock is changed too."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.actors import small_site

# New York goes from 02:00 to 03:00 on 8 March 2026, and from 02:00 back to 01:00 on 1 November.
CHANGES = [datetime(2026, 3, 8, 7, tzinfo=UTC), datetime(2026, 11, 1, 6, tzinfo=UTC)]


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("day_starts", [time(0), time(1, 30), time(2, 30), time(5)])
def test_every_instant_lies_within_its_own_service_day(
    tmp_path: Path, change: datetime, day_starts: time
) -> None:
    site = small_site(tmp_path, zone=ZoneInfo("America/New_York"), day_starts=day_starts)
    for minutes in range(-720, 720, 5):
        at = change + timedelta(minutes=minutes)
        for told in (at, site.local(at)):
            start, end = site.day_bounds(site.service_day(told))
            assert start.astimezone(UTC) <= at < end.astimezone(UTC)
