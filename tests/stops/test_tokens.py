from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest

from kiosk.stops.tokens import find_guest, guest_token
from kiosk.store import rows
from kiosk.store.tables.tours import guests
from tests.tasting_room import Tasting, tasting_site

SECRET = bytes(range(32))


@pytest.fixture
def tasting(store, now, tmp_path: Path) -> Tasting:
    return Tasting.begun(store, tasting_site(tmp_path), now)


def found(tasting: Tasting, token: str, days: int = 0) -> int | None:
    with tasting.store.read() as session:
        return find_guest(session, tasting.site, token, tasting.now + timedelta(days=days))


def test_a_token_is_128_bits_in_capital_base32() -> None:
    assert re.fullmatch(r"[A-Z2-7]{26}", guest_token(SECRET, 1, 0))


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


def test_a_token_opens_the_page_of_its_guest_alone(tasting: Tasting) -> None:
    tokens = {guest: guest_token(tasting.site.secret, guest, 0) for guest in tasting.guests}
    assert {guest: found(tasting, token) for guest, token in tokens.items()} == {g: g for g in tasting.guests}


@pytest.mark.parametrize("wrong", ["", "A" * 26, "ñ", "\ud800", "../../etc"])
def test_a_wrong_token_opens_nothing(tasting: Tasting, wrong: str) -> None:
    assert found(tasting, wrong) is None


def test_a_new_link_number_ends_the_old_address(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    with tasting.store.write() as session:
        rows.change(session, guests, guest, 1, {"link_no": 1}, by=tasting.ana, at=tasting.now)
    assert found(tasting, guest_token(tasting.site.secret, guest, 0)) is None
    assert found(tasting, guest_token(tasting.site.secret, guest, 1)) == guest


def test_a_purged_guest_has_no_page(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    with tasting.store.write() as session:
        rows.change(session, guests, guest, 1, {"purged_at": tasting.now}, by=None, at=tasting.now)
    assert found(tasting, guest_token(tasting.site.secret, guest, 0)) is None


@pytest.mark.parametrize(("days", "open_"), [(30, True), (31, False)])
def test_a_page_ends_with_the_sites_retention(tasting: Tasting, days: int, open_: bool) -> None:
    token = guest_token(tasting.site.secret, tasting.guests[0], 0)
    assert (found(tasting, token, days) is not None) is open_
