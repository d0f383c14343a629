from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import event

from kiosk.entries.entries import Answer
from kiosk.stops.guest_link import OwnPage, find_guest, guest_token, own_page
from kiosk.store import rows
from kiosk.store.tables.tours import guests
from tests.tasting_room import HALF_UL, Tasting, tasting_site


@pytest.fixture
def tasting(store, now, tmp_path: Path) -> Tasting:
    begun = Tasting.begun(store, tasting_site(tmp_path), now)
    begun.check()
    return begun


def page(tasting: Tasting, guest: int) -> OwnPage:
    with tasting.store.read() as session:
        token = guest_token(tasting.site.secret, guest, 0)
        found = own_page(session, tasting.site, token, tasting.now)
    assert found is not None
    return found


def poured(tasting: Tasting, guest: int, product: str, key: str) -> Answer:
    return tasting.pour(guest, product, key=key)


def test_samples_are_named_once_each_in_their_order(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    for product, key in (("blanco", "1" * 32), ("anejo", "2" * 32), ("blanco", "3" * 32)):
        poured(tasting, guest, product, key)
    assert page(tasting, guest).products == ("blanco", "anejo")


def test_before_the_tasting_there_is_nothing_to_name(tasting: Tasting) -> None:
    assert page(tasting, tasting.guests[0]).products == ()


def test_a_void_is_not_named(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    poured(tasting, guest, "blanco", "1" * 32)
    tasting.correct("1" * 32, "void")
    assert page(tasting, guest).products == ()


def test_a_glass_that_went_to_a_neighbour_is_named_there(tasting: Tasting) -> None:
    first, second = tasting.guests
    poured(tasting, first, "anejo", "1" * 32)
    tasting.correct("1" * 32, "reassign", second)
    assert page(tasting, first).products == ()
    assert page(tasting, second).products == ("anejo",)


def test_a_glass_that_was_left_is_still_named(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    tasting.pour(guest, "blanco", HALF_UL, key="1" * 32)
    tasting.correct("1" * 32, "unfinished")
    assert page(tasting, guest).products == ("blanco",)


def test_a_page_tells_day_number_and_language(tasting: Tasting) -> None:
    told = page(tasting, tasting.guests[1])
    assert (told.day, told.number, told.language) == (tasting.site.service_day(tasting.now), 2, "es")


SECRET = bytes(range(32))


@pytest.fixture
def tasting_tokens(store, now, tmp_path: Path) -> Tasting:
    return Tasting.begun(store, tasting_site(tmp_path), now)


def found(tasting_tokens: Tasting, token: str, days: int = 0) -> int | None:
    with tasting_tokens.store.read() as session:
        return find_guest(session, tasting_tokens.site, token, tasting_tokens.now + timedelta(days=days))


def test_a_token_is_128_bits_in_capital_base32() -> None:
    assert re.fullmatch(r"[A-Z2-7]{32}", guest_token(SECRET, 1, 0))


def test_a_card_printed_again_carries_the_same_token() -> None:
    assert guest_token(SECRET, 7, 0) == guest_token(SECRET, 7, 0)


def test_guests_link_numbers_and_sites_have_tokens_of_their_own() -> None:
    others = [
        guest_token(SECRET, 7, 1),
        guest_token(SECRET, 8, 0),
        guest_token(bytes(32), 7, 0),
        guest_token(SECRET, 70, 0),
    ]
    assert len({guest_token(SECRET, 7, 0), *others}) == 5


def test_a_token_opens_the_page_of_its_guest_alone(tasting_tokens: Tasting) -> None:
    tokens = {guest: guest_token(tasting_tokens.site.secret, guest, 0) for guest in tasting_tokens.guests}
    assert {guest: found(tasting_tokens, token) for guest, token in tokens.items()} == {
        g: g for g in tasting_tokens.guests
    }


@pytest.mark.parametrize("wrong", ["", "A" * 32, "ñ", "\ud800", "../../etc"])
def test_a_wrong_token_opens_nothing(tasting_tokens: Tasting, wrong: str) -> None:
    assert found(tasting_tokens, wrong) is None


def test_a_new_link_number_ends_the_old_address(tasting_tokens: Tasting) -> None:
    guest = tasting_tokens.guests[0]
    with tasting_tokens.store.write() as session:
        rows.change(session, guests, guest, 1, {"link_no": 1}, by=tasting_tokens.ana, at=tasting_tokens.now)
    assert found(tasting_tokens, guest_token(tasting_tokens.site.secret, guest, 0)) is None
    assert found(tasting_tokens, guest_token(tasting_tokens.site.secret, guest, 1)) == guest


def test_a_purged_guest_has_no_page(tasting_tokens: Tasting) -> None:
    guest = tasting_tokens.guests[0]
    with tasting_tokens.store.write() as session:
        rows.change(
            session, guests, guest, 1, {"purged_at": tasting_tokens.now}, by=None, at=tasting_tokens.now
        )
    assert found(tasting_tokens, guest_token(tasting_tokens.site.secret, guest, 0)) is None


@pytest.mark.parametrize(("days", "open_"), [(30, True), (31, False)])
def test_a_page_ends_with_the_sites_retention(tasting_tokens: Tasting, days: int, open_: bool) -> None:
    token = guest_token(tasting_tokens.site.secret, tasting_tokens.guests[0], 0)
    assert (found(tasting_tokens, token, days) is not None) is open_


def test_a_token_reads_one_guest_however_many_there_were(tasting_tokens: Tasting) -> None:
    token, asked = guest_token(tasting_tokens.site.secret, tasting_tokens.guests[1], 0), []
    with tasting_tokens.store.read() as session:

        def note(*given: object) -> None:
            asked.append(str(given[2]))

        event.listen(session.get_bind(), "before_cursor_execute", note)
        assert find_guest(session, tasting_tokens.site, token, tasting_tokens.now)
        event.remove(session.get_bind(), "before_cursor_execute", note)
    (query,) = (one for one in asked if "SELECT" in one)
    assert "guests.id = " in query


def test_the_id_in_a_token_is_hidden_and_a_changed_sign_opens_nothing(tasting_tokens: Tasting) -> None:
    first, second = (guest_token(tasting_tokens.site.secret, guest, 0) for guest in tasting_tokens.guests)
    assert first[26:] != second[26:]  # ids 1 and 2 share all bytes but one
    for place in (0, 15, 27, 31):
        other = "B" if first[place] != "B" else "C"
        assert found(tasting_tokens, first[:place] + other + first[place + 1 :]) is None
