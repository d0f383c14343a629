"""Rows as they are posted, read and checked."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kiosk.app import entry_kinds
from kiosk.entries.entries import HELD, Answer, EntryOrigin, claimed_by, kind_of, read_key, sentence
from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import MarkEntry
from kiosk.site.shipped import shipped
from kiosk.tasting.room.corrections import CorrectionEntry
from kiosk.tasting.room.pouring import PourEntry, PresetEntry
from kiosk.tasting.room.preset_glasses import PresetGlassesEntry
from kiosk.words.catalogs import load_words

KEY = "0123456789abcdef" * 2
NOON = datetime(2026, 6, 16, 12, tzinfo=UTC)


def entry(**row):
    kind = kind_of(entry_kinds(), row)
    return kind.parse({"key": KEY, **row}, EntryOrigin(read_key({"key": KEY, **row}, "key"), 4, 3, True))


def test_each_ledger_has_its_entry():
    origin = EntryOrigin(KEY, 4, 3, True)
    pour = entry(ledger="pours", guest=1, product="blanco", volume_ul=7393)
    assert pour == PourEntry(origin, 1, "blanco", 7393, neat=True, asked=True)
    assert entry(ledger="marks", guest=1, kind="liked") == MarkEntry(origin, 1, "liked")
    moved = entry(ledger="pour_marks", pour=KEY, kind="reassign", guest=2)
    assert moved == CorrectionEntry(origin, KEY, "reassign", 2)
    glass = entry(ledger="pours", tour=7, seat="12", product="blanco", volume_ul=7393)
    assert glass == PresetEntry(origin, 7, "12", "blanco", 7393)
    seated = entry(ledger="pour_marks", pours=[KEY], kind="seated", guest=2)
    assert seated == PresetGlassesEntry(origin, "seated", (KEY,), 2)


@pytest.mark.parametrize("pours", [None, KEY, [], [KEY, KEY], ["x"], [KEY, 5], [KEY] * 501])
def test_glasses_that_are_set_out_are_named_by_a_list_of_their_keys(pours):
    with pytest.raises(Malformed) as refused:
        entry(ledger="pour_marks", kind="cleared", pours=pours)
    assert refused.value.facts == {"part": "pours"}


@pytest.mark.parametrize("seat", ["Ana's", "A", "", "window seat", 5])
def test_a_place_is_a_code_and_never_somebodys_name(seat):
    with pytest.raises(Malformed) as refused:
        entry(ledger="pours", tour=7, seat=seat, product="blanco", volume_ul=7393)
    assert refused.value.facts == {"part": "seat"}


@pytest.mark.parametrize(
    "key", [None, 5, "", KEY.upper(), KEY + "0", KEY[:-1], KEY[:-1] + "g", KEY[:-1] + "\n"]
)
def test_a_key_is_32_hex_digits(key):
    with pytest.raises(Malformed) as refused:
        entry(ledger="marks", guest=1, kind="liked", key=key)
    assert refused.value.facts == {"part": "key"}


@pytest.mark.parametrize("by", [-1, 1.5, "1", True, 2**31])
def test_a_claimed_person_is_a_whole_number(by):
    with pytest.raises(Malformed):
        claimed_by({"by": by})


def test_nothing_happens_later_than_now():
    late = EntryOrigin(KEY, 1, 1, happened_at=NOON + timedelta(hours=1))
    early = EntryOrigin(KEY, 1, 1, happened_at=NOON - timedelta(seconds=2))
    assert (late.at(NOON), early.at(NOON)) == (NOON, NOON - timedelta(seconds=2))
    assert (late.clock_ms(NOON), early.clock_ms(NOON)) == (-3_600_000, 2000)


EN = load_words(shipped("locales"), "en", "en_US")
ES = load_words(shipped("locales"), "es", "es_PR")


def test_a_refusal_is_told_to_staff_with_every_reason(site):
    answer = Answer("k", "refused", reasons=("not_checked", "day_pours"))
    assert sentence(answer, site, EN) == ("Age not checked yet: check the ID first. No pours left today.")


def test_a_fact_beyond_a_limit_is_recorded_and_flagged(site):
    answer = Answer("k", "poured", reasons=("day_pours",))
    assert sentence(answer, site, EN).startswith("Recorded, and flagged")


def test_a_held_and_a_recorded_entry_have_each_its_sentence_in_the_readers_language(site):
    held, marked = Answer("k", "held"), Answer("k", "marked")
    assert sentence(held, site, EN) == HELD
    assert sentence(marked, site, EN) == "Recorded."
    assert len({sentence(one, site, words) for one in (held, marked) for words in (EN, ES)}) == 4


def test_a_rejected_entry_says_why_with_its_facts(site):
    rejected = Answer("k", "rejected", message="After {seconds} s.", facts={"seconds": 20})
    assert sentence(rejected, site, EN) == "After 20 s."
