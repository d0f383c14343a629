"""Headers, origins, hosts and encrypted connections."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.web.security import trusted_hosts
from tests.actors import Clock, Screen, hire, small_site
from tests.small_app import SHARED_FEATURES


@pytest.mark.parametrize("path", ["/en/", "/no/where", "/static/css/base.css", "/site.css", "/staff/sign-in"])
def test_every_answer_carries_the_headers(screen: Screen, path: str) -> None:
    headers = screen.get(path).headers
    policy = dict(rule.split(" ", 1) for rule in headers["Content-Security-Policy"].split("; "))
    assert policy == {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self'",
        "font-src": "'self'",
        "connect-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "frame-ancestors": "'none'",
    }
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


def test_staff_pages_are_not_kept_by_browsers(tablet: Screen) -> None:
    assert tablet.get("/staff/sign-in").headers["Cache-Control"] == "no-store"


def test_a_page_says_what_it_varies_by(screen: Screen) -> None:
    assert set(screen.get("/en/").vary) == {"Cookie", "Accept-Language"}
    assert not screen.get("/static/css/base.css").vary


ORIGINS = {
    "http://localhost": 200,
    "https://visit.example": 200,  # the public address, behind a proxy that speaks https
    "http://evil.example": 403,
    "http://localhost.evil.example": 403,
    "http://localhost:81": 403,
    "https://localhost": 403,
    "null": 403,
    "": 403,
}


@pytest.mark.parametrize("origin", ORIGINS)
def test_an_unsafe_request_must_come_from_a_page_of_this_site(screen: Screen, origin: str) -> None:
    token = screen.token("/en/")
    screen.client.environ_base.pop("HTTP_ORIGIN")
    headers = {"Origin": origin} if origin else {}
    answer = screen.client.post("/note", data={"form_token": token, "note": "hello"}, headers=headers)
    assert answer.status_code == ORIGINS[origin]


def test_without_a_public_address_an_origin_is_needed_all_the_same(
    tmp_path: Path, sqlite_store: Store, clock: Clock
) -> None:
    site = small_site(tmp_path, public_address=None)
    client = create_app(site, sqlite_store, clock, features=SHARED_FEATURES).test_client()
    refused = client.post("/staff/enrol", json={})
    assert (refused.status_code, refused.get_json()["error"]) == (403, "forbidden")


def test_a_json_tap_from_another_origin_is_refused(tablet: Screen) -> None:
    answer = tablet.client.post("/staff/taps", json=[1], headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403
    assert answer.get_json()["error"] == "forbidden"


def test_a_page_without_referrer_may_post_to_itself(screen: Screen) -> None:
    headers = {"Origin": "null", "Sec-Fetch-Site": "same-origin"}
    fields = {"form_token": screen.token("/en/")}
    assert screen.client.post("/note", data=fields, headers=headers).status_code == 200


def test_a_host_that_is_not_ours_gets_no_page(screen: Screen) -> None:
    answer = screen.get("/en/", headers={"Host": "evil.example"})
    assert answer.status_code == 400
    assert "Small Site" not in answer.get_data(as_text=True)


def test_the_hosts_are_this_machine_the_public_address_and_those_named(tmp_path: Path) -> None:
    site = small_site(tmp_path, trusted_hosts=("tablets.lan",))
    assert {"localhost", "127.0.0.1", "visit.example", "tablets.lan"} <= set(trusted_hosts(site))


# (staff over http allowed, https, from this machine): status of a staff page for a stranger
TRANSPORTS = {
    (False, False, True): 200,
    (False, False, False): 403,
    (False, True, False): 200,
    (True, False, False): 200,
}


@pytest.mark.parametrize(("allowed", "https", "nearby"), TRANSPORTS)
def test_staff_pages_need_https_or_this_machine_or_a_setting(
    tmp_path: Path, sqlite_store: Store, clock: Clock, allowed: bool, https: bool, nearby: bool
) -> None:
    site = small_site(tmp_path, staff_over_http=allowed, trusted_hosts=("tablets.lan",))
    app = create_app(site, sqlite_store, clock, features=SHARED_FEATURES)
    base = f"{'https' if https else 'http'}://{'localhost' if nearby else 'tablets.lan'}"
    remote = {"REMOTE_ADDR": "127.0.0.1" if nearby else "192.0.2.7"}
    answer = app.test_client().get("/staff/enrol", base_url=base, environ_base=remote)
    assert answer.status_code == TRANSPORTS[allowed, https, nearby]


def test_a_forged_local_host_from_afar_is_not_this_machine(screen: Screen) -> None:
    answer = screen.get("/staff/enrol", environ_base={"REMOTE_ADDR": "192.0.2.7"})
    assert answer.status_code == 403
    assert "https" in answer.get_data(as_text=True)


@pytest.mark.parametrize("https", [True, False])
def test_cookies_are_strict_unreadable_by_scripts_and_secure_on_https(
    tmp_path: Path, sqlite_store: Store, clock: Clock, now: datetime, https: bool
) -> None:
    site: Site = small_site(tmp_path)
    app = create_app(site, sqlite_store, clock, features=SHARED_FEATURES)
    app.config["PREFERRED_URL_SCHEME"] = "https" if https else "http"  # what the test client speaks
    screen = Screen(app)
    screen.client.environ_base["HTTP_ORIGIN"] = f"{'https' if https else 'http'}://localhost"
    who = hire(sqlite_store, site, now)
    screen.enrol(sqlite_store, site, now)
    screen.sign_in(who)
    for name in ("kiosk_device", "kiosk_person", "kiosk_visit"):
        cookie = screen.client.get_cookie(name)
        assert cookie is not None
        assert (cookie.http_only, cookie.same_site, cookie.secure) == (True, "Strict", https)


def test_named_files_are_kept_for_a_year_and_others_asked_for_again(screen: Screen) -> None:
    assert "max-age=31536000" in screen.get("/static/css/base.css?v=1").headers["Cache-Control"]
    assert screen.get("/static/css/base.css").headers["Cache-Control"] == "no-cache"
