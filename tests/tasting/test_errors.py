"""Each refusal is answered with its status and a sentence that names what was wrong, in both languages."""

from __future__ import annotations

import pytest
from flask import Flask

from kiosk.tasting import errors
from kiosk.web.access import open_to

REFUSALS = [
    (errors.Malformed(part="volume_ul"), 422, "volume_ul"),
    (errors.UnknownProduct(product="grappa-7"), 422, "grappa-7"),
    (errors.UnknownPour(), 404, ""),
    (errors.PresetGlassesTaken(), 409, ""),
    (errors.NotApproved(), 422, ""),
    (errors.UnknownBottle(), 404, ""),
    (errors.BottleEnded(code="B-17"), 409, "B-17"),
    (errors.TooLate(seconds=23), 409, "23"),
    (errors.AnotherPersonChecks(), 409, ""),
    (errors.CheckInPerson(), 403, ""),
    (errors.NotTheirMark(), 403, ""),
]


def test_every_refusal_is_tried_here():
    tried = {type(error) for error, _, _ in REFUSALS}
    here = {
        one for one in vars(errors).values() if isinstance(one, type) and issubclass(one, errors.TastingError)
    }
    assert tried == here - {errors.TastingError}


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
