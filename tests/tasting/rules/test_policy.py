"""Which version of the rules is in force.

A manager's word for the day: kept with who and why, and every decision is made by it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import event, select

from kiosk.figures.drinks import GAP, LAST_POUR, NO_ALCOHOL, DayRestriction, Kind, Limit, parse_volume_ul
from kiosk.store import ledgers
from kiosk.store.ledgers import new_key
from kiosk.store.tables import tasting as tables
from kiosk.store.tables.tasting import policies
from kiosk.tasting.errors import WhyMissing
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.policy import NotStricter
from kiosk.tasting.shift_closing import closing
from tests.tasting_room import HOURS, LIMITS, QUARTER_UL, Tasting, tasting_site


def in_force(tasting, site=None):
    with tasting.store.read() as session:
        return policy.in_force(session, site or tasting.site)


def test_the_confirmed_rules_are_in_force_and_say_who_confirmed_them(tasting):
    assert in_force(tasting).by == tasting.ana


def test_a_changed_file_puts_nothing_in_force(tasting, tmp_path):
    looser = tasting_site(tmp_path, limits=(replace(LIMITS[1], most=99), *LIMITS[2:]))
    assert in_force(tasting, looser) is None


def test_a_text_that_nobody_confirmed_counts_for_nothing(tasting, tmp_path):
    other = tasting_site(tmp_path, limits=())
    later = tasting.now + timedelta(hours=1)
    values = {"key": new_key(), "at": later, "recorded_at": later, "digest": policy.digest(other.policy)}
    with tasting.store.write() as session:
        ledgers.append(session, policies, {**values, "body": {}, "basis": ""})
    assert in_force(tasting, other) is None
    assert in_force(tasting) is not None


def test_the_version_confirmed_last_is_in_force(tasting, tmp_path):
    other = tasting_site(tmp_path, limits=())
    with tasting.store.write() as session:
        policy.confirm(session, other, key=new_key(), by=tasting.bea, at=tasting.now)
    assert in_force(tasting, other).by == tasting.bea
    assert in_force(tasting) is None


def test_the_full_text_is_kept(tasting):
    with tasting.store.read() as session:
        kept = session.scalar(select(policies.c.body))
    assert [limit["id"] for limit in kept["limits"]] == [limit.id for limit in LIMITS]
    assert kept["hours"][0]["until"] == HOURS[0].until.isoformat()


def say(tasting, rule, most=0, *, room="", at=None, why="a hot day", key=None):
    """Give a word as Ana, a manager."""
    with tasting.store.write() as session:
        word = DayRestriction(rule, most, at or tasting.now)
        policy.tighten_for_day(session, tasting.site, tasting.origin(key), room, word, why)


def given(tasting):
    with tasting.store.read() as session:
        return policy.of_day(session, tasting.site.service_day(tasting.now))


def test_a_word_is_kept_with_its_room_who_said_it_and_why(tasting):
    say(tasting, "day_pours", 4, room="main")
    (one,) = given(tasting)
    assert (one.restriction, one.room) == (DayRestriction("day_pours", 4, tasting.now), "main")
    assert (one.by, one.why) == ("Ana", "a hot day")


def test_a_pour_is_decided_by_the_word(tasting):
    say(tasting, "day_pours", 2)
    answers = [tasting.pour(tasting.guests[0]) for _ in range(3)]
    assert [one.outcome for one in answers] == ["poured", "poured", "refused"]
    assert answers[-1].reasons == ("day_pours",)


def test_no_alcohol_today_refuses_every_spirit_and_no_other_glass(tasting):
    say(tasting, NO_ALCOHOL)
    assert tasting.pour(tasting.guests[0]).reasons == ("dry",)
    assert tasting.pour(tasting.guests[0], "ponche-sin").outcome == "poured"


def test_a_word_for_another_room_binds_nobody_here(tasting):
    tasting.site = replace(tasting.site, rooms=("main", "terrace"))
    say(tasting, NO_ALCOHOL, room="terrace")
    assert tasting.pour(tasting.guests[0]).outcome == "poured"
    say(tasting, NO_ALCOHOL, room="main")
    assert tasting.pour(tasting.guests[0]).reasons == ("dry",)


def test_a_word_ends_with_its_day(tasting):
    say(tasting, "day_pours", 1, at=tasting.now - timedelta(days=1))
    assert [tasting.pour(tasting.guests[0]).outcome for _ in range(2)] == ["poured", "poured"]


def test_the_tile_shows_what_the_word_leaves(tasting):
    before = tasting.room().tiles[0]
    say(tasting, "day_drinks", 177_441 * 100)  # a tenth of a standard drink
    after = tasting.room().tiles[0]
    assert before.next.reasons == ()
    assert before.left > after.left
    assert after.next.reasons == ("day_drinks",)
    say(tasting, NO_ALCOHOL)
    assert "dry" in tasting.room().tiles[0].next.reasons


@pytest.mark.parametrize(
    ("rule", "most"),
    [("day_pours", 6), ("day_pours", 7), ("largest", 10**9), ("nothing", 1), (LAST_POUR, 86_400), (GAP, 0)],
)
def test_a_looser_word_is_refused_and_not_kept(tasting, rule, most):
    with pytest.raises(NotStricter):
        say(tasting, rule, most)
    assert given(tasting) == []


def test_a_word_is_no_looser_than_the_one_before(tasting):
    say(tasting, "day_pours", 3)
    with pytest.raises(NotStricter):
        say(tasting, "day_pours", 4)
    say(tasting, "day_pours", 2, at=tasting.now + timedelta(minutes=1))
    assert [one.restriction.most for one in given(tasting)] == [3, 2]


def test_a_word_for_every_room_counts_where_one_of_them_is_looser_still(tasting):
    tasting.site = replace(tasting.site, rooms=("main", "terrace"))
    say(tasting, "day_pours", 3, room="main")
    say(tasting, "day_pours", 4)
    with pytest.raises(NotStricter):
        say(tasting, "day_pours", 4, room="main")


def test_a_word_says_why(tasting):
    with pytest.raises(WhyMissing):
        say(tasting, NO_ALCOHOL, why="")


def test_a_word_sent_twice_is_kept_once(tasting):
    key = new_key()
    for _ in range(2):
        say(tasting, "day_pours", 3, key=key)
    assert len(given(tasting)) == 1


def test_what_was_served_before_the_word_was_right_and_after_it_is_a_breach(tasting):
    tasting.pour(tasting.guests[0])
    tasting.now += timedelta(minutes=5)
    say(tasting, "day_pours", 1)
    tasting.now += timedelta(minutes=5)
    told = tasting.pour(tasting.guests[0], asked=False)
    earlier = tasting.pour(tasting.guests[0], asked=False, happened_at=tasting.now - timedelta(minutes=7))
    assert (told.reasons, earlier.reasons) == (("day_pours",), ())
    with tasting.store.read() as session:
        day = tasting.site.service_day(tasting.now)
        body = closing.body(session, tasting.site, "main", day, 20.0)
    assert body["breaches"] == {"servings": 1, "reasons": {"day_pours": 1}}


def test_a_pour_reads_no_more_often_with_words_or_without(tasting):
    def statements():
        counted = []
        listen = lambda *args: counted.append(args[2])  # noqa: E731
        event.listen(tasting.store.engine, "before_cursor_execute", listen)
        tasting.pour(tasting.guests[0])
        event.remove(tasting.store.engine, "before_cursor_execute", listen)
        return len(counted)

    without = statements()
    say(tasting, "day_pours", 5)
    say(tasting, GAP, 1)
    tasting.now += timedelta(minutes=1)
    assert statements() == without


def test_the_ledger_carries_the_managers_id(tasting):
    say(tasting, NO_ALCOHOL)
    with tasting.store.read() as session:
        assert session.scalar(select(tables.day_restrictions.c.by)) == tasting.ana


# --- tickets: South Carolina Code 61-6-1140: a tour's price rises with what it pours, in steps of
# 0.5 fl oz from 1 fl oz; read, as in `tests/outside/test_statutes.py`.


def steps(folder):
    day = Limit("day", Kind.VOLUME, "day", parse_volume_ul("4.5 fl oz", round_up=True))
    sizes = ("1 fl oz", "1.5 fl oz", "2 fl oz")
    tickets = [
        Limit(f"step_{n}", Kind.VOLUME, "visit", parse_volume_ul(size, round_up=True), tickets=(size,))
        for n, size in enumerate(sizes)
    ]
    return tasting_site(folder, limits=(day, *tickets))


@pytest.mark.parametrize(("ticket", "granted"), [("1 fl oz", 4), ("1.5 fl oz", 6), ("2 fl oz", 8), (None, 4)])
def test_a_guests_ticket_says_how_much_their_visit_pours(store, now, tmp_path, ticket, granted):
    begun = Tasting.begun(store, steps(tmp_path), now, flight=[("blanco", QUARTER_UL)] * 12)
    begun.check(begun.guests[0])
    begun.ticket(ticket)
    answers = [begun.pour(begun.guests[0]) for _ in range(granted)]
    assert {one.outcome for one in answers} == {"poured"}
    last = begun.pour(begun.guests[0])
    assert last.outcome == "refused"
    assert begun.room().tiles[0].next.reasons == last.reasons
    begun.pour(begun.guests[0], asked=False)
    with store.read() as session:
        found = closing.body(session, begun.site, "main", begun.site.service_day(now), 20.0)["breaches"]
    assert (found["servings"], set(found["reasons"])) == (1, set(last.reasons))
