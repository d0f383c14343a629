"""Where curves, bands and marks of the pictures lie, by hand from the records."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

import pytest
from reportlab.graphics import shapes

from kiosk.figures.casks import Fill, Gauge
from kiosk.figures.figure import FigureReader, Registry
from kiosk.paper.charts import BOTTOM, LEFT, RIGHT, TOP
from kiosk.paper.pictures import WIDTH, Picture
from kiosk.production.lineage.fills import read_fills
from kiosk.production.pictures import casks, making
from kiosk.site.settings import Units
from kiosk.store.rows import versions
from kiosk.words.catalogs import Words
from tests.production.faults_and_values import ENGLISH
from tests.production.live.conftest import MORNING, YEAR, Books, hours

Place = tuple[float, float]


def places(shape: shapes.PolyLine | shapes.Polygon) -> list[Place]:
    return list(zip(shape.points[::2], shape.points[1::2], strict=True))


def curves_of(picture: Picture) -> list[list[Place]]:
    """Return the curves alone: lines of the grid and uprights have two points, and are thinner."""
    lines = [shape for shape in picture.drawing.contents if isinstance(shape, shapes.PolyLine)]
    return [places(line) for line in lines if line.strokeWidth == 2.4]


def areas_of(picture: Picture) -> list[list[Place]]:
    return [places(shape) for shape in picture.drawing.contents if isinstance(shape, shapes.Polygon)]


def dots_of(picture: Picture) -> list[Place]:
    return [(one.cx, one.cy) for one in picture.drawing.contents if isinstance(one, shapes.Circle)]


def uprights_of(picture: Picture) -> list[float]:
    lines = [shape for shape in picture.drawing.contents if isinstance(shape, shapes.PolyLine)]
    return [line.points[0] for line in lines if line.strokeDashArray]


def texts_of(picture: Picture) -> dict[str, Place]:
    return {one.text: (one.x, one.y) for one in picture.drawing.contents if isinstance(one, shapes.String)}


def scale(low_x: float, high_x: float, low_y: float, high_y: float) -> Callable[[Place], Place]:
    """Return what places a point of two quantities in a drawing of 260 points' height."""

    def place(point: Place) -> Place:
        x = LEFT + (point[0] - low_x) / (high_x - low_x) * (WIDTH - LEFT - RIGHT)
        return x, BOTTOM + (point[1] - low_y) / (high_y - low_y) * (260.0 - TOP - BOTTOM)

    return place


def close(some: Sequence[Place], wanted: Sequence[Place]) -> bool:
    return [pytest.approx(one, abs=0.01) for one in wanted] == list(some)


READ = [(0.5, "heads", 2, 80), (1, "hearts", 6, 76), (2, "hearts", 56, 70), (3, "tails", 106, 60)]


def spirit_run(books: Books, ended_at: datetime | None = None) -> int:
    run = books.run("SR-1", MORNING, ended_at)
    for after, cut, litres, abv in READ:
        books.parrot(run, MORNING + hours(after), cut, litres, abv)
    return run


def run_picture(books: Books) -> Picture:
    with books.store.read() as session:
        run = making.latest_run(session, books.now)
    assert run is not None
    return making.run_so_far(run, books.now, books.site.zone, ENGLISH)


def test_a_run_is_a_curve_of_its_readings_with_each_cut_up_to_the_next(books: Books) -> None:
    spirit_run(books)
    picture = run_picture(books)
    place = scale(0.0, 106 * 1.04, 0.0, 90.0)
    read = [place((litres, abv)) for _, _, litres, abv in READ]
    assert close(curves_of(picture)[0], read)
    assert close(dots_of(picture), read)
    heads, hearts, tails = areas_of(picture)
    assert close(heads[:2], read[:2])
    assert close(hearts[:3], read[1:4])
    assert close(tails[:1], read[3:])
    assert close(heads[2:], [place((6, 0)), place((2, 0))])
    assert uprights_of(picture) == pytest.approx([read[0][0], read[1][0], read[3][0]], abs=0.01)
    assert texts_of(picture)["hearts"] == pytest.approx((place((56, 0))[0], 260.0 - TOP + 9.0), abs=0.01)
    assert texts_of(picture)["60.0 % vol"][1] == pytest.approx(read[3][1] + 9.0, abs=0.01)
    assert picture.title == "Run SR-1, so far"
    assert picture.description.startswith(
        "The strength falls from 80.0 to 60.0 % vol while 106\N{NO-BREAK SPACE}L run off"
    )
    assert [row[1:] for row in picture.rows] == [
        ("heads", "2.0\N{NO-BREAK SPACE}L", "80.0"),
        ("hearts", "6.0\N{NO-BREAK SPACE}L", "76.0"),
        ("hearts", "56.0\N{NO-BREAK SPACE}L", "70.0"),
        ("tails", "106.0\N{NO-BREAK SPACE}L", "60.0"),
    ]


