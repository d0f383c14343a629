"""Each tank says the day and the alcohol of its wash, or that it rests."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, Basis, State, state
from kiosk.production.live.fermentation import (
    FERMENTATION_PROVIDER,
    FERMENTING,
    TANKS_AT_WORK,
    WASH_ABV,
    WASH_DAY,
    WASH_ENDS,
    WASH_GRAVITY,
)
from tests.production.live.conftest import MORNING, Books, hours

DAY = timedelta(days=1)


def test_the_day_of_setting_is_the_first_day(books: Books) -> None:
    books.wash("W-1", "T1", MORNING)
    books.wash("W-2", "T2", MORNING - 2 * DAY)
    assert books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T1").value == 1
    assert books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T2").value == 3


def test_alcohol_comes_from_the_first_and_the_latest_gravity(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - 3 * DAY)
    books.gravity(wash, MORNING - 3 * DAY, 1.0699)
    books.gravity(wash, MORNING - 1 * DAY, 1.0200)
    books.gravity(wash, MORNING, 0.9970)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1")
    # OG 1.0699, FG 0.997: 9.76 % vol by Balling's formula (worked out by hand).
    assert figure.value == pytest.approx(9.76, abs=0.01)
    assert figure.as_of == MORNING


def test_a_wash_just_set_holds_a_measured_nothing(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0650)
    assert books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1").value == 0.0


def test_a_gravity_a_hair_above_the_first_is_still_nothing(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0650)
    books.gravity(wash, MORNING + hours(1), 1.0652)
    assert books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1").value == 0.0


def test_a_wash_nobody_has_read_is_not_known(books: Books) -> None:
    books.wash("W-1", "T1", MORNING)
    assert books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1").missing == "no_reading"


def test_an_empty_tank_rests_since_its_last_wash(books: Books) -> None:
    books.wash("W-1", "T1", MORNING - 9 * DAY, MORNING - 4 * DAY)
    for spec in (WASH_DAY, WASH_ABV):
        figure = books.figure(FERMENTATION_PROVIDER, spec.name, "T1")
        assert (figure.missing, figure.as_of) == (RESTING, MORNING - 4 * DAY)


def test_a_tank_that_never_held_a_wash_is_not_known(books: Books) -> None:
    books.vessel("T9")
    assert books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T9").missing == "no_record"


def test_stills_are_no_tanks(books: Books) -> None:
    books.vessel("SS", "spirit_still")
    assert {of for _, of in books.figures(FERMENTATION_PROVIDER)} == {""}


def test_a_wash_unread_since_the_day_before_is_stale(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - 3 * DAY)
    books.gravity(wash, MORNING - 1 * DAY, 1.0650)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1")
    assert state(figure, WASH_ABV, books.now) is State.STALE


def falling(books: Books, hours_ago: float, gravities: list[float]) -> None:
    """A wash in T1 read every eight hours, the last reading so many hours ago."""
    begun = books.now - hours(hours_ago) - hours(8) * (len(gravities) - 1)
    wash = books.wash("W-1", "T1", begun)
    for n, gravity in enumerate(gravities):
        books.gravity(wash, begun + hours(8) * n, gravity)


def test_the_end_is_told_in_hours_from_now_with_its_interval(books: Books) -> None:
    # A steady fall of 0.009 in eight hours has 0.016 to go to 0.9988, where 0.2 °Bx is left: 14.2 h.
    falling(books, 2, [1.0600, 1.0510, 1.0420, 1.0330, 1.0240, 1.0150])
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1")
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low <= 12.2 <= figure.high
    later = books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1", now=books.now + hours(1))
    assert later.value == pytest.approx(figure.value - 1)  # type: ignore[operator]
    assert later.as_of == figure.as_of == books.now - hours(2)


def test_a_wash_that_a_reading_showed_done_rests_since_then(books: Books) -> None:
    falling(books, 2, [1.0600, 1.0300, 1.0100, 0.9980])
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1")
    assert figure.missing == RESTING
    assert books.now - hours(10) < figure.as_of <= books.now - hours(2)  # type: ignore[operator]


def test_an_end_that_should_have_come_and_was_not_seen_is_not_known(books: Books) -> None:
    falling(books, 90, [1.0600, 1.0510, 1.0420, 1.0330, 1.0240, 1.0150])
    assert books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1").missing == "overdue"


def test_too_few_readings_foretell_nothing(books: Books) -> None:
    falling(books, 2, [1.0600, 1.0500])
    assert books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1").missing == "too_few"


def test_tanks_at_work_and_their_wash_are_added_up(books: Books) -> None:
    books.wash("W-1", "T1", MORNING - hours(20))
    books.wash("W-2", "T2", MORNING)
    tanks, litres = (books.figure(FERMENTATION_PROVIDER, spec.name) for spec in (TANKS_AT_WORK, FERMENTING))
    assert (tanks.value, tanks.as_of) == (2, MORNING)
    assert litres.value == pytest.approx(3400)


def test_a_draw_without_a_volume_takes_no_litres_out_of_its_tank(books: Books) -> None:
    wash, run = books.wash("W-1", "T1", MORNING), books.run("WR-1", MORNING, kind="wash")
    books.draw(wash, run, 9)
    assert books.figure(FERMENTATION_PROVIDER, FERMENTING.name).value == 1700.0
    books.draw(wash, run, 9, volume_ml=100_000)
    assert books.figure(FERMENTATION_PROVIDER, FERMENTING.name).value == 1600.0


def test_when_no_tank_is_at_work_they_rest_and_count_no_zero(books: Books) -> None:
    books.wash("W-1", "T1", MORNING - 9 * DAY, MORNING - 4 * DAY)
    for spec in (TANKS_AT_WORK, FERMENTING):
        figure = books.figure(FERMENTATION_PROVIDER, spec.name)
        assert (figure.value, figure.missing, figure.as_of) == (None, RESTING, MORNING - 4 * DAY)


def test_as_of_an_earlier_moment_a_tank_emptied_since_was_still_at_work(books: Books) -> None:
    books.wash("W-1", "T1", MORNING - 3 * DAY, MORNING)
    assert books.figure(FERMENTATION_PROVIDER, TANKS_AT_WORK.name, now=MORNING - hours(1)).value == 1
    assert books.figure(FERMENTATION_PROVIDER, TANKS_AT_WORK.name).missing == RESTING


SECOND = timedelta(seconds=1)


def test_a_wash_set_this_moment_is_at_work_and_a_later_one_is_not(books: Books) -> None:
    books.wash("W-1", "T1", books.now)
    books.wash("W-2", "T2", books.now + SECOND)
    assert books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T1").value == 1
    assert books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T2").missing == "no_record"
    assert books.figure(FERMENTATION_PROVIDER, TANKS_AT_WORK.name).value == 1


def test_a_wash_that_ends_this_moment_rests_and_one_that_ends_later_does_not(books: Books) -> None:
    books.wash("W-1", "T1", MORNING, books.now)
    books.wash("W-2", "T2", MORNING, books.now + SECOND)
    ended, standing = (books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, tank) for tank in ("T1", "T2"))
    assert (ended.missing, ended.as_of) == (RESTING, books.now)
    assert (standing.value, standing.as_of, standing.basis) == (1, books.now, Basis.COUNTED)


def test_a_reading_of_this_moment_counts_and_a_later_one_does_not(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    for at, gravity in ((MORNING, 1.0650), (books.now, 1.0600), (books.now + SECOND, 1.0300)):
        books.gravity(wash, at, gravity)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1")
    assert figure.as_of == books.now
    assert 0.0 < figure.value < 1.0  # type: ignore[operator]
    assert books.figure(FERMENTATION_PROVIDER, FERMENTING.name).as_of == books.now


def test_alcohol_rests_on_the_first_and_the_latest_reading_and_the_end_on_the_last_five(books: Books) -> None:
    falling(books, 2, [1.0600, 1.0510, 1.0420, 1.0330, 1.0240, 1.0150])
    abv, end = (books.figure(FERMENTATION_PROVIDER, spec.name, "T1") for spec in (WASH_ABV, WASH_ENDS))
    assert abv.rests_on == ("wash_reading:1", "wash_reading:6")
    assert end.rests_on == tuple(f"wash_reading:{n}" for n in range(2, 7))


def test_alcohol_of_one_reading_rests_on_it_alone(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0650)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ABV.name, "T1")
    assert (figure.rests_on, figure.basis) == (("wash_reading:1",), Basis.ESTIMATED)


def test_of_two_washes_left_open_in_a_tank_the_one_set_last_is_in_it(books: Books) -> None:
    later = books.wash("W-2", "T1", MORNING)
    books.wash("W-1", "T1", MORNING - 5 * DAY)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_DAY.name, "T1")
    assert (figure.value, figure.rests_on) == (1, (f"wash:{later}",))


def test_an_end_that_is_near_may_have_come_already_but_not_in_the_past(books: Books) -> None:
    gravities = [1.0600, 1.0505, 1.0425, 1.0325, 1.0245, 1.0150]
    falling(books, 2, gravities)
    first = books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1")
    assert 0.0 < first.low < first.value < first.high  # type: ignore[operator]
    near = books.now + hours((first.low + first.value) / 2)  # type: ignore[operator]
    figure = books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1", now=near)
    assert figure.low == 0.0 < figure.value  # type: ignore[operator]
    past = books.now + hours(first.value)  # type: ignore[arg-type]
    assert books.figure(FERMENTATION_PROVIDER, WASH_ENDS.name, "T1", now=past).missing == "overdue"


def test_what_ferments_is_as_of_its_newest_record_and_rests_on_its_washes(books: Books) -> None:
    first, second = books.wash("W-1", "T1", MORNING - DAY), books.wash("W-2", "T2", MORNING)
    books.gravity(first, MORNING + hours(1), 1.0300)
    for spec, basis in ((TANKS_AT_WORK, Basis.COUNTED), (FERMENTING, Basis.MEASURED)):
        figure = books.figure(FERMENTATION_PROVIDER, spec.name)
        assert (figure.as_of, figure.basis) == (MORNING + hours(1), basis)
        assert set(figure.rests_on) == {f"wash:{first}", f"wash:{second}"}


def test_the_gravity_of_a_tank_is_its_latest_reading_or_not_known(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - DAY)
    assert books.figure(FERMENTATION_PROVIDER, WASH_GRAVITY.name, "T1").missing == "no_reading"
    books.gravity(wash, MORNING - DAY, 1.0650)
    books.gravity(wash, MORNING, 1.0321)
    figure = books.figure(FERMENTATION_PROVIDER, WASH_GRAVITY.name, "T1")
    assert (figure.value, figure.as_of, figure.basis) == (pytest.approx(1.0321), MORNING, Basis.MEASURED)
