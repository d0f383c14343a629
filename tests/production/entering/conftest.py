"""The small folder's records, and a way to write into them by a form."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest

from kiosk.production.entering.entering import Entered, enter
from kiosk.production.entering.forms import FORMS
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.production.conftest import Take

Enter = Callable[..., Entered]


@pytest.fixture
def fill_in(store: Store, site: Site, take: Take, now: datetime) -> Enter:
    """Fill a form in over the small folder's records."""
    take()

    def entered(name: str, confirmed: bool = False, **cells: str) -> Entered:
        with store.write() as session:
            return enter(session, site, FORMS[name], cells, by=None, at=now, confirmed=confirmed)

    return entered
