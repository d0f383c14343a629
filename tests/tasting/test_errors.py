"""Each refusal is answered with its status and a sentence that names what was wrong, in both languages."""

from __future__ import annotations

from datetime import date

import pytest
from flask import Flask

from kiosk.entries.errors import (
    AnotherPersonChecks,
    ChangePinFirst,
    EntryError,
    GuestOfAnotherTour,
    Malformed,
    ManagerChecks,
    NotTakenBack,
    RoleMayNotRecord,
    SignInFirst,
)
from kiosk.entries.review import AsksNow
from kiosk.entries.typed_in import (
    InFuture,
    NoSuchGuest,
    PartMissing,
    RecordedAlready,
    TypedInAlready,
    WaitsForReview,
)
from kiosk.tasting.approvals.approvals import UnknownProduct
from kiosk.tasting.approvals.approving import ApprovalEnded
from kiosk.tasting.bottles.bottle_entries import BottleEnded, UnknownBottle
from kiosk.tasting.bottles.shelf import NotApproved
from kiosk.tasting.errors import WhyMissing
from kiosk.tasting.flights.planning import FlightArchived
from kiosk.tasting.inspection.records import SpanRefused
from kiosk.tasting.room.corrections import ReasonMissing
from kiosk.tasting.room.pouring import UnknownPour
from kiosk.tasting.room.preset_glasses import PresetGlassesTaken, TooManySeats
from kiosk.tasting.rules.policy import NotStricter
from kiosk.tasting.rules.restriction_form import NoAmount
from kiosk.tasting.shift_closing.typed import NoLongerFits
from kiosk.tours.checkin.arrivals import DidNotCome, NoAdult, NoEarlierGuest, NumberUsed, PlaceTaken
from kiosk.tours.planning.bookings import GuestsCheckedIn, NoRoom, PrivateTour
from kiosk.tours.planning.tours import TourCanceled, TourStarted
from kiosk.tours.regrouping.people import NoPlace, OtherDay, SameTour
from kiosk.tours.regrouping.shortening import WayGone
from kiosk.tours.walk.closures import ClosedUntilMissing, MayNotReopen, OpenAlready, UntilPassed
from kiosk.tours.walk.steps import Finished, NotStarted, NotToday, WentOnAlready
from kiosk.web.access import open_to

REFUSALS = [
    (Malformed(part="volume_ul"), 422, "volume_ul"),
    (UnknownProduct(product="grappa-7"), 422, "grappa-7"),
    (UnknownPour(), 404, ""),
    (PresetGlassesTaken(), 409, ""),
    (NotApproved(), 422, ""),
    (UnknownBottle(), 404, ""),
    (BottleEnded(code="B-17"), 409, "B-17"),
    (ReasonMissing(minutes=2), 422, "2"),
    (ManagerChecks(), 409, ""),
    (AsksNow(), 409, ""),
    (GuestOfAnotherTour(), 409, ""),
    (AnotherPersonChecks(), 409, ""),
    (SignInFirst(), 403, ""),
    (ChangePinFirst(), 403, ""),
    (TypedInAlready(), 409, ""),
    (PartMissing(), 422, ""),
    (WaitsForReview(), 409, ""),
    (InFuture(), 422, ""),
    (RecordedAlready(), 409, ""),
    (NoSuchGuest(number=14, day=date(2026, 6, 16)), 422, "14"),
    (RoleMayNotRecord(), 403, ""),
    (NotStricter(), 422, ""),
    (WhyMissing(), 422, ""),
    (NoAmount(), 422, ""),
    (ApprovalEnded(), 409, ""),
    (FlightArchived(), 409, ""),
    (SpanRefused(n=93), 422, "93"),
    (TourCanceled(), 409, ""),
    (TourStarted(), 409, ""),
    (NotToday(day=date(2026, 6, 16)), 409, "16"),
    (NotStarted(), 409, ""),
    (Finished(), 409, ""),
    (WentOnAlready(), 409, ""),
    (ClosedUntilMissing(), 422, ""),
    (UntilPassed(typed="soon"), 422, "soon"),
    (MayNotReopen(), 403, ""),
    (OpenAlready(), 409, ""),
    (DidNotCome(), 409, ""),
    (GuestsCheckedIn(), 409, ""),
    (NoLongerFits(), 409, ""),
    (NotTakenBack(), 409, ""),
    (TooManySeats(last=61, most=60), 422, "61"),
    (NoAdult(number=14), 409, "14"),
    (NoEarlierGuest(number=14), 409, "14"),
    (NumberUsed(number=14), 409, "14"),
    (PlaceTaken(number=14), 409, "14"),
    (NoRoom(booked=22, places=22), 409, "22"),
    (PrivateTour(), 409, ""),
    (NoPlace(letter="B", free=1, size=4), 409, "4"),
    (OtherDay(), 409, ""),
    (SameTour(), 409, ""),
    (WayGone(), 409, ""),
]


def subclasses(of: type) -> set[type]:
    return {one for child in of.__subclasses__() for one in (child, *subclasses(child))}


def test_every_refusal_is_tried_here():
    tried = {type(error) for error, _, _ in REFUSALS}
    in_words = {one for one in subclasses(EntryError) if one.message and one.__module__.startswith("kiosk.")}
    assert tried == in_words


@pytest.mark.parametrize(("error", "status", "named"), REFUSALS, ids=lambda it: type(it).__name__)
def test_a_refusal_is_answered_in_the_readers_language(app: Flask, error, status, named):
    @app.get("/refused")
    @open_to("anyone")
    def refused():
        raise error

    def answer(language):
        headers = {"Accept": "application/json", "Accept-Language": language}
        return app.test_client().get("/refused", headers=headers)

    english, spanish = answer("en"), answer("es")
    assert (english.status_code, spanish.status_code) == (status, status)
    sentences = {english.json["sentence"], spanish.json["sentence"]}
    assert len(sentences) == 2
    for sentence in sentences:
        assert named in sentence
        assert "{" not in sentence
