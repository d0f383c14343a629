"""Rows that a form sends through the one door for taps."""

from __future__ import annotations

from collections.abc import Iterable

from flask import request

from kiosk.entries.entries import Answer
from kiosk.entries.intake import take
from kiosk.entries.senders import Shown
from kiosk.site.secret import hashed
from kiosk.tasting.errors import NotRecorded
from kiosk.tasting.room import text
from kiosk.web import access, forms
from kiosk.web.context import house, now, words


def posted(*rows: dict[str, object]) -> list[Answer]:
    """Take rows and return what became of each; NotRecorded, in the reader's words, for one that was not."""
    answers = take(house().store, house().site, sender(), rows, now())
    for answer in answers:
        if answer.outcome in ("rejected", "held"):
            raise NotRecorded(answer.status, text.sentence(answer, house().site, words()))
    return answers


def demand_granted(answers: Iterable[Answer]) -> None:
    """Raise NotRecorded with the reason where something asked for was refused."""
    for answer in answers:
        if answer.outcome == "refused":
            raise NotRecorded(409, text.sentence(answer, house().site, words()))


def glass() -> dict[str, object]:
    """Return product and volume of the glass that a form's button stands for; what cannot be read is None."""
    product, _, volume_ul = forms.text("glass").partition(" ")
    return {"product": product or None, "volume_ul": forms.digits(volume_ul)}


def sender() -> Shown:
    """Return who sends, by the two cookies that the request shows."""
    site, cookies = house().site, request.cookies
    device = hashed(site, "device", cookies.get(access.DEVICE_COOKIE, ""))
    return Shown(site, device, hashed(site, "person", cookies.get(access.PERSON_COOKIE, "")), now())
