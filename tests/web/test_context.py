"""One moment and one reader of figures for a request."""

from __future__ import annotations

from flask import Flask

from kiosk.web.context import figure_reader, now, site_context
from tests.actors import Clock


def test_a_request_has_one_instant_however_long_it_takes(app: Flask, clock: Clock) -> None:
    with app.test_request_context("/"):
        first = now()
        clock.pass_s(5)
        assert now() == first
    with app.test_request_context("/"):
        assert now() == clock()


def test_a_request_opens_one_figure_reader_at_its_instant(app: Flask) -> None:
    with app.test_request_context("/"):
        assert figure_reader() is figure_reader()
        assert figure_reader().now == now()


def test_two_apps_share_nothing(app: Flask) -> None:
    with app.test_request_context("/"):
        assert site_context() is app.extensions["kiosk"]
