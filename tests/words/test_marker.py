"""Marking a message changes nothing of it."""

from __future__ import annotations

from kiosk.words.marker import N_, NN_


def test_marked_messages_stay_what_they_are() -> None:
    assert N_("Sold out") == "Sold out"
    assert NN_("{n} cask", "{n} casks") == ("{n} cask", "{n} casks")
