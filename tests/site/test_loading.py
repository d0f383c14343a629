from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest

from kiosk.site.check import rooms_without_names
from kiosk.site.faults import MISSING, SiteFaults
from kiosk.site.loading import load_site
from kiosk.site.policy import HOURS, LIMIT, SERVICE
from kiosk.site.products import PRODUCT
from kiosk.site.settings import Units
from kiosk.site.site_toml import COLOURS, LANGUAGE, MEASURE, OPENING, ROOM, ROUTE, SITE

Break = Callable[..., list[str]]


def test_the_demo_site_is_right(folder: Path) -> None:
    site = load_site(folder)
    assert (site.name, site.key, site.units, site.currency) == ("Loma Candil", "loma-candil", Units.US, "USD")
    assert [(language.code, language.locale) for language in site.languages] == [
        ("en", "en_US"),
        ("es", "es_PR"),
    ]
    assert [stop.slug for stop in site.route] == ["still-house", "cask-store", "tasting-room"]
    assert site.day_starts == time(5)
    assert site.rooms == ("mirador",)
    assert site.public_address == "https://visit.loma-candil.example"
    assert "visit.loma-candil.example" in site.trusted_hosts
    assert site.staff_over_http
    assert len(site.secret) == 32
    assert repr(site.secret) not in repr(site)


def test_the_house_measures_are_whole_microlitres_rounded_down(folder: Path) -> None:
    """0.25 and 0.5 US fl oz of 29.5735295625 mL are 7393.38 and 14786.76 µL."""
    assert [(m.id, m.volume_ul) for m in load_site(folder).measures] == [
        ("quarter-ounce", 7393),
        ("half-ounce", 14786),
        ("eighth-ounce", 3696),
    ]


def test_the_service_day_turns_at_five_on_the_sites_own_clock(folder: Path) -> None:
    """Etc/GMT+4 is four hours behind UTC: 08:59 UTC is 04:59 there, still the day before."""
    site = load_site(folder)
    assert site.service_day(datetime(2026, 6, 16, 8, 59, tzinfo=UTC)) == date(2026, 6, 15)
    assert site.service_day(datetime(2026, 6, 16, 9, 0, tzinfo=UTC)) == date(2026, 6, 16)
    start, end = site.day_bounds(date(2026, 6, 16))
    assert (start, end) == (datetime(2026, 6, 16, 9, tzinfo=UTC), datetime(2026, 6, 17, 9, tzinfo=UTC))