def test_a_run_that_ended_is_no_longer_so_far(books: Books) -> None:
    spirit_run(books, MORNING + hours(3.5))
    assert run_picture(books).title == "Run SR-1"


def test_the_run_drawn_is_the_spirit_run_that_started_last_by_now(books: Books) -> None:
    spirit_run(books)
    books.run("WR-1", MORNING + hours(1), kind="wash")
    later = books.now + timedelta(seconds=1)
    other = books.run("SR-2", later)
    assert run_picture(books).title == "Run SR-1, so far"
    with books.store.read() as session:
        assert making.latest_run(session, MORNING - timedelta(seconds=1)) is None
        assert making.latest_run(session, later) is None  # not read twice yet
    for litres in (1, 2):
        books.parrot(other, later + hours(litres), "heads", litres, 80)
    with books.store.read() as session:
        run = making.latest_run(session, later + hours(2))
    assert run is not None
    assert run.row.code == "SR-2"


def washes(books: Books) -> making.Curves:
    first, second = books.wash("W-1", "T1", MORNING - hours(10)), books.wash("W-2", "T2", MORNING - hours(30))
    for after, gravity in ((-10, 1.06), (0, 1.03)):
        books.gravity(first, MORNING + hours(after), gravity)
    for after, gravity in ((-30, 1.07), (-20, 1.0701), (2, 1.01)):
        books.gravity(second, MORNING + hours(after), gravity)
    books.gravity(second, books.now + timedelta(seconds=1), 1.0)
    books.gravity(books.wash("W-3", "T3", MORNING - hours(90), MORNING), MORNING - hours(90), 1.06)
    with books.store.read() as session:
        return making.curves(session, books.now)


def test_a_curve_of_a_wash_is_the_alcohol_by_the_hours_since_it_was_set(books: Books) -> None:
    tanks = washes(books)
    assert [hour for hour, _abv in tanks["T1"]] == [0.0, 10.0]
    assert [hour for hour, _abv in tanks["T2"]] == [0.0, 10.0, 32.0]
    # 131.25 x the fall of gravity (common practice): about 4 and 8 % vol.
    assert [abv for _hour, abv in tanks["T1"]] == pytest.approx([0.0, 3.9], abs=0.15)
    assert [abv for _hour, abv in tanks["T2"]] == pytest.approx([0.0, 0.0, 8.0], abs=0.2)
    assert tanks.keys() == {"T1", "T2"}


def test_what_ferments_is_drawn_by_hours_and_alcohol(books: Books) -> None:
    tanks = washes(books)
    picture = making.fermentation(tanks, ENGLISH)
    assert picture is not None
    place = scale(0.0, 32 * 1.06, 0.0, tanks["T2"][-1][1] * 1.15)
    for curve, points in zip(curves_of(picture), tanks.values(), strict=True):
        assert close(curve, [place(point) for point in points])
    assert close(dots_of(picture), [place(point) for points in tanks.values() for point in points])
    assert texts_of(picture)["T2"][1] == pytest.approx(place(tanks["T2"][-1])[1] + 9.0, abs=0.01)
    now = {tank: f"{points[-1][1]:.1f}" for tank, points in tanks.items()}
    assert picture.description.endswith(f"Now: T1: {now['T1']} % vol and T2: {now['T2']} % vol.")
    assert [row[:2] for row in picture.rows] == [
        ("T1", "0"),
        ("T1", "10"),
        ("T2", "0"),
        ("T2", "10"),
        ("T2", "32"),
    ]
    assert picture.rows[-1][2] == now["T2"]


def test_a_wash_just_set_is_drawn_on_a_day_and_four_percent(books: Books) -> None:
    picture = making.fermentation({"T1": [(0.0, 0.0), (2.0, 0.5)]}, ENGLISH)
    assert picture is not None
    place = scale(0.0, 24.0, 0.0, 4.0)
    assert close(curves_of(picture)[0], [place((0.0, 0.0)), place((2.0, 0.5))])


