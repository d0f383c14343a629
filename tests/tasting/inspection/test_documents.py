"""The report of an inspection, section by section, in both languages, on paper and as a table."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pypdfium2
import pytest

from kiosk.paper.sheet import Paper
from kiosk.tasting.inspection.documents import Report, pours_csv, report, report_pdf
from kiosk.tasting.inspection.records import read_inspection
from kiosk.tasting.inspection.rules_text import ReportText
from kiosk.words.catalogs import Words, load_words
from tests.tasting.inspected import FIRST, LAST, two_days

EN, ES = (load_words(Path("locales"), code, locale) for code, locale in (("en", "en_US"), ("es", "es_PR")))


@pytest.fixture
def tasting(sqlite_store, tmp_path, now):
    """Two days with everything."""
    return two_days(sqlite_store, tmp_path, now)


def told(tasting, words: Words = EN, last=LAST) -> Report:
    with tasting.store.read() as session:
        found = read_inspection(session, tasting.site, FIRST, last)
    return report(found, tasting.site, words, "Ana", tasting.now)


def rows(found: Report, title: str, n: int = 0) -> list[tuple[str, ...]]:
    section = [one for one in found.sections if one.title == title][n]
    return [tuple(re.sub(r"\s", " ", cell) for cell in row) for row in section.rows]


def test_each_version_of_the_rules_stands_whole_with_who_confirmed_it(tasting) -> None:
    found = told(tasting)
    first, second = [one for one in found.sections if one.title == "Rules in force"]
    assert "June 15, 2026" in first.note
    assert "confirmed by Ana" in second.note
    assert ("1.50 fl oz of spirit in a service day.", "–") in [
        (text, year) for text, _, year in rows(found, "Rules in force")
    ]
    assert ("6 pours in a service day.", "invented for a test", "2026") in rows(found, "Rules in force", 1)
    assert ("Guests are 21 or older.", "invented for a test", "2027") in rows(found, "Rules in force", 1)


def test_a_managers_word_stands_with_its_room_and_why(tasting) -> None:
    ((when, room, rule, why),) = rows(told(tasting), "Tighter limits for a day, set by a manager")
    assert (room, rule, why) == ("Terrace", "2 pours in a service day.", "a hot day (Ana)")
    assert when.startswith("June 17,")


def test_who_was_on_duty_with_permits(tasting) -> None:
    assert rows(told(tasting), "On duty, and their permits") == [
        ("Ana", "2", "0", "1", "0", "–"),
        ("Bea", "1", "0", "0", "0", "serving no. SP-20, June 16, 2026 to January 1, 2027"),
    ]


def test_counts_by_day_product_hour_and_guest_number_are_of_the_same_pours(tasting) -> None:
    """0.25 fl oz at 40 % and 0.5 fl oz at 42 %: 0.1667 and 0.35 of a US drink of 0.6 fl oz, rounded up."""
    found = told(tasting)
    assert rows(found, "By day") == [
        ("June 16", "1", "2", "0.75 fl oz (22 mL)", "0.6", "0", "1"),
        ("June 17", "1", "1", "0.25 fl oz (7 mL)", "0.2", "1", "0"),
    ]
    assert rows(found, "By product") == [
        ("Anejo", "1", "0.50 fl oz (15 mL)", "0.4"),
        ("Blanco", "2", "0.50 fl oz (15 mL)", "0.4"),
    ]
    assert [row[:2] for row in rows(found, "By hour, all days together")] == [
        ("10:00", "1"),
        ("11:00", "1"),
        ("12:00", "1"),
    ]
    assert rows(found, "By guest number") == [
        ("June 16", "1", "2", "0.75 fl oz (22 mL)", "0.6", "11:00 AM – 12:00 PM"),
        ("June 17", "2", "1", "0.25 fl oz (7 mL)", "0.2", "10:00 AM"),
    ]


def test_checks_refusals_flags_and_ends_of_service_with_what_was_done(tasting) -> None:
    found = told(tasting)
    checks = [(row[1], row[2], row[3]) for row in rows(found, "Age checks")]
    assert checks == [("1", "ID checked", "Ana"), ("3", "under age", "Bea")]
    ((_when, guest, asked, why, by),) = rows(found, "Refused")
    assert (guest, asked, by) == ("2", "Blanco, 0.25 fl oz", "Ana")
    assert why == "Age not checked yet: check the ID first."
    ((_when, guest, what, why, done),) = rows(found, "Rule breaches")
    assert (guest, what) == ("2", "Blanco, 0.25 fl oz, Ana")
    assert "Age not checked yet" in why
    assert done == "entered late; moved to guest 2; service stopped at 10:05 AM by Ana"
    assert [row[1:] for row in rows(found, "Service stopped and resumed")] == [
        ("2", "service stopped", "Ana")
    ]


def test_every_correction_of_a_pour_stands_in_the_report(tasting) -> None:
    ((when, *moved),) = rows(told(tasting), "Corrections")
    assert when.startswith("June 17,")
    assert moved == ["1", "Blanco, 0.25 fl oz: moved to guest 2", "Entered twice", "Ana"]


def test_closings_and_approvals(tasting) -> None:
    found = told(tasting)
    assert [row[:3] for row in rows(found, "Shifts closed")] == [
        ("June 16", "Main", "1"),
        ("June 17", "Main", "1"),
    ]
    assert {row[1] for row in rows(found, "Approved pours")} == {"Blanco", "Anejo", "Jengibre"}


def test_a_day_without_anything_says_so(tasting) -> None:
    found = told(tasting)
    empty = replace(found, sections=[replace(one, items=(), note="") for one in found.sections])
    assert "Nothing in these days." in pages(report_pdf(empty, tasting.site, EN, Paper.A4))[0]


def pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


@pytest.mark.parametrize(
    ("words", "title", "page", "rule"),
    [
        (EN, "Record of service", "Page 1 of", "Guests are 21 or older."),
        (ES, "Registro de servicio", "Página 1 de", "21"),
    ],
)
def test_on_paper_every_section_stands_in_the_readers_language(tasting, words, title, page, rule) -> None:
    found = told(tasting, words)
    pdf = report_pdf(found, tasting.site, words, Paper.LETTER)
    said = pages(pdf)
    assert title.upper() in said[0]
    assert page in said[0]
    assert rule in said[0]
    together = re.sub(r"\s+", " ", " ".join(said))
    assert ("Spirit" in together) == (words is EN)
    assert ("0.75 fl oz (22 mL)" in re.sub(r"\s", " ", together)) == (words is EN)
    assert [one.title for one in found.sections if one.title.lower() not in together.lower()] == []
    assert pdf == report_pdf(found, tasting.site, words, Paper.LETTER)


def table(tasting) -> list[list[str]]:
    with tasting.store.read() as session:
        found = read_inspection(session, tasting.site, FIRST, LAST)
    return list(csv.reader(StringIO(pours_csv(ReportText(found, tasting.site, EN)), newline="")))


def test_the_table_has_a_line_for_each_serving_of_the_report(tasting) -> None:
    head, *lines = table(tasting)
    assert head[:8] == ["Day", "Time", "Room", "Guest", "Product", "fl oz", "mL", "% vol"]
    assert [line[3:9] for line in lines] == [
        ["1", "Blanco", "0.25", "7.393", "40.0", "0.2"],
        ["1", "Anejo", "0.5", "14.786", "42.0", "0.4"],
        ["2", "Blanco", "0.25", "7.393", "40.0", "0.2"],
    ]
    assert lines[2][9] == "yes"
    assert len({line[12] for line in lines}) == 2, "each carries the version of its rules"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_of_the_table_is_a_formula(tasting, start: str) -> None:
    blanco = tasting.site.products["blanco"]
    named = replace(blanco, names={"en": f"{start}cmd|' /c calc'!A0"})
    tasting.site = replace(tasting.site, products={**tasting.site.products, "blanco": named})
    cells = [cell for line in table(tasting) for cell in line]
    assert f"'{start}cmd|' /c calc'!A0" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r"))]