def test_the_database_is_the_one_given_then_the_environments_then_the_files_then_sqlite(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert load_site(folder).database == f"sqlite:///{folder.resolve() / 'kiosk.sqlite'}"
    settings = folder / "site.toml"
    written = settings.read_text(encoding="utf-8")
    settings.write_text('database = "postgresql://localhost/visits"\n' + written, encoding="utf-8")
    assert load_site(folder).database == "postgresql://localhost/visits"
    monkeypatch.setenv("KIOSK_DATABASE", "sqlite:////elsewhere.sqlite")
    assert load_site(folder).database == "sqlite:////elsewhere.sqlite"
    assert load_site(folder, database="sqlite://").database == "sqlite://"


@pytest.mark.parametrize(
    ("old", "new", "key", "found", "allowed"),
    [
        ('name = "Loma Candil"', 'name = ""', "name", '""', "the name that guests read"),
        ('key = "loma-candil"', 'key = "Loma Candil"', "key", '"Loma Candil"', "lower case letters"),
        ('"Etc/GMT+4"', '"Mars/Olympus"', "time_zone", '"Mars/Olympus"', "a time zone such as"),
        ("day_starts = 05:00:00", 'day_starts = "five"', "day_starts", '"five"', "a time of day"),
        ('currency = "USD"', 'currency = "USX"', "currency", '"USX"', "a currency's code"),
        ('units = "us"', 'units = "imperial"', "units", '"imperial"', "metric, us"),
        ('standard_drink = "US"', 'standard_drink = "XX"', "standard_drink", '"XX"', "US, GB"),
        (
            '"https://visit.loma-candil.example"\n',
            '"visit.example"\n',
            "public_address",
            '"visit.example"',
            "https://",
        ),
        (
            '"https://visit.loma-candil.example"\n',
            '"https://visit.example/"\n',
            "public_address",
            '"https://visit.example/"',
            "without a slash at the end",
        ),
        ('= "separate network"', "= true", "staff_over_http", "true", '"separate network"'),
        ("retention_days = 30", "retention_days = 0", "retention_days", "0", "from 1 to 365"),
        ('id = "mirador"', 'id = "El Mirador"', "rooms[1].id", '"El Mirador"', "lower case letters"),
        (
            'names = { en = "Lookout Room", es = "El',
            'names = { en = "", es = "El',
            "rooms[1].names",
            "{en",
            "each of",
        ),
        ('["cacao", "pina"', '["cacao", "rum"', "formula_for", '"rum"', "a kind of approval: bottled"),
        ('locale = "es_PR"', 'locale = "es_XX"', "languages[2].locale", '"es_XX"', "a locale such as"),
        (
            'locale = "es_PR"',
            'locale = "en_GB"',
            "languages[2].locale",
            '"en_GB"',
            "a locale of the language es",
        ),
        ('code = "es"', 'code = "en"', "languages[2].code", '"en"', "each only once"),
        (
            'code = "es"\nlocale = "es_PR"',
            'code = "fr"\nlocale = "fr_FR"',
            "languages[2].code",
            '"fr"',
            "with a catalog",
        ),
        ('accent = "#471340"', 'accent = "green"', "colours.accent", '"green"', "such as #471340"),
        ('accent = "#471340"', 'accent = "#a9cf8d"', "colours.accent", '"#a9cf8d"', "such as #416129"),
        ('_dark = "#dba9ce"', '_dark = "#24512f"', "colours.accent_dark", '"#24512f"', "such as #459b5a"),
        ('volume = "0.5 fl oz"', 'volume = "a dram"', "measures[2].volume", '"a dram"', "a volume such as"),
        ('id = "half-ounce"', 'id = "quarter-ounce"', "measures[2].id", '"quarter-ounce"', "each only once"),
        ("minutes = 12", 'minutes = "12"', "route[2].minutes", '"12"', "from 1 to 240"),
        ('stop = "cask-store"', 'stop = "still-house"', "route[2].stop", '"still-house"', "each only once"),
        ("holds = 22", "holds = 0", "route[3].holds", "0", "from 1 to 500"),
        ("units =", "unit =", "unit", '"us"', "only these keys: name, key,"),
        (
            "holds = 22",
            "holds = 22\nseats = true",
            "route[3].seats",
            "true",
            "only these keys: stop, minutes,",
        ),
        (
            "[label_lines]\nen = [",
            "[label_lines]\nfr = [",
            "label_lines.fr",
            "[",
            "each of the site's languages",
        ),
        ("guest_age = 21", "guest_age = 12", "service.guest_age", "12", "from 18 to 30"),
        ("most = 9", "most = 0", "service.limit[3].most", "0", "a whole number of pours"),
        ('most = "1.5 fl oz"', "most = 1.5", "service.limit[2].most", "1.5", "a volume such as"),
        ('most = "1.5 drinks"', 'most = "1.5"', "service.limit[4].most", '"1.5"', "standard drinks such as"),
        (
            'rooms = ["mirador"]\n\n[[service',
            'rooms = ["bar"]\n\n[[service',
            "service.rooms",
            '"bar"',
            "rooms of this site",
        ),
    ],
)
def test_a_wrong_setting_is_told_with_file_line_key_and_what_is_allowed(
    broken: Break, folder: Path, old: str, new: str, key: str, found: str, allowed: str
) -> None:
    told = next((sentence for sentence in broken("site.toml", old, new) if f" {key}: found " in sentence), "")
    match = re.match(r"site\.toml, line (\d+): ", told)
    assert match, told
    line = (folder / "site.toml").read_text(encoding="utf-8").splitlines()[int(match.group(1)) - 1]
    assert line.strip().startswith(key.rpartition(".")[2].partition("[")[0]), (told, line)
    assert f"found {found}" in told
    assert allowed in told.partition("Allowed: ")[2]


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('name = "Loma Candil"\n', "name"),
        ('key = "loma-candil"                  # short, and never changed afterwards\n', "key"),
        ("holds = 22\n", "route[3].holds"),
        ("guest_age = 21\n", "service.guest_age"),
        ('most = "0.5 fl oz"\n', "service.limit[1].most"),
    ],
)
def test_a_missing_setting_is_told_with_what_is_needed(broken: Break, line: str, key: str) -> None:
    told = broken("site.toml", line, "")
    assert any(f"{key} is missing. Needed: " in sentence for sentence in told), told


def test_optional_settings_have_their_defaults(broken: Break, folder: Path) -> None:
    assert not broken("site.toml", "day_starts = 05:00:00", "")
    assert not broken("site.toml", "retention_days = 30", "")
    assert not broken("site.toml", "walk_minutes = 4\n", "")
    assert not broken("site.toml", 'staff_over_http = "separate network"', "")
    assert not broken("site.toml", 'public_address = "https://visit.loma-candil.example"', "")
    site = load_site(folder)
    assert (site.day_starts, site.retention_days, site.route[0].walk_minutes) == (time(5), 30, 0)
    assert not site.staff_over_http
    assert site.public_address is None


