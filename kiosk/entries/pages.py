"""Rows that a form sends through the one door for taps."""

from __future__ import annotations

from collections.abc import Iterable

from flask import request

from kiosk.entries.entries import Answer
from kiosk.entries.intake import take_in_entries
from kiosk.entries.senders import SenderCredentials
from kiosk.tasting.errors import NotRecorded
from kiosk.tasting.room import text
from kiosk.web import access, forms
from kiosk.web.context import now, site_context, words


def post_entries(*rows: dict[str, object]) -> list[Answer]:
    """Take rows and return what became of each; NotRecorded, in the reader's words, for one that was not."""
    answers = take_in_entries(site_context().store, site_context().site, credentials(), rows, now())
    for answer in answers:
        if answer.outcome in ("rejected", "held"):
            raise NotRecorded(answer.status, text.sentence(answer, site_context().site, words()))
    return answers


def demand_granted(answers: Iterable[Answer]) -> None:
    """Raise NotRecorded with the reason where something asked for was refused."""
    for answer in answers:
        if answer.outcome == "refused":
            raise NotRecorded(409, text.sentence(answer, site_context().site, words()))


def chosen_glass() -> dict[str, object]:
    """Return product and volume of the glass that a form's button stands for; what cannot be read is None."""
    product, _, volume_ul = forms.text("glass").partition(" ")
    return {"product": product or None, "volume_ul": forms.digits(volume_ul)}


def credentials() -> SenderCredentials:
    """Return who sends, by the two cookies that the request shows."""
    site, cookies = site_context().site, request.cookies
    device = site.keyed_hash("device", cookies.get(access.DEVICE_COOKIE, ""))
    return SenderCredentials(
        site, device, site.keyed_hash("person", cookies.get(access.PERSON_COOKIE, "")), now()
    )
