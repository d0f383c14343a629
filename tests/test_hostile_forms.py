"""Hostile values in every field of every staff page, in addresses, and in the entries' JSON.

No fault of ours, nothing half-written, and what was typed is shown again.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from itertools import cycle
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from sqlalchemy import select

import kiosk
from kiosk.demo import prepare_demo
from kiosk.entries.guest_marks import MARK_KINDS
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store.engine import Store, open_store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import guests
from kiosk.tasting.room.corrections import CORRECTION_KINDS
from tests.actors import Clock, Screen, running
from tests.bar import opened
from tests.databases import DEMO_NOW, sqlite_url
from tests.hostile import hostile_entry, hostile_text, hostile_values
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site
from tests.trials import Trial

pytestmark = pytest.mark.faults

SHORT = 150
PIECES = range(4)
LONG = {"forms": 900, "addresses": 900, "entries": 1400}
"""How much each of the four pieces of a deep test sends, some 2 500 values, from a seed of its own."""
QUERIES = sorted(
    {
        name
        for file in Path(kiosk.__file__).parent.rglob("*.py")
        for name in re.findall(r"args\.get\(\s*\"(\w+)\"", file.read_text(encoding="utf-8"))
    }
)
"""Every name that a page reads from the query of its address."""

Begin = Callable[[str], Trial]


def drawn(n: int, of: int) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return what runs a test `n` times from the seed `of`; faults are collected, so nothing is shrunk."""
    bounded = settings(
        max_examples=n,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=[*HealthCheck],
    )
    return lambda test: seed(of)(bounded(given(st.data())(test)))


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, closed, to be copied."""
    folder = tmp_path_factory.mktemp("demo") / "site"
    prepare_demo(folder, DEMO_NOW, lambda _line: None)
    return folder


@pytest.fixture
def small(store: Store, now: datetime, tmp_path: Path) -> Begin:
    """Begin a trial in a small house with a tour, a bottle and a flight."""
    tasting = Tasting.begun(store, tasting_site(tmp_path), now)
    opened(tasting)
    return partial(trial_in, tasting.site, store, now)


@pytest.fixture
def demo(demo_folder: Path, tmp_path: Path) -> Iterator[Begin]:
    """Begin a trial in a copy of the demo."""
    folder = shutil.copytree(demo_folder, tmp_path / "demo")
    site = load_site(folder, database=sqlite_url(folder / "kiosk.sqlite"))
    store = open_store(site.database)
    yield partial(trial_in, site, store, DEMO_NOW)
    store.close()


def trial_in(site: Site, store: Store, now: datetime, language: str) -> Trial:
    """Begin a trial in a house, in a language."""
    return Trial(Screen(running(site, store, Clock(now))), site, store, now, language)


def try_forms(trial: Trial, n: int, of: int) -> None:
    """Send `n` forms with hostile values."""

    @drawn(n, of)
    def tried(data: st.DataObject) -> None:
        form = data.draw(st.sampled_from(trial.forms))
        trial.send(form, data.draw(hostile_values(form)))

    tried()
    trial.open_every_page()


def try_addresses(trial: Trial, n: int, of: int) -> None:
    """Open `n` addresses of the house with hostile names, numbers and queries."""
    rules = sorted(
        rule.rule
        for rule in trial.screen.app.url_map.iter_rules()
        if "GET" in (rule.methods or ()) and "sign" not in rule.rule
    )
    number = st.sampled_from(("0", "1", "2", "7", "2147483648", "9223372036854775808", "9" * 30))
    queries = st.dictionaries(st.sampled_from(QUERIES), hostile_text(), max_size=3)

    @drawn(n, of)
    def tried(data: st.DataObject) -> None:
        rule = data.draw(st.sampled_from(rules))
        place = re.compile(r"<(?:(\w+):)?(\w+)>")
        known = st.sampled_from(("en", "es", "still-house", "blanco", "bottles", "gauges", "spirit-fill"))
        path = place.sub(
            lambda at: (
                data.draw(number)
                if at[1] == "int"
                else trial.language
                if at[2] == "lang"
                else quote(data.draw(st.one_of(known, hostile_text())), safe="") or "-"
            ),
            rule,
        )
        trial.ask(path, data.draw(queries))

    tried()


def good_entries(trial: Trial) -> list[dict[str, object]]:
    """Return an entry of each kind that the house would record, and a pour that they correct."""
    with trial.store.read() as session:
        of_today = guests.c.day == trial.site.service_day(trial.now)
        guest, tour = session.execute(select(guests.c.id, guests.c.tour_id).where(of_today)).first()
    poured = {"ledger": "pours", "guest": guest, "product": "blanco", "volume_ul": QUARTER_UL, "asked": False}
    keyed = [{"key": new_key(), **poured} for _ in range(3)]
    at_seat = {"ledger": "pours", "key": new_key(), "tour": tour, "seat": "1", "product": "blanco"}
    at_seat |= {"volume_ul": QUARTER_UL, "asked": False}
    trial.post_entries([*keyed, at_seat])
    seated = {"ledger": "pour_marks", "pours": [at_seat["key"]]}
    return [
        poured,
        {**poured, "asked": True, "tour": tour, "neat": True, "at": trial.now.isoformat()},
        {part: value for part, value in at_seat.items() if part != "key"},
        *({"ledger": "marks", "guest": guest, "kind": kind, "by": 1} for kind in sorted(MARK_KINDS)),
        *(
            {"ledger": "pour_marks", "pour": one["key"], "kind": kind, "guest": guest, "reason": "not_taken"}
            for kind, one in zip(sorted(CORRECTION_KINDS), cycle(keyed), strict=False)
        ),
        {**seated, "kind": "seated", "guest": guest},
        {**seated, "kind": "cleared"},
    ]


def try_entries(trial: Trial, n: int, of: int) -> None:
    """Send `n` bodies of up to three spoiled entries."""
    good = good_entries(trial)

    @drawn(n, of)
    def tried(data: st.DataObject) -> None:
        trial.post_entries(data.draw(st.lists(hostile_entry(good), max_size=3)))

    tried()
    trial.open_every_page()


TRIALS = {"forms": try_forms, "addresses": try_addresses, "entries": try_entries}


@pytest.mark.parametrize("kind", TRIALS)
def test_hostile_values_are_refused_shown_again_and_never_half_written(small: Begin, kind: str) -> None:
    trial = small("en")
    TRIALS[kind](trial, SHORT, 0)
    assert trial.values > SHORT
    assert not trial.faults, trial.report()


def send_piece(trial: Trial, kind: str, piece: int) -> None:
    """Send a piece of the long form and say how much was sent."""
    TRIALS[kind](trial, LONG[kind], piece)
    print(f"{kind}: seed {piece}, {trial.values} values, {trial.accepted} accepted")
    assert not trial.faults, trial.report()


@pytest.mark.deep
@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("kind", TRIALS)
def test_ten_thousand_hostile_values_are_refused_in_a_small_house(
    small: Begin, kind: str, piece: int
) -> None:
    send_piece(small(("en", "es")[piece % 2]), kind, piece)


@pytest.mark.deep
@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("kind", TRIALS)
def test_ten_thousand_hostile_values_are_refused_in_the_demo(demo: Begin, kind: str, piece: int) -> None:
    send_piece(demo(("en", "es")[piece % 2]), kind, piece)


def test_the_forms_of_every_part_of_the_house_are_tried(small: Begin) -> None:
    forms = small("en").forms
    actions = {form.action for form in forms}
    for part in ("tours/new", "bookings", "bottles", "closing", "flights", "approvals", "rules", "people"):
        assert [action for action in actions if part in action], part
    for part in ("permits", "devices", "inspection", "records/new", "instruments", "import"):
        assert [action for action in actions if part in action], part
    assert len(forms) > 40
    assert sum(len(form.fields) for form in forms) > 200


@pytest.mark.parametrize(
    "body", ["[" * 100_000, '[{"a":' * 5_000, "[1e999]", "[NaN]", "{", "null", "1", '"a"']
)
def test_a_body_that_is_no_list_of_entries_is_refused(small: Begin, body: str) -> None:
    client = small("en").screen.client
    answer = client.post("/staff/intake", data=body, content_type="application/json")
    assert 400 <= answer.status_code < 500


UNLIKELY = "Zq 7,7,7"
"""What no field takes as a number, a day or a code, and only a name may be."""


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_form_that_refuses_shows_again_what_was_typed(demo: Begin, language: str) -> None:
    trial = demo(language)
    typed = [form for form in trial.forms if form.method == "post" and form.typed]
    for form in typed:
        trial.send(form, dict.fromkeys(form.typed, UNLIKELY))
        trial.send(form, {**dict.fromkeys(form.typed, UNLIKELY), **dict.fromkeys(form.chosen, "none")})
    assert not trial.faults, trial.report()
    assert len(typed) > 40
    assert len(trial.refused) > 40, trial.refused
