"""What guests read about a lot, and the pictures of where it comes from and what became of the sugar."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from reportlab.graphics import shapes
from sqlalchemy import select, update

from kiosk.figures.making.lineage import LEAST_SHARE
from kiosk.paper.charts import BAND
from kiosk.paper.pictures import Picture
from kiosk.production.lineage.chain import Upstream, read_upstream
from kiosk.production.lineage.origin import chain_flow, paragraph, where_from
from kiosk.production.lineage.provenance import Proportions, Provenance, trace_provenance
from kiosk.site.shipped import shipped
from kiosk.store.tables import production as t
from kiosk.words.catalogs import load_words
from tests.production.faults_and_values import ENGLISH
from tests.production.lineage.estate import SET, bottled, distilled
from tests.production.live.conftest import MORNING, YEAR, Books, hours

ON = date(2026, 6, 15)
SPANISH = load_words(shipped("locales"), "es", "es_PR")


def upstream_of(books: Books, lot: int) -> Upstream:
    with books.store.read() as session:
        return read_upstream(session, lot)


def provenance_of(books: Books, lot: int) -> Provenance:
    return trace_provenance(upstream_of(books, lot), books.site.zone)


def sentences(books: Books, lot: int) -> str:
    return paragraph(provenance_of(books, lot), ON, ENGLISH)


def test_guests_read_fields_steps_wood_and_what_was_not_made_here(books: Books) -> None:
    assert sentences(books, bottled(books)) == (
        "Its cane grew in the fields HILL (60%) and VEGA (20%) and was cut between April 16, 2026 and "
        "April 17, 2026. Behind it stand 2 loads of cane at the mill, 1 wash in the tanks, and 1 spirit "
        "run. 20% of its alcohol was not made here: cane spirit, Elsewhere, received on June 1, 2026. It "
        "lay in 2 casks in Store BAJA and Store ALTA. Of a part of it the age is not known, so none is "
        "told. It was bottled on June 15, 2026."
    )


def test_guests_read_it_in_spanish_too(books: Books) -> None:
    text = paragraph(provenance_of(books, bottled(books)), ON, SPANISH)
    assert "HILL (60" in text
    assert "2 cargas" in text


def test_a_lot_without_records_behind_it_has_no_paragraph_and_no_picture(books: Books) -> None:
    lot = books.lot("AN-1", ON, 300)
    assert sentences(books, lot) == ""
    assert where_from(provenance_of(books, lot), "AN-1", ENGLISH) is None


def test_cane_cut_on_one_day_and_washes_alone_are_said_so(books: Books) -> None:
    lot = bottled(books, received_l=0)
    with books.store.write() as session:
        session.execute(update(t.loads).values(cut_on=ON))
        session.execute(update(t.runs).values(kind="wash"))
    text = sentences(books, lot)
    assert "HILL (75%) and VEGA (25%) and was cut on June 15, 2026." in text
    assert "Behind it stand 2 loads of cane at the mill and 1 wash in the tanks." in text
    assert "not made here" not in text


@pytest.mark.parametrize(
    ("lain", "said"),
    [
        (YEAR / 2, "Its youngest spirit spent less than a year in the cask."),
        (1.1 * YEAR, "Its youngest spirit spent 1 full year in the cask."),
        (3.1 * YEAR, "Its youngest spirit spent 3 full years in the cask."),
    ],
)
def test_the_age_is_that_of_full_years(books: Books, lain: timedelta, said: str) -> None:
    lot = books.lot("AN-1", ON, 300)
    fill = books.fill(1, MORNING - lain, {0: 60})
    books.draw(fill, lot, 40, at=MORNING)
    assert sentences(books, lot) == f"It lay in 1 cask in Store BAJA. {said} It was bottled on June 15, 2026."


def test_two_fills_of_one_cask_are_one_cask_and_a_store_is_named_once(books: Books) -> None:
    lot = books.lot("AN-1", ON, 300)
    for number in (1, 2):
        begun = MORNING - (4 - number) * YEAR
        fill = books.fill(number, begun, {0: 60}, begun + YEAR / 2, cask="C-1")
        books.draw(fill, lot, 40, at=MORNING)
    assert "It lay in 1 cask in Store BAJA." in sentences(books, lot)


def test_spirit_that_saw_no_wood_is_said_to_be_so_only_where_all_of_it_was_made_here(books: Books) -> None:
    hearts, _tails = distilled(books)
    lot = books.lot("BL-1", ON, 300)
    books.draw(hearts, lot, 100, at=MORNING)
    assert "It has not lain in wood." in sentences(books, lot)
    arrived = {"received_on": date(2026, 6, 1), "alcohol_ml": 50_000}
    spirit = books.batch(t.received, "received", "SP-1", kind="spirit", what="cane spirit", **arrived)
    books.draw(spirit, lot, 25, at=MORNING)
    text = sentences(books, lot)
    assert "wood" not in text
    assert "20% of its alcohol was not made here: cane spirit, origin not recorded, received on" in text


def test_what_was_added_is_named_with_its_origin_where_that_is_recorded(books: Books) -> None:
    lot = bottled(books)
    for code, what, origin in (("GIN-1", "ginger root", "Hill farm"), ("SUG-1", "sugar", None)):
        values = {"kind": "fruit", "what": what, "origin": origin, "received_on": date(2026, 6, 2)}
        books.draw(books.batch(t.received, "received", code, **values), lot, 0, at=MORNING)
    assert "Besides the spirit there is in it: ginger root (Hill farm) and sugar." in sentences(books, lot)
    assert "Besides" not in sentences(books, books.lot("AN-2", ON, 10))


def rows_of(picture: Picture | None) -> list[tuple[str, ...]]:
    assert picture is not None
    return [tuple(row) for row in picture.rows]


def test_the_picture_of_the_origin_shows_fields_received_spirit_and_casks(books: Books) -> None:
    picture = where_from(provenance_of(books, bottled(books)), "AN-1", ENGLISH)
    assert rows_of(picture) == [
        ("HILL", "60%"),
        ("VEGA", "20%"),
        ("Elsewhere", "20%"),
        ("cask C-1", "40%"),
        ("cask C-2", "40%"),
        ("not in our casks", "20%"),
    ]
    assert picture is not None
    assert picture.title == "Where lot AN-1 comes from"
    assert picture.description.endswith("HILL 60%, VEGA 20%, and Elsewhere 20%.")


def test_a_lot_all_from_casks_has_no_other_way_and_one_without_casks_no_column_of_them(books: Books) -> None:
    lot = bottled(books, received_l=0)
    names = [name for name, _share in rows_of(where_from(provenance_of(books, lot), "AN-1", ENGLISH))]
    assert names == ["HILL", "VEGA", "cask C-1", "cask C-2"]


def test_white_spirit_goes_from_its_fields_to_the_bottle(books: Books) -> None:
    hearts, _tails = distilled(books)
    lot = books.lot("BL-1", ON, 300)
    books.draw(hearts, lot, 100, at=MORNING)
    picture = where_from(provenance_of(books, lot), "BL-1", ENGLISH)
    assert rows_of(picture) == [("HILL", "75%"), ("VEGA", "25%")]


@pytest.mark.parametrize(("times", "named"), [(0.5, "earlier runs"), (1.5, "OLD")])
def test_what_came_by_feints_too_small_to_follow_is_earlier_runs(
    books: Books, times: float, named: str
) -> None:
    hearts, _tails = distilled(books)
    old = books.run("OLD", SET - timedelta(days=30), SET - timedelta(days=30) + hours(6))
    feints = books.receiver(old, "OLD-TL", "tails", 100, 40, fate="feints")
    books.draw(old, feints, 40, at=SET - timedelta(days=29))
    again = books.run("SR-2", SET + timedelta(days=20), SET + timedelta(days=20) + hours(6))
    share = times * LEAST_SHARE
    books.draw(feints, again, 1000 * share, at=SET + timedelta(days=20))
    books.draw(hearts, again, 1000 * (1 - share), at=SET + timedelta(days=20))
    second = books.receiver(again, "SR-2-HT", "hearts", 1000, 70, fate="cask")
    books.draw(again, second, 700, at=SET + timedelta(days=20) + hours(6))
    lot = books.lot("BL-1", ON, 300)
    books.draw(second, lot, 100, at=MORNING)
    provenance = provenance_of(books, lot)
    assert provenance.earlier == pytest.approx(share if named == "earlier runs" else 0.0)
    assert ("OLD" in {part.code for part in provenance.of("run")}) is (named == "OLD")
    origins = [name for name, _share in rows_of(where_from(provenance, "BL-1", ENGLISH))]
    assert origins == ["HILL", "VEGA", *(["earlier runs"] if provenance.earlier else [])]


STEPS = Proportions(cane_kg=3000, possible=200, fermented=150, hearts=100, bought=0, bottled=80)


def test_the_picture_of_the_steps_shows_each_amount_and_each_loss(books: Books) -> None:
    picture = chain_flow(STEPS, 267, True, ENGLISH)
    assert rows_of(picture) == [
        ("in the sugar", "200 L"),
        ("in the washes", "150 L"),
        ("the yeast", "50 L"),
        ("hearts", "100 L"),
        ("the stills", "50 L"),
        ("bottled", "80 L"),
        ("angels and wood", "20 L"),
    ]
    assert picture.title == "From 3,000 kg of cane to 267 bottles"
    assert picture.description.endswith(
        "of 200 L that the sugar could give at most, 80 L are in the bottles."
    )


def test_spirit_received_stands_beside_the_hearts_and_shares_their_losses(books: Books) -> None:
    steps = Proportions(cane_kg=3000, possible=200, fermented=150, hearts=100, bought=25, bottled=100)
    picture = chain_flow(steps, 333, False, ENGLISH)
    rows = dict(rows_of(picture))
    assert (rows["received"], rows["bottled"], rows["in vats and bottling"]) == ("25 L", "100 L", "25 L")
    assert picture.title == "From 3,000 kg of cane and spirit received to 333 bottles"
    assert "25 L were received from elsewhere, 100 L are in the bottles" in picture.description


def test_a_step_without_a_loss_has_no_stem_for_it(books: Books) -> None:
    steps = Proportions(cane_kg=3000, possible=200, fermented=200, hearts=200, bought=0, bottled=200)
    assert [name for name, _amount in rows_of(chain_flow(steps, 600, True, ENGLISH))] == [
        "in the sugar",
        "in the washes",
        "hearts",
        "bottled",
    ]


def stems(picture: Picture | None) -> list[float]:
    """Return the share that each stem is tall, column by column."""
    assert picture is not None
    return [one.height / BAND for one in picture.drawing.contents if isinstance(one, shapes.Rect)]


def bands(picture: Picture | None) -> list[float]:
    """Return the share that each band is broad, by the stems that it leaves and reaches."""
    assert picture is not None
    paths = [one for one in picture.drawing.contents if isinstance(one, shapes.Path)]
    return [(one.points[7] - one.points[9]) / BAND for one in paths]


def test_each_origin_reaches_each_cask_by_what_was_drawn_there(books: Books) -> None:
    picture = where_from(provenance_of(books, bottled(books)), "AN-1", ENGLISH)
    assert stems(picture) == pytest.approx([0.6, 0.2, 0.2, 0.4, 0.4, 0.2, 1.0])
    into_casks, elsewhere, bottle = [0.3, 0.3, 0.1, 0.1], [0.2], [0.4, 0.4, 0.2]
    assert bands(picture) == pytest.approx([*into_casks, *elsewhere, *bottle])


def test_casks_of_unlike_parts_take_from_the_fields_in_their_own_parts(books: Books) -> None:
    lot = bottled(books, received_l=0)
    white = books.lot("BL-1", ON, 300)
    with books.store.read() as session:
        hearts = session.scalar(select(t.receivers.c.id).where(t.receivers.c.cut == "hearts"))
        fill = session.scalar(select(t.fills.c.id).order_by(t.fills.c.id))
    assert hearts is not None
    assert fill is not None
    books.draw(hearts, white, 30, at=MORNING)
    books.draw(fill, white, 10, at=MORNING)
    picture = where_from(provenance_of(books, white), "BL-1", ENGLISH)
    assert stems(picture) == pytest.approx([0.75, 0.25, 0.25, 0.75, 1.0])
    assert bands(picture) == pytest.approx([0.1875, 0.5625, 0.0625, 0.1875, 0.25, 0.75])
    whole = where_from(provenance_of(books, lot), "AN-1", ENGLISH)
    assert bands(whole) == pytest.approx([0.375, 0.375, 0.125, 0.125, 0.5, 0.5])


@pytest.mark.parametrize(
    ("hearts", "bought", "bottled_l", "widths"),
    [
        (100, 25, 100, [0.75, 0.25, 0.5, 0.25, 0.4, 0.1, 0.1, 0.025]),
        (100, 0, 80, [0.75, 0.25, 0.5, 0.25, 0.4, 0.1]),
    ],
)
def test_own_and_received_spirit_share_the_losses_after_the_stills(
    hearts: float, bought: float, bottled_l: float, widths: list[float]
) -> None:
    steps = Proportions(3000, 200, 150, hearts, bought, bottled_l)
    assert bands(chain_flow(steps, 300, True, ENGLISH)) == pytest.approx(widths)


def test_where_more_was_received_than_the_sugar_could_give_that_is_the_whole() -> None:
    picture = chain_flow(Proportions(1000, 100, 80, 60, 140, 150), 500, True, ENGLISH)
    assert stems(picture) == pytest.approx([0.5, 0.4, 0.1, 0.3, 0.7, 0.1, 0.75, 0.25])


def test_shares_of_a_lot_add_up_to_100_percent_with_those_of_earlier_runs(books: Books) -> None:
    provenance = replace(provenance_of(books, bottled(books)), earlier=0.0004)
    assert rows_of(where_from(provenance, "AN-1", ENGLISH))[3] == ("earlier runs", "<1%")
    provenance = replace(provenance, earlier=0.0123)
    assert rows_of(where_from(provenance, "AN-1", ENGLISH))[3] == ("earlier runs", "1%")