def test_rooms_may_be_a_list_of_ids_and_are_then_called_by_them(broken: Break, folder: Path) -> None:
    named = '[[rooms]]\nid = "mirador"\nnames = { en = "Lookout Room", es = "El Mirador" }\n'
    assert load_site(folder).room_name("mirador", "es") == "El Mirador"
    assert not rooms_without_names(folder)
    broken("site.toml", named, "")  # and the rules still name the room
    assert not broken(
        "site.toml", "retention_days = 30", 'retention_days = 30\nrooms = ["mirador", "lower-hall"]'
    )
    site = load_site(folder)
    assert site.rooms == ("mirador", "lower-hall")
    assert site.room_name("lower-hall", "es") == "Lower hall"
    assert [(one.key, one.found) for one in rooms_without_names(folder)] == [
        ("rooms[1].names", MISSING),
        ("rooms[2].names", MISSING),
    ]


def test_a_password_in_a_wrong_database_address_is_not_repeated(broken: Break) -> None:
    told = broken(
        "site.toml", "retention_days = 30", 'retention_days = 30\ndatabase = "mysql://me:hunter2@db/visits"'
    )
    assert len(told) == 1
    assert "hunter2" not in told[0]
    assert "postgresql://" in told[0]


def test_every_fault_of_every_file_is_told_at_once(folder: Path) -> None:
    for file, old, new in (
        ("site.toml", 'units = "us"', 'units = "imperial"'),
        ("site.toml", "guest_age = 21", "guest_age = 3"),
        ("site.toml", "minutes = 12", "minutes = -1"),
        ("products.toml", "abv_percent = 45.0", "abv_percent = 450"),
    ):
        path = folder / file
        path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    (folder / "secret").unlink()
    with pytest.raises(SiteFaults) as raised:
        load_site(folder)
    assert {fault.key for fault in raised.value.faults} == {
        "units",
        "service.guest_age",
        "route[2].minutes",
        "product[3].abv_percent",
        "secret",
    }
    assert all(fault.sentence() in str(raised.value) for fault in raised.value.faults)


def test_an_empty_folder_names_the_files_it_needs(tmp_path: Path) -> None:
    with pytest.raises(SiteFaults) as raised:
        load_site(tmp_path)
    assert [fault.file for fault in raised.value.faults] == ["site.toml", "products.toml", "secret"]


def test_a_file_that_is_no_toml_is_told_with_the_readers_own_place(broken: Break) -> None:
    told = broken("site.toml", "[colours]", "[colours")
    assert "site.toml" in told[0]
    assert "a TOML file in UTF-8" in told[0]


def test_a_largest_pour_is_not_counted_by_the_day(broken: Break) -> None:
    told = broken("site.toml", 'kind = "volume"', 'kind = "largest"')
    assert len(told) == 1
    assert 'service.limit[2].per: found "day"' in told[0]


def test_a_policy_of_sizes_alone_needs_a_house_rule(folder: Path) -> None:
    path = folder / "site.toml"
    source = path.read_text(encoding="utf-8")
    head, _, tail = source.partition("[[service.limit]]")
    kept = tail.partition("[[service.limit]]")[0]
    path.write_text(head + "[[service.limit]]" + kept, encoding="utf-8")
    with pytest.raises(SiteFaults) as raised:
        load_site(folder)
    assert [fault.key for fault in raised.value.faults] == ["service.limit"]
    assert "a house rule does" in str(raised.value)


def test_a_limit_names_a_product_of_the_site(broken: Break) -> None:
    told = broken("site.toml", "most = 9", 'most = 9\nproduct = "brandy"')
    assert len(told) == 1
    assert "service.limit[3].product" in told[0]
    assert "blanco, anejo, reserva" in told[0]


ALL_SETTINGS = [
    *(
        (setting.name, "site.toml")
        for setting in (*SITE, *LANGUAGE, *MEASURE, *ROOM, *ROUTE, *OPENING, *COLOURS, *SERVICE, *HOURS)
    ),
    *(
        (setting.name, "site.toml")
        for setting in LIMIT
        if setting.name in ("id", "kind", "per", "most", "basis")
    ),
    *((setting.name, "products.toml") for setting in PRODUCT if setting.name != "allergens"),
]


@pytest.mark.parametrize(("name", "file"), sorted(set(ALL_SETTINGS)))
def test_the_demo_site_shows_every_setting(folder: Path, name: str, file: str) -> None:
    """The demo is what a licensee copies: a setting that it does not show is hardly found."""
    source = (folder / file).read_text(encoding="utf-8")
    assert re.search(rf"(?m)^(?:# )?(?:{name}\b|\[\[?(?:\w+\.)?{name}\]\]?)", source), name


@pytest.mark.parametrize(
    "setting",
    [*SITE, *LANGUAGE, *MEASURE, *ROOM, *ROUTE, *OPENING, *COLOURS, *SERVICE, *HOURS, *LIMIT, *PRODUCT],
)
def test_every_setting_says_what_it_is_for_and_what_is_allowed(setting: object) -> None:
    assert getattr(setting, "doc", "").endswith((".", "?"))
    assert getattr(setting, "allowed", "").format(**getattr(setting, "facts", {}))


def test_the_environment_of_the_tests_names_no_database() -> None:
    assert "KIOSK_DATABASE" not in os.environ
