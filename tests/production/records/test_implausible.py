"""What can hardly be true of a row: that row waits for a person, and all others go in."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import func, select

from kiosk.production.records.faults import FaultCode as F
from kiosk.production.records.recording import ImportReport
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from kiosk.words.record_faults import fault_sentence
from tests.production.faults_and_values import ENGLISH

Take = Callable[..., ImportReport]

GAUGE = "F-1,2026-06-12 10:00,weight,,,187.5,density_meter,60,28\n"
AFTER = "F-1,2026-06-14 10:00,dip,156,20,,density_meter,60,28\n"
LATER = AFTER.replace("06-14", "06-15")
SAMPLE = "F-1,2026-06-13 10:00,sample,0.5,20,density_meter,60,28,\n"
DOUBTS = [
    ("gauges.csv", "dip,160,20", "dip,240,20", 2, "volume_l", "240", F.OVERFULL),
    ("gauges.csv", "meter,60,28\nF", "meter,120,28\nF", 2, "reading", "120", F.ABOVE_PURE),
    (
        "loads.csv",
        "2026-06-01 08:00",
        "2026-06-16 11:06",
        2,
        "milled_at",
        "2026-06-16 11:06",
        F.IN_FUTURE,
    ),
    ("loads.csv", "L-1,2026-06-01", "L-1,2026-06-17", 2, "cut_on", "2026-06-17", F.IN_FUTURE),
    # 102 L of alcohol, a sample of 0.3 L between, after 94.16 L (142.5 kg of 60 % vol by OIML R 22).
    ("gauges.csv", GAUGE, GAUGE + AFTER.replace("156", "170"), 4, "reading", "8.14", F.GAIN),
    # The gauge before was read low: it alone is to blame, and its neighbours pass.
    (
        "gauges.csv",
        GAUGE,
        GAUGE.replace("187.5", "150") + AFTER + LATER,
        3,
        "reading",
        "24.52",
        F.GAIN,
    ),
    ("cask_events.csv", SAMPLE, SAMPLE.replace("0.5", "199"), 2, "volume_l", "25.24", F.GAIN),
    ("run_readings.csv", "tails,256,", "tails,1256,", 5, "collected_l", "504.95", F.MORE_THAN_WASH),
    ("run_readings.csv", "hearts,6,", "hearts,600,", 3, "collected_l", "156", F.NOT_RISING),
    ("draws.csv", ",289,,1700", ",320,,1700", 3, "sugar_kg", "320", F.OVER_SUGAR),
    ("draws.csv", ",148,1700", ",175,1700", 4, "alcohol_l", "175", F.OVER_ESTIMATE),
    (
        "draws.csv",
        ",143.1,530\nreceiver",
        ",160,530\nreceiver",
        5,
        "alcohol_l",
        "160",
        F.OVER_ESTIMATE,
    ),
    ("draws.csv", ",,,96,160", ",,,99,160", 11, "alcohol_l", "110.5", F.OVER),
    ("lots.csv", ",37,", ",370,", 2, "bottles", "111", F.MORE_BOTTLES),
]


@pytest.mark.parametrize(("file", "old", "new", "row", "column", "found", "code"), DOUBTS)
def test_a_row_that_can_hardly_be_true_waits_with_its_reason(
    take_sqlite: Take,
    sqlite_store: Store,
    file: str,
    old: str,
    new: str,
    row: int,
    column: str,
    found: str,
    code: F,
) -> None:
    report = take_sqlite((file, old, new))
    told = {(r.file, r.row, r.column, r.found): r.code for held in report.held for r in held.reasons}
    assert told[file, row, column, found] is code
    with sqlite_store.read() as session:
        for held in report.held:
            rows = session.scalar(select(func.count()).select_from(held.kind.table))
            assert rows == report.files[held.kind.file].new
        assert session.scalar(select(func.count()).select_from(t.held)) == len(report.held)
    assert report.written > 20


def test_the_one_row_to_blame_waits_and_its_neighbours_pass(take_sqlite: Take) -> None:
    low = ("gauges.csv", GAUGE, GAUGE.replace("187.5", "150") + AFTER + LATER)
    assert [(one.row.file, one.row.row) for one in take_sqlite(low).held] == [("gauges.csv", 3)]


def test_a_cask_that_gains_within_the_gauges_passes(take_sqlite: Take) -> None:
    gained = AFTER.replace("156", "158.5")
    assert not take_sqlite(("gauges.csv", GAUGE, GAUGE + gained)).held


def test_what_a_batch_held_is_said_to_a_tenth(take_sqlite: Take) -> None:
    """1700 L of 16 °Bx weigh 1.0654 x 0.9982 kg/L (sugar tables), and 96 L went into the cask."""
    report = take_sqlite(
        ("draws.csv", ",289,,1700", ",320,,1700"),
        (
            "draws.csv",
            "receiver,SR-1-HT,lot",
            "fill,F-1,lot,BL-1,2026-06-10 08:00,,,100,\nreceiver,SR-1-HT,lot",
        ),
        ("lots.csv", ",37,", ",370,"),
    )
    held = {
        (one.column, one.more["held"]) for row in report.held for one in row.reasons if "held" in one.more
    }
    assert {("sugar_kg", 289.3), ("alcohol_l", 96.0)} <= held


@pytest.mark.parametrize("kept", ["10", "10.0 L"], ids=["a number", "as earlier versions kept it"])
def test_an_amount_stands_in_the_units_of_the_site(kept: str) -> None:
    """A proof gallon is a US gallon, 3.785 L, half of it alcohol (27 CFR 5.1): 10 L are 5.3."""
    facts = {"found": kept, "held": 9.0, "batch": "SR-1"}
    metric, us = (fault_sentence(F.OVER, facts, ENGLISH, units) for units in ("metric", "us"))
    assert metric.startswith("10\xa0L of pure alcohol are drawn out of SR-1, which held 9\xa0L")
    assert us.startswith("5.3\xa0proof gallons (10\xa0L of pure alcohol) are drawn")
