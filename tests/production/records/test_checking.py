"""What no single line shows: more out than in, loops, casks filled twice."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.production.records.recording import ImportReport

Take = Callable[..., ImportReport]


def test_a_gauge_outside_the_time_of_its_fill_is_a_fault_in_its_row(take_sqlite: Take) -> None:
    with pytest.raises(RecordFaults) as caught:
        take_sqlite(("gauges.csv", "2026-06-08 10:00", "2026-06-07 10:00"))
    (fault,) = caught.value.faults
    assert fault.code is FaultCode.OUTSIDE_FILL
    assert (fault.file, fault.row, fault.column, fault.found) == ("gauges.csv", 2, "at", "2026-06-07 10:00")


def test_a_cask_is_retired_after_it_was_emptied_and_leaks_no_more(take_sqlite: Take) -> None:
    emptied = ("fills.csv", "08 10:00,\n", "08 10:00,2026-06-14 10:00\n")
    sample = "F-1,2026-06-13 10:00,sample,0.5,20,density_meter,60,28,\n"
    retired = f"{sample}F-1,2026-06-15 10:00,retired,,,,,,\n"
    assert take_sqlite(emptied, ("cask_events.csv", sample, retired)).written
    with pytest.raises(RecordFaults, match=str(FaultCode.OUTSIDE_FILL)):
        take_sqlite(emptied, ("cask_events.csv", sample, retired.replace("retired", "leak")))


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("draws.csv", ",289,,1700", ",294,,1700"),  # two honest weighings
        ("draws.csv", ",148,1700", ",158,1700"),  # alcohol worked out from two gravities
        ("draws.csv", ",,,96,160", ",,,97,160"),
        ("gauges.csv", "dip,160,20", "dip,203,20"),
    ],
)
def test_two_honest_measurements_may_differ_a_little(
    take_sqlite: Take, file: str, old: str, new: str
) -> None:
    assert take_sqlite((file, old, new)).written


def test_a_cask_may_be_filled_again_once_it_was_emptied(take_sqlite: Take) -> None:
    again = "08 10:00,2026-06-14 10:00\nF-2,C-1,BAJA,2026-06-15 10:00,\n"
    assert take_sqlite(("fills.csv", "08 10:00,\n", again)).files["fills.csv"].new == 2


def test_a_draw_that_comes_back_into_itself_is_a_loop(take_sqlite: Take) -> None:
    back = "receiver,SR-1-TL,run,WR-1,2026-06-05 07:00,,,1,\nreceiver,SR-1-HT,fill"
    with pytest.raises(RecordFaults) as caught:
        take_sqlite(("draws.csv", "receiver,SR-1-HT,fill", back))
    loops = [fault for fault in caught.value.faults if fault.code is FaultCode.LOOP]
    assert ("draws.csv", 10, "to") in {(fault.file, fault.row, fault.column) for fault in loops}


def test_nothing_is_drawn_into_a_batch_after_something_was_drawn_out_of_it(take_sqlite: Take) -> None:
    late = "2026-06-08 10:30,,,25,100"
    with pytest.raises(RecordFaults) as caught:
        take_sqlite(
            ("draws.csv", "2026-06-06 14:20,,,108,150", "2026-06-09 14:20,,,108,150"),
            ("draws.csv", "2026-06-06 14:20,,,25,100", late),
        )
    assert [(f.row, f.column, f.found) for f in caught.value.faults] == [(8, "at", "SR-1-HT")]


def test_a_cask_is_not_filled_twice_at_once(take_sqlite: Take) -> None:
    with pytest.raises(RecordFaults) as caught:
        take_sqlite(("fills.csv", "08 10:00,\n", "08 10:00,\nF-2,C-1,BAJA,2026-06-09 10:00,\n"))
    (fault,) = caught.value.faults
    assert (fault.file, fault.row, fault.column, fault.found) == ("fills.csv", 3, "cask", "C-1")
