"""One house of each country, begun from nothing and served for the scenes of its story."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.stories.house import ISLAND, MAINLAND, Country, House, Screen, first_manager, new_site, serve


@pytest.fixture(scope="module", params=[ISLAND, MAINLAND], ids=lambda country: country.name)
def country(request: pytest.FixtureRequest) -> Country:
    """The demo's country, then a metric one."""
    chosen: Country = request.param
    return chosen


@pytest.fixture(scope="module")
def house(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A served house in which nothing has happened yet."""
    folder: Path = tmp_path_factory.mktemp(country.name) / "site"
    new_site(folder, country)
    process, served = serve(folder)
    yield served
    process.terminate()
    process.wait(30)


@pytest.fixture(scope="module")
def manager(house: House) -> Screen:
    """The first tablet, on which the first manager is signed in."""
    return first_manager(house)
