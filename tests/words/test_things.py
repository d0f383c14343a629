"""Words of the records that have a translation are said in it; a person's own word stays."""

from __future__ import annotations

from kiosk.site.shipped import shipped
from kiosk.words.catalogs import load_words
from kiosk.words.things import known, thing

SPANISH = load_words(shipped("locales"), "es", "es_PR")


def test_a_wood_is_said_in_the_readers_language() -> None:
    assert thing("American oak", SPANISH) == "roble americano"
    assert thing("american OAK ", SPANISH) == "roble americano"


def test_a_word_that_is_not_known_stays_as_it_was_written() -> None:
    assert thing("guava, sliced", SPANISH) == "guava, sliced"
    assert not known("guava, sliced")
