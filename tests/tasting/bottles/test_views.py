"""Bottles, stock and measures over HTTP, by forms alone."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import bottles
from tests.bar import FULL_G, approval_of, opened, stocked, told

PLACE = "/staff/bottles"


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def page(screen, path=PLACE):
    return re.sub(r"\s+", " ", screen.get(path).get_data(as_text=True))


def sent(screen, path, **fields):
    return screen.post(path, page=PLACE, key=new_key(), **fields)


def test_a_bottle_is_opened_weighed_and_closed_by_forms(bar, tasting, clock):
    approval = approval_of(tasting, "blanco")
    answer = sent(
        bar, PLACE, approval=approval, kind="bottle", size="25.4", gross_g=str(FULL_G), temperature="77"
    )
    assert answer.status_code == 303
    assert "750" in page(bar)
    clock.pass_s(60)
    answer = sent(bar, f"{PLACE}/1", kind="weigh", gross_g="1000", temperature="77")
    # 500 g of 40 % at 77 °F, some 0.944 g/mL (OIML R 22).
    left = float(re.search(r"<b>[^<]*\((\d+)\D", page(bar, f"{PLACE}/1"))[1])
    assert left == pytest.approx(500 / 0.944, abs=1)
    answer = sent(bar, f"{PLACE}/1", kind="spill", volume="1.5")
    assert answer.status_code == 303
    assert re.search(r"1\.5\s+fl oz \(44\s+mL\)", page(bar, f"{PLACE}/1"))  # spilt, to the mL
    sent(bar, f"{PLACE}/1", kind="close")
    assert "No bottle is open here." in page(bar)


def test_a_heavier_bottle_is_told_and_settled_by_the_manager_alone(bar, manager, tasting, clock):
    bottle = opened(tasting)
    clock.pass_s(60)
    answer = sent(bar, f"{PLACE}/{bottle}", kind="weigh", gross_g=str(FULL_G + 40))
    assert answer.headers["Location"].endswith("outcome=held")
    assert "refilled?" in page(bar)
    assert "/staff/held" not in page(bar)
    assert 'href="/staff/held"' in page(manager)
    inbox = manager.get("/staff/held").get_data(as_text=True)
    held, revision = re.search(r'/bottles/held/(\d+)".*?name="revision" value="(\d+)"', inbox, re.S).groups()
    settled = {"revision": revision, "outcome": "discarded", "why": "did_not_happen"}
    assert manager.post(f"{PLACE}/held/{held}", page="/staff/held", **settled).status_code == 303
    assert "refilled?" not in page(manager)


def test_stock_and_measures_are_entered_by_forms(bar, tasting):
    approval = approval_of(tasting, "blanco")
    line = {"approval": approval, "kind": "received", "bottles": "6", "size": "750 mL"}
    assert sent(bar, f"{PLACE}/stock", **line).status_code == 422
    assert sent(bar, f"{PLACE}/stock", document="removal 7", **line).status_code == 303
    assert '<td class="n">6</td>' in page(bar)
    ten = " ".join(["7.38"] * 10)
    assert sent(bar, f"{PLACE}/measures", measure="quarter-ounce", weights_g=ten).status_code == 303
    assert "0.25 fl oz (7.39 mL) ± 0.00 fl oz (0.00 mL)" in page(bar)
    assert sent(bar, f"{PLACE}/measures", measure="quarter-ounce", weights_g="7.38").status_code == 422


@pytest.mark.parametrize(
    ("size", "size_ml"), [("25.4", 750), ("33.8", 1000), ("750 mL", 750), ("751 ml", 751), ("32", 945)]
)
def test_the_size_of_a_bottle_is_typed_in_the_sites_unit_or_in_ml(bar, tasting, size, size_ml):
    approval = approval_of(tasting, "blanco")
    assert sent(bar, PLACE, approval=approval, kind="bottle", size=size).status_code == 303
    with tasting.store.read() as session:
        assert session.scalar(select(bottles.c.size_ml)) == size_ml


@pytest.mark.parametrize("size", ["", "many", "0", "700", "9" * 30])
def test_no_bottle_has_such_a_size(bar, tasting, size):
    approval = approval_of(tasting, "blanco")
    assert sent(bar, PLACE, approval=approval, kind="bottle", size=size).status_code in (400, 422)


@pytest.mark.parametrize("gross", ["700", ""])
def test_a_full_bottle_lighter_than_its_content_is_refused(bar, tasting, gross):
    approval = approval_of(tasting, "blanco")
    answer = sent(bar, PLACE, approval=approval, kind="bottle", size="25.4", gross_g=gross)
    assert answer.status_code == (422 if gross else 303)


def test_the_room_warns_before_the_flight_needs_what_is_not_there(bar, tasting):
    room = f"/staff/tours/{tasting.tour}/tasting"
    assert low_in(bar, room) == []  # nobody keeps bottles here
    opened(tasting)
    ((product, sentence),) = low_in(bar, room)
    assert (product, sentence.startswith("Anejo: no open bottle holds any")) == ("anejo", True)
    opening = re.search(r'data-opening="([^"]*)"', page(bar, room))[1].replace("&amp;", "&")
    form = page(bar, f"{opening}&product={product}")
    approval, to = re.findall(r'name="(?:approval|to)" value="([^"]*)"', form)[::-1]
    answer = bar.post(PLACE, page=PLACE, key=new_key(), approval=approval, to=to, size="750 mL", room="main")
    assert answer.headers["Location"] == room
    assert low_in(bar, room) == []


def low_in(screen, room):
    return [(one["product"], one["sentence"]) for one in screen.get(f"{room}/state").get_json()["low"]]


def test_what_is_opened_is_what_the_room_may_pour_and_what_it_has_sealed(bar, tasting):
    stocked(tasting, "received", 3, size_ml=500)
    with tasting.store.write() as session:
        tasting.approval(session, "blanco", tasting.site.service_day(tasting.now))
    form = page(bar, f"{PLACE}/open?product=blanco")
    assert re.search(r'<select id="f-approval".*?R-blanco-\w+ · 500 mL</option><option', form)
    assert 'name="size" type="text" value="500 mL"' in form
    assert "Anejo" not in form
    assert "Nothing is approved" in page(bar, f"{PLACE}/open?product=reserva")
    assert 'name="to" value="/staff/bottles?room=main"' in page(bar, f"{PLACE}/open?to=//elsewhere.test")


def test_the_shelf_draws_each_product_with_its_level_and_its_sealed_bottles(bar, tasting):
    stocked(tasting, "received", 3)
    bottle = opened(tasting)
    tasting.pour(tasting.guests[0])
    shelf = page(bar)
    (cell,) = re.findall(r'<li class="bottle-cell" [^>]*data-state="open">.*?</li>', shelf)
    assert "<h2>Blanco</h2>" in cell
    assert ">40</text>" in cell
    assert '<b class="bottle-ml">743</b>' in cell
    assert "100 pours" in cell
    assert "of 0.25" in cell
    assert "1 pour ahead today" in cell  # of two guests' flights, one glass is poured
    assert "2 sealed" in cell
    assert len(re.findall('data-state="none"', shelf)) == 2  # approved, and none open
    told(tasting, bottle, "spill", volume_ul=600_000)
    low = page(bar)
    assert 'data-state="low"' in low
    assert re.search(r'<section class="shelf-next" data-why="low".*?Blanco.*?Low.*?19 pours left', low)
    assert low.count("button next") == 1


def test_a_jug_past_its_time_is_to_be_poured_away(bar, tasting, clock):
    approval = approval_of(tasting, "blanco")
    sent(bar, PLACE, approval=approval, kind="jug", size="33.8", tare_g="420", hours="2")
    assert "Pour away after" in page(bar)
    assert "Pour it away" not in page(bar)
    for _ in range(24):  # somebody at work: nobody is signed out
        clock.pass_s(300)
        last = page(bar)
    assert "Pour it away" in last


def test_spanish_pages_are_spanish(bar, tasting):
    opened(tasting)
    bar.get("/language/es")
    assert "Botellas" in page(bar)
    assert "Open a bottle" not in page(bar)


def test_the_figures_of_a_bottle_agree_or_say_by_how_much_they_do_not(bar, tasting, clock):
    bottle = opened(tasting)
    assert not re.search("<dt>(Short|Over)</dt>", page(bar, f"{PLACE}/{bottle}"))
    clock.pass_s(60)
    sent(bar, f"{PLACE}/{bottle}", kind="weigh", gross_g="1116", temperature="68")  # 95 g are 100 mL
    assert re.search(
        r"<dt>Short</dt><dd>3\.4 fl oz \(100 mL\): the entries expect it", page(bar, f"{PLACE}/{bottle}")
    )
    sent(bar, f"{PLACE}/{bottle}", kind="close")
    closed = page(bar, f"{PLACE}/{bottle}")
    assert re.search(r"\(750 mL\): not accounted for when the bottle was closed", closed)


def test_an_empty_bottle_asks_for_another_one(bar, tasting, clock):
    bottle = opened(tasting)
    clock.pass_s(60)
    assert "This bottle is empty." not in page(bar, f"{PLACE}/{bottle}")
    sent(bar, f"{PLACE}/{bottle}", kind="spill", volume="25.36")
    assert "This bottle is empty." in page(bar, f"{PLACE}/{bottle}")
