"""A house begins: files before the first start, five people, three seasons of records, a week of bookings."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from tests.stories.house import (
    PIN,
    Country,
    HouseClock,
    first_manager,
    new_site,
    served_behind_tls,
    write_settings,
)
from tests.stories.season import MONDAY, SATURDAY, SUNDAY, Story, option
from tests.stories.season_records import three_seasons
from tests.stories.team import Worker, joined
from tests.stories.test_a_day import BLANCO
from tests.stories.test_planning import OPENING

ZONES = {"island": "America/Puerto_Rico", "mainland": "Europe/Madrid"}
"""The clock of the mainland goes forward on the night after the long day."""
ANEJO = BLANCO.replace('"blanco"', '"anejo"').replace("Blanco of the House", "Aged of the House")
ANEJO = ANEJO.replace("Blanco de la casa", "Añejo de la casa").replace('["coconut"]', "[]")
ROUTE = {"still-house": (15, 12), "cask-store": (15, 12), "tasting-room": (40, 18)}
MAINLAND = {
    'standard_drink = "US"': 'standard_drink = "ES"',
    'volume = "0.25 fl oz"': 'volume = "10 mL"',
    'most = "0.25 fl oz"': 'most = "10 mL"',
    'most = "1 fl oz"': 'most = "40 mL"',
    'most = "1 drinks"': 'most = "2 drinks"',
}


def begun(folder: Path, country: Country) -> Iterator[Story]:
    """Serve a house whose settings, route and products are written before its first start."""
    new_site(folder, country)
    route = {
        f'stop = "{stop}"\nminutes = {minutes}\nwalk_minutes = 5\nholds = 10': (
            f'stop = "{stop}"\nminutes = {minutes}\nwalk_minutes = 5\nholds = {holds}'
        )
        for stop, (minutes, holds) in ROUTE.items()
    }
    changes = {"# The walk, in its order.": OPENING, **route}
    write_settings(folder, changes | (MAINLAND if country.name == "mainland" else {}))
    with (folder / "products.toml").open("a", encoding="utf-8") as products:
        products.write(BLANCO + ANEJO)
    clock = HouseClock(folder.parent / "clock", ZONES[country.name], f"{MONDAY} 09:00")
    with served_behind_tls(folder, clock) as (house, _):
        yield Story(house, clock, country, three_seasons(seed=7))


def five_people_enrol_by_code(story: Story) -> None:
    owner = Worker("Rosa", PIN, first_manager(story.house))
    people = {"Rosa": owner}
    people["Marta"] = joined(story.house, owner, "Marta", "manager", "583016", "office screen")
    for name, role, pin, device in (
        ("Teo", "guide", "719204", "phone of Teo"),
        ("Noa", "guide", "640281", "phone of Noa"),
        ("Bea", "bar", "830462", "bar tablet"),
    ):
        people[name] = joined(story.house, people["Marta"], name, role, pin, device)
    listed = owner.opens("/staff/devices").words
    assert listed.count("enrolled") == 5
    story.people = people


def three_seasons_of_records_go_in(story: Story) -> None:
    marta, records = story.people["Marta"], story.records
    preview = marta.screen.upload(marta.opens("/staff/records/import"), records.files)
    assert sum(map(int, re.findall(r"\.csv (\d+) new", preview.words))) == records.rows > 400
    assert "Held for review: a person" not in preview.words
    assert marta.sends(preview).status == 200
    again = marta.screen.upload(marta.opens("/staff/records/import"), records.files)
    assert "These files say nothing new." in again.words
    store = story.house.screen().get("/en/stops/cask-store").words
    assert f"{records.casks} casks" in store, store


def the_bar_is_made_ready(story: Story) -> None:
    rosa, marta = story.people["Rosa"], story.people["Marta"]
    assert rosa.sends(rosa.opens("/staff/rules"), "/rules", pin=PIN).status == 200
    for product, lot in (("blanco", "BL-2027"), ("anejo", "AN-2027")):
        typed = {"kind": "bottled", "product": product, "source": lot, "document": "removal 7"}
        signed = marta.sends(marta.opens("/staff/approvals/new"), **typed, pin=marta.pin, room="main")
        assert signed.path == "/staff/approvals", signed.words
    flight = marta.opens("/staff/flights/new")
    size = re.findall(r'name="size-1".*?<option value="(\d+)"', flight.body.decode(), re.S)[0]
    typed = {"name": "Two", "name-es": "Dos"}
    for n, product in enumerate(("blanco", "anejo"), 1):
        typed |= {f"place-{n}": str(n), f"glass-{n}": product, f"size-{n}": size}
    saved = marta.sends(flight, **typed)
    assert saved.path.startswith("/staff/flights/"), saved.words


def a_week_is_planned(story: Story) -> None:
    marta = story.people["Marta"]
    form = marta.opens("/staff/tours/pattern")
    typed: dict[str, str | list[str]] = {
        "days-1": ["3", "4", "5", "6"],
        "hours-1": "10, 11, 12:30",
        "days-2": ["5"],
        "hours-2": "15:00",
        "language-2": "es",
        "first": MONDAY,
        "last": SUNDAY,
        "places": "12",
        "flight": option(form, "flight", "Two"),
    }
    seen = marta.sends(form, **typed, act="preview")
    assert "13 tours will be made" in seen.words, seen.words
    week = marta.sends(seen, **typed, act="record")
    assert "13 tours were planned." in week.words
    call = marta.opens(f"/staff/bookings/new?day={SATURDAY}")
    ids = re.findall(r'name="tour" value="(\d+)"', call.body.decode())
    story.tours = {name: f"/staff/tours/{one}" for name, one in zip("ABCD", ids, strict=True)}


def the_week_is_booked(story: Story) -> None:
    """By telephone the two halves of a bus and a family in Spanish; by a seller's table the others."""
    marta = story.people["Marta"]
    for tour, name, size, language in (
        ("A", "Ana Ruiz", "6", "en"),
        ("A", "Luis Gil", "6", "en"),
        ("B", "Iris Paz", "4", "en"),
        ("D", "Eva Sol", "4", "es"),
    ):
        call = marta.opens(f"/staff/bookings/new?day={SATURDAY}")
        number = story.tours[tour].rpartition("/")[2]
        said = {"tour": number, "size": size, "lead_name": name, "contact": "555 0100", "language": language}
        assert marta.sends(call, **said).path.startswith(story.tours[tour])
    table = "reference;day;time;name;people;language\n"
    table += f"S-1;{SATURDAY};11:00;Luz Vega;5;en\nS-2;{SATURDAY};12:30;Pau Mar;3;en\n"
    seen = marta.screen.upload(marta.opens("/staff/bookings/file"), {"week.csv": table})
    assert "2 new, 0 changed, 0 the same." in seen.words
    (mark,) = re.findall(r'name="shown" value="(\w+)"', seen.body.decode())
    assert marta.sends(seen, "/record", shown=mark, table=table).status == 200
    day = marta.opens(f"/staff/?day={SATURDAY}").words
    assert day.count("person booked") + day.count("people booked") == 4
    assert sum(map(int, re.findall(r"(\d+) people booked", day))) == 12 + 9 + 3 + 4