def cellar(books: Books) -> casks.CellarLife:
    """Three full casks and an emptied one, of which F-3 was gauged most often."""
    for number, store, gauges in (
        (1, "BAJA", {0: 100, 1: 90}),
        (2, "BAJA", {0: 100, 1: 88}),
        (3, "ALTA", {0: 100, 1: 91, 1.5: 87}),
    ):
        books.fill(number, books.now - 2 * YEAR, gauges, store=store)
    gone = {0: 100, 0.25: 98, 0.5: 96, 0.75: 94}
    books.fill(4, books.now - 2 * YEAR, gone, books.now - YEAR, store="ALTA")
    books.fill(5, books.now + timedelta(days=1), {}, store="ALTA")
    with books.store.read() as session:
        life = casks.cellar_life(read_fills(session).values(), books.now)
    assert life is not None
    return life


def test_the_cask_that_is_drawn_is_the_full_one_gauged_most_often(books: Books) -> None:
    assert cellar(books).chosen.code == "F-3"


def gauged(code: str, *days_ago: int, emptied_at: datetime | None = None) -> Fill:
    gauges = tuple(
        Gauge(MORNING - timedelta(days=ago), 100.0, 60.0) for ago in sorted(days_ago, reverse=True)
    )
    return Fill(code, "BAJA", MORNING - timedelta(days=900), gauges, (), emptied_at)


def test_a_cask_needs_two_gauges_until_now_and_to_be_full(books: Books) -> None:
    second = timedelta(seconds=1)
    assert casks.life_of([gauged("F-1", 10)], MORNING) is None
    assert casks.life_of([gauged("F-1", 10, -1)], MORNING) is None
    assert casks.life_of([gauged("F-1", 10, 5, emptied_at=MORNING)], MORNING) is None
    full = gauged("F-1", 10, 5, emptied_at=MORNING + second)
    assert casks.life_of([full], MORNING) is full
    again = gauged("F-2", 10, 5)
    assert casks.life_of([again, full], MORNING) is again  # of two gauged as often the later code


def test_the_bands_of_the_stores_are_the_sums_of_their_casks(books: Books) -> None:
    life = cellar(books)
    assert (life.first, life.now) == (books.now - 2 * YEAR, books.now)
    assert {store: len(band) for store, band in life.bands.items()} == {"ALTA": 20, "BAJA": 20}
    step = 2 * YEAR / 20
    for band in life.bands.values():
        times = [books.now - 2 * YEAR + n * step for n in range(1, 21)]
        assert [one[0] for one in band] == pytest.approx([at.timestamp() for at in times])
        assert all(low <= amount <= high for _at, low, amount, high in band)
    # At first two casks of 100 L of pure alcohol at 60 % lie in each store; one of ALTA's left after a year.
    assert life.bands["BAJA"][0][2] == pytest.approx(2 * 100 / 0.6, rel=0.02)
    assert life.bands["ALTA"][0][2] == pytest.approx(2 * 100 / 0.6, rel=0.02)
    assert life.bands["ALTA"][8][2] > 290 > 160 > life.bands["ALTA"][9][2]


def test_the_stores_are_drawn_from_nothing_to_a_little_over_the_most(books: Books) -> None:
    life = cellar(books)
    picture = casks.stores_drawn(life, books.site.zone, ENGLISH)
    most = max(one[3] for band in life.bands.values() for one in band)
    place = scale(life.first.timestamp(), life.now.timestamp(), 0.0, most * 1.12)
    for curve, area, band in zip(curves_of(picture), areas_of(picture), life.bands.values(), strict=True):
        assert close(curve, [place((at, amount)) for at, _low, amount, _high in band])
        assert close(area[:20], [place((at, high)) for at, _low, _amount, high in band])
        assert close(area[20:], [place((at, low)) for at, low, _amount, _high in reversed(band)])
    last = life.bands["BAJA"][-1]
    assert texts_of(picture)["BAJA"][1] == pytest.approx(place((last[0], last[2]))[1] + 9.0, abs=0.01)
    assert f"BAJA: {last[2]:.0f} L, likely {last[1]:.0f} to {last[3]:.0f}" in picture.description
    assert len(picture.rows) == 40
    assert picture.rows[-1] == ("BAJA", "June 16, 2026", f"{last[2]:.0f}")


