"""What a cask plausibly loses is fitted on the other casks, whose first year with new wood does not count."""

from datetime import timedelta

from kiosk.production.forms.definitions import FORMS
from kiosk.production.records.forms import typed_values
from kiosk.production.records.submission import submit_form
from tests.production.live.conftest import YEAR, Books

MINUTE = timedelta(minutes=1)


def waits(books: Books, cask: str, alcohol_l: float) -> bool:
    """Say whether a gauge of now waits for a person: so much pure alcohol at 60 % vol."""
    cells = {"cask": cask, "at": f"{books.site.local(books.now - MINUTE):%Y-%m-%d %H:%M}"}
    cells |= {"volume_l": f"{alcohol_l / 0.6:.1f}", "volume_temperature_c": "20"}
    cells |= {"instrument": "density_meter", "reading": "60", "temperature_c": "20"}
    form = FORMS["regauge-volume"]
    with books.store.write() as session:
        values = typed_values(form.fields, cells, books.site)
        return submit_form(session, books.site, form, values, by=None, at=books.now).held_id is not None


def test_a_cask_that_always_lost_much_is_no_measure_of_itself(books: Books) -> None:
    """It lost 30 % in each year: without a second cask to fit, 25 % a year are the most."""
    leaky = books.fill(1, books.now - 4 * YEAR, {0: 100, 1: 70, 2: 49, 3: 34.3})
    assert leaky == 1  # the very first record
    books.fill(2, books.now - 3 * YEAR, {0: 100, 1: 98, 2: 96})
    assert waits(books, "C-1", 24)
    assert not waits(books, "C-1", 30)


def test_what_new_wood_drank_is_no_rate_of_its_store(books: Books) -> None:
    """Two casks lost 30 % in their first year, then 2 % a year; so 10 % in the second year are too much."""
    for number in (1, 2):
        books.fill(number, books.now - 3 * YEAR, {0: 100, 1: 70, 2: 68.6, 3 - 1e-4: 67.2})
    books.fill(3, books.now - 2 * YEAR, {0: 100, 1: 98})
    assert waits(books, "C-3", 88)
    assert not waits(books, "C-3", 96)
