"""What the trade commonly says, without a published source: the demo lies there.

Common practice, told by people who do the job: a cane wash reaches about 10 %
vol in five to six days; the second pot distillation comes off at 70 to 80 % vol;
a warm, humid store loses up to about a tenth of its liquid over two to three
years; a used cask serves two or three fillings; infusions are bottled near 30 %
vol; a flight has eight or nine samples. None of it is a check value of the
figures: it says whether the estate and what is worked out from it are
believable. Everything is read from the estate prepared as a demo.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import timedelta
from statistics import mean

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.demo import prepare_demo
from kiosk.figures.casks import Fill
from kiosk.figures.making import wash_abv_percent
from kiosk.production.lineage.chain import gravities, gravity_at_20
from kiosk.production.lineage.fills import read_fills
from kiosk.production.live import PROVIDERS
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store.engine import open_store
from kiosk.store.tables import production as t
from kiosk.store.tables import tours
from tests.databases import DEMO_NOW as NOW

YEAR = timedelta(days=365.25)
HUMID = "BAJA"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The estate, prepared once."""
    folder = tmp_path_factory.mktemp("common-practice") / "site"
    prepared = prepare_demo(folder, NOW, lambda _: None)
    return load_site(prepared.folder, database=prepared.database)


@pytest.fixture
def session(site: Site) -> Iterator[Session]:
    """The estate's database, open for reading."""
    store = open_store(site.database)
    with store.read() as reading:
        yield reading
    store.close()


def test_a_wash_reaches_about_ten_per_cent_in_five_to_six_days(session: Session) -> None:
    read: dict[int, list[float]] = defaultdict(list)
    for wash_id, _, value_e4, temperature_mc in session.execute(gravities()):
        read[wash_id].append(gravity_at_20(value_e4, temperature_mc))
    ended = session.execute(
        select(t.washes.c.id, t.washes.c.set_at, t.washes.c.ended_at).where(t.washes.c.ended_at.is_not(None))
    ).all()
    strengths = [wash_abv_percent(read[wash.id][0], min(read[wash.id])) for wash in ended]
    assert 9 <= mean(strengths) <= 10.5
    assert all(8.5 <= strength <= 10.5 for strength in strengths)
    lasted = [(wash.ended_at - wash.set_at) / timedelta(days=1) for wash in ended]
    assert all(4.5 <= days <= 6.5 for days in lasted)
    assert len({round(days) for days in lasted}) == 2


def test_the_second_distillation_comes_off_at_seventy_to_eighty(session: Session, site: Site) -> None:
    r = t.receivers.c
    hearts = session.execute(select(r.alcohol_ml, r.volume20_ml).where(r.cut == "hearts")).all()
    assert len(hearts) > 170
    assert all(70 <= 100 * cut.alcohol_ml / cut.volume20_ml <= 80 for cut in hearts)
    assert 70 <= figures(session, site)["hearts_abv_today"] <= 80


def lost_of_its_volume(fill: Fill) -> Iterator[float]:
    """What each gauge taken after two to three years in its cask says was lost."""
    first = fill.gauges[0]
    for gauge in fill.gauges[1:]:
        if 2 <= (gauge.at - first.at) / YEAR <= 3:
            yield 1 - gauge.volume20_l / first.volume20_l


def test_the_humid_store_loses_up_to_about_a_tenth_in_two_to_three_years(session: Session) -> None:
    undisturbed = [fill for fill in read_fills(session).values() if fill.store == HUMID and not fill.events]
    lost = [share for fill in undisturbed for share in lost_of_its_volume(fill)]
    assert len(lost) > 40
    assert 0.05 <= mean(lost) <= 0.10
    assert max(lost) <= 0.13


def test_the_angels_share_of_the_whole_estate_is_of_that_size(session: Session, site: Site) -> None:
    found = figures(session, site)
    assert found["casks_filled"] == pytest.approx(200, abs=15)
    assert 0.05 <= found["angels_share_to_date"] <= 0.15


def test_a_used_cask_serves_two_or_three_fillings(session: Session) -> None:
    fillings = Counter(session.scalars(select(t.fills.c.cask_id)))
    assert max(fillings.values()) == 3
    assert sum(1 for times in fillings.values() if times >= 2) >= 15


def test_infusions_are_bottled_near_thirty_per_cent(session: Session) -> None:
    c = t.lots.c
    infused = session.scalars(select(c.abv_e2).where(c.solids_g_per_l_e2 > 0)).all()
    assert len(infused) >= 8
    assert all(2600 <= abv_e2 <= 3500 for abv_e2 in infused)
    assert mean(infused) == pytest.approx(3000, abs=150)


def test_the_longest_flight_has_eight_or_nine_samples(session: Session) -> None:
    i = tours.flight_items.c
    longest = max(session.scalars(select(func.count(i.pos)).group_by(i.flight_id)))
    assert longest in (8, 9)


def figures(session: Session, site: Site) -> dict[str, float]:
    """Return every figure that is not one tank's and has a value."""
    found = (pair for p in PROVIDERS for pair in p.compute(session, site, NOW, "").items())
    return {name: figure.value for (name, of), figure in found if not of and figure.value is not None}