def test_a_casks_volume_and_strength_are_drawn_around_their_gauges(books: Books) -> None:
    life = cellar(books)
    volume, strength = casks.cask_life(life.chosen, life.losses, books.now, books.site.zone, ENGLISH)
    assert (volume.name, volume.title) == ("cask-volume", "Cask C-3: what is in it")
    assert (strength.name, strength.title) == ("cask-strength", "Cask C-3: how strong it is")
    assert [row[1] for row in volume.rows] == ["166.7", "151.7", "145.0"]
    assert [row[1] for row in strength.rows] == ["60.0", "60.0", "60.0"]
    assert volume.rows[0][0] == "June 15, 2024"
    (curve,), (area,), dots = curves_of(volume), areas_of(volume), dots_of(volume)
    # 61 moments, of which three are gauges' own, and the one just before each but the first.
    assert (len(curve), len(area), len(dots)) == (63, 126, 3)
    assert dots[0][0] == pytest.approx(LEFT, abs=0.01)
    assert curve[-1][0] == pytest.approx(WIDTH - RIGHT, abs=0.01)
    assert dots[1] in [pytest.approx(point, abs=0.05) for point in curve]
    assert {one.r for one in volume.drawing.contents if isinstance(one, shapes.Circle)} == {3.4}
    for picture in (volume, strength):
        ys = [y for _x, y in areas_of(picture)[0]]
        below, above = min(ys) - BOTTOM, 260.0 - TOP - max(ys)
        assert below == pytest.approx(above, abs=0.01)  # the same margin on both sides
        assert below / (max(ys) - min(ys)) == pytest.approx(0.15, abs=0.001)


def test_a_cask_gauged_without_doubt_has_a_margin_of_half_a_unit_and_never_begins_below_nothing() -> None:
    zone = MORNING.tzinfo
    assert zone is not None
    life = (MORNING, MORNING + timedelta(days=9))
    for at, low_y, high_y in ((50.0, 49.5, 50.5), (0.2, 0.0, 0.7)):
        band = [(one.timestamp(), at, at, at) for one in life]
        colours = (casks.COPPER, casks.COPPER_SOFT)
        picture = casks._cask_picture("a", "b", "L", colours, band, [], life, zone, ENGLISH)
        place = scale(life[0].timestamp(), life[1].timestamp(), low_y, high_y)
        assert close(curves_of(picture)[0], [place((one[0], at)) for one in band])
        assert picture.description.endswith(f"Now {at:.1f}, likely {at:.1f} to {at:.1f} (L).")


@dataclass(frozen=True)
class Reader:
    """What a stop's page knows when its pictures are drawn."""

    now: datetime
    zone: tzinfo
    figures: FigureReader
    words: Words = ENGLISH
    units: str = Units.METRIC


def names_at(books: Books, slug: str) -> list[str]:
    figures = Registry([]).reader(books.store.read, versions, books.site, books.now)
    reader = Reader(books.now, books.site.zone, figures)
    with books.store.read() as session:
        return [one.name for one in making.stop_pictures(session, slug, reader)]  # type: ignore[arg-type]


def test_each_stop_has_the_pictures_of_its_own_records(books: Books) -> None:
    stops = ("still-house", "fermentation", "cask-store", "tasting-room")
    assert [names_at(books, slug) for slug in stops] == [[], [], [], []]
    spirit_run(books)
    washes(books)
    cellar(books)
    assert [names_at(books, slug) for slug in stops] == [
        ["run"],
        ["fermentation"],
        ["stores", "cask-volume", "cask-strength"],
        [],
    ]


def test_a_us_house_reads_volumes_of_its_pictures_in_gallons(books: Books) -> None:
    """One US gallon is 231 cubic inches: 3.785411784 L."""
    spirit_run(books)
    with books.store.read() as session:
        run = making.latest_run(session, books.now)
    assert run is not None
    picture = making.run_so_far(run, books.now, books.site.zone, ENGLISH, Units.US)
    assert [row[2] for row in picture.rows] == [
        "0.5\N{NO-BREAK SPACE}US gallons (2.0\N{NO-BREAK SPACE}L)",
        "1.6\N{NO-BREAK SPACE}US gallons (6.0\N{NO-BREAK SPACE}L)",
        "14.8\N{NO-BREAK SPACE}US gallons (56.0\N{NO-BREAK SPACE}L)",
        "28.0\N{NO-BREAK SPACE}US gallons (106.0\N{NO-BREAK SPACE}L)",
    ]
    assert close(curves_of(picture)[0], curves_of(run_picture(books))[0])  # the same curve on another scale
    life = cellar(books)
    volume, _strength = casks.cask_life(
        life.chosen, life.losses, books.now, books.site.zone, ENGLISH, Units.US
    )
    assert [row[1] for row in volume.rows] == ["44.0", "40.1", "38.3"]
    stores = casks.stores_drawn(life, books.site.zone, ENGLISH, Units.US)
    assert stores.head[2] == "volume at 20 °C, US gallons"
    assert float(stores.rows[-1][2]) == pytest.approx(life.bands["BAJA"][-1][2] / 3.785411784, abs=0.5)
