"""A house's records, from an empty folder: in by file, form and instrument, put right, and seen by guests."""

from __future__ import annotations

import re

from tests.production.folder import FILES
from tests.stories.house import PIN, House, Page, Screen, kiosk

READING = re.compile(r"/staff/records/wash_readings/\d+")


def a_new_site_passes_its_check(house: House) -> None:
    checked = kiosk("check", "--site", str(house.folder))
    assert checked.returncode == 0, checked.stdout + checked.stderr


def every_page_that_the_first_pages_link_to_opens_on_an_empty_site(manager: Screen) -> None:
    first = ("/staff/", "/en/", "/es/")
    linked = {link for path in first for link in manager.get(path).links if "/look/" not in link}
    linked |= {
        link for path in sorted(linked) if path.startswith("/staff/") for link in manager.get(path).links
    }
    asked = [link for link in sorted(linked) if not re.search(r"sign-|/look/|/language/", link)]
    assert len(asked) > 25
    opened = {link: manager.get(link) for link in asked}
    assert {link: page.status for link, page in opened.items() if page.status != 200} == {}
    assert [link for link, page in opened.items() if page.path.startswith("/staff/sign-in")] == []


def the_manual_is_read_in_both_languages(manager: Screen) -> None:
    for language in ("en", "es"):
        read_the_manual(manager, language)


def read_the_manual(manager: Screen, language: str) -> None:
    manager.get(f"/language/{language}")
    try:
        pages = [link for link in manager.get("/staff/manual").links if link.startswith("/staff/manual/")]
        assert len(pages) >= 6
        headings = {manager.get(link).words[:80] for link in pages}
        assert len(headings) == len(pages)
    finally:
        manager.get("/language/en")


def _readings(manager: Screen) -> list[str]:
    """Return the addresses of the wash readings on the page of the records, the newest first."""
    return [link for link in manager.get("/staff/records/").links if READING.fullmatch(link)]


def _previewed(manager: Screen, files: dict[str, str]) -> Page:
    return manager.upload(manager.get("/staff/records/import"), files)


def files_are_shown_before_they_are_recorded_and_change_nothing_the_second_time(manager: Screen) -> None:
    wrong = {**FILES, "loads.csv": FILES["loads.csv"].replace("3000", "three tonnes")}
    refused = _previewed(manager, wrong)
    assert "loads.csv" in refused.words
    assert "three tonnes" in refused.words
    assert _readings(manager) == []
    preview = _previewed(manager, FILES)
    assert preview.status == 200, preview.words
    assert _readings(manager) == []
    recorded = manager.submit(preview)
    assert recorded.status == 200, recorded.words
    assert len(_readings(manager)) == FILES["wash_readings.csv"].count("\n") - 1
    again = _previewed(manager, FILES)
    assert again.status == 200
    assert len(_readings(manager)) == FILES["wash_readings.csv"].count("\n") - 1


def a_form_names_the_field_keeps_what_was_typed_and_records_what_is_right(manager: Screen) -> None:
    form = manager.get("/staff/records/new/wash-reading")
    assert form.status == 200
    wash = next(name for name in form.form().fields if name in ("wash", "code"))
    typed = {
        wash: "W-1",
        "at": "2026-06-03T10:00",
        "kind": "gravity",
        "value": "heavy",
        "temperature_c": "40",  # within its range in either unit
    }
    wrong = manager.submit(form, **typed)
    assert 'value="heavy"' in wrong.body.decode()
    before = _readings(manager)
    right = manager.submit(wrong, **{**typed, "value": "1.0210"})
    assert right.path.startswith("/staff/records/"), right.words
    assert len(_readings(manager)) == len(before) + 1


def an_instrument_sends_once_and_what_it_sent_is_corrected_and_voided(manager: Screen) -> None:
    page = manager.get("/staff/readings/instruments")
    given = manager.submit(page, name="probe 1", vessel="T1")
    (token,) = re.findall(r"<code>([A-Za-z0-9_-]{20,})</code>", given.body.decode())
    reading = {"id": "probe-1:1", "kind": "wash", "vessel": "T1", "at": "2026-06-04T10:00:00Z"}
    reading |= {"measure": "gravity", "value": 1.0050, "temperature_c": 30}
    stranger = Screen(manager.base)
    assert stranger.send_json("/staff/readings", token, reading)[0] == 201
    assert stranger.send_json("/staff/readings", token, reading)[0] == 200
    assert stranger.send_json("/staff/readings", token, {**reading, "value": 1.0070})[0] == 409
    assert stranger.send_json("/staff/readings", "no-such-token", reading)[0] == 401
    newest = _readings(manager)[0]
    refused = manager.submit(manager.get(newest), value="1.0040", why="")
    assert refused.path == newest
    manager.submit(refused, value="1.0040", why="read again")
    assert "read again" in manager.get(newest).words
    (void,) = [link for link in manager.get(newest).links if link.startswith(f"{newest}/")]
    assert manager.submit(manager.get(void), why="the probe was in air").status == 200
    assert "the probe was in air" in manager.get(newest).words


def guests_read_the_house_s_own_casks_in_their_language(house: House, manager: Screen) -> None:
    for language, words in (("en", "1 cask"), ("es", "1 barril")):
        page = Screen(house.base).get(f"/{language}/stops/cask-store")
        assert page.status == 200
        assert words in page.words
    assert manager.get("/staff/stops/cask-store").status == 200


NAMES = {
    ("experiment", "blanco"): ("First Trial", "Primer ensayo"),  # the new site lists no product yet
    ("variety", "striped"): ("Ribbon Cane", "Caña rayada"),
}


def what_staff_name_is_called_so_in_both_languages(manager: Screen) -> None:
    for (kind, code), (english, spanish) in NAMES.items():
        page = manager.get("/staff/records/names")
        assert code in page.words
        typed = {"kind": kind, "code": code, "revision": "0", "name-es": spanish}
        refused = manager.submit(page, **typed, name="")
        assert (refused.status, f'value="{spanish}"' in refused.body.decode()) == (422, True)
        assert manager.submit(refused, **typed, name=english).status == 200
    for language, n in (("en", 0), ("es", 1)):
        manager.get(f"/language/{language}")
        named = {
            f"/{language}/bottles/BL-1": NAMES["experiment", "blanco"][n],
            "/staff/bottles-behind/BL-1": NAMES["variety", "striped"][n],
            "/staff/bottles": ("Main Room", "Sala principal")[n],
        }
        for path, name in named.items():
            page = manager.get(path)
            assert name in page.words, (path, page.words)
            assert re.findall(r"(?<![\w-])(?:blanco|striped|main)(?![\w-])", page.words) == [], path
    manager.get("/language/en")


def a_device_that_was_never_enrolled_sees_no_staff_page(house: House) -> None:
    stranger = Screen(house.base)
    assert stranger.get("/staff/records/").status == 404
    assert PIN not in stranger.get("/staff/enrol").words


def test_a_house_records_from_an_empty_folder(house: House, manager: Screen) -> None:
    a_new_site_passes_its_check(house)
    every_page_that_the_first_pages_link_to_opens_on_an_empty_site(manager)
    the_manual_is_read_in_both_languages(manager)
    files_are_shown_before_they_are_recorded_and_change_nothing_the_second_time(manager)
    a_form_names_the_field_keeps_what_was_typed_and_records_what_is_right(manager)
    an_instrument_sends_once_and_what_it_sent_is_corrected_and_voided(manager)
    guests_read_the_house_s_own_casks_in_their_language(house, manager)
    what_staff_name_is_called_so_in_both_languages(manager)
    a_device_that_was_never_enrolled_sees_no_staff_page(house)
