"""Headers, origins, hosts and encrypted connections."""

from __future__ import annotations

from datetime import datetime
from ipaddress import ip_network
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.site.settings import Site, TrustedProxy
from kiosk.store.engine import Store
from kiosk.web.security import trusted_hosts
from tests.actors import Clock, Screen, hire, small_site
from tests.small_app import EACH_DATABASE, SHARED_FEATURES


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
    assert set(screen.get("/static/css/base.css").vary) == {"Accept-Encoding"}


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
        cookie = screen.cookie(name)
        assert cookie is not None
        assert (cookie.http_only, cookie.same_site, cookie.secure) == (True, "Strict", https)


def test_named_files_are_kept_for_a_year_and_others_asked_for_again(screen: Screen) -> None:
    assert "max-age=31536000" in screen.get("/static/css/base.css?v=1").headers["Cache-Control"]
    assert screen.get("/static/css/base.css").headers["Cache-Control"] == "no-cache"


PROXIES = TrustedProxy((ip_network("127.0.0.1/32"), ip_network("10.0.0.0/8")), hops=2)
# (address of the sender, X-Forwarded-For, X-Forwarded-Proto): status of a staff page, address of the client
FORWARDED = {
    ("10.1.2.3", "192.0.2.7, 10.9.9.9", "https, http"): 200,
    ("10.1.2.3", "192.0.2.7, 10.9.9.9", "http, https"): 403,  # as many hops back as stated, no more
    ("10.1.2.3", "192.0.2.7", "https"): 403,  # it came by one proxy only
    ("192.0.2.9", "192.0.2.7, 10.9.9.9", "https, https"): 403,  # anybody may send a header
    ("127.0.0.1", "", ""): 403,  # a proxy that hides its clients is no person at this machine
}


@pytest.mark.parametrize("sent", FORWARDED)
@EACH_DATABASE
def test_only_a_trusted_proxy_is_believed_and_as_many_hops_back_as_stated(
    tmp_path: Path, site_store: Store, clock: Clock, sent: tuple[str, str, str]
) -> None:
    site = small_site(tmp_path, trusted_proxy=PROXIES)
    app = create_app(site, site_store, clock, features=SHARED_FEATURES)
    remote, for_, proto = sent
    headers = {
        name: value for name, value in (("X-Forwarded-For", for_), ("X-Forwarded-Proto", proto)) if value
    }
    answer = app.test_client().get("/staff/enrol", headers=headers, environ_base={"REMOTE_ADDR": remote})
    assert answer.status_code == FORWARDED[sent]
    assert ("Strict-Transport-Security" in answer.headers) == (answer.status_code == 200)


@EACH_DATABASE
def test_a_proxy_that_the_settings_do_not_name_is_named_to_the_owner(screen: Screen) -> None:
    headers = {"X-Forwarded-For": "192.0.2.7", "X-Forwarded-Proto": "https"}
    answer = screen.get("/staff/enrol", headers=headers)
    assert answer.status_code == 403
    assert "[trusted_proxy]" in answer.get_data(as_text=True)
    assert "127.0.0.1" in answer.get_data(as_text=True)


@EACH_DATABASE
def test_two_sites_on_one_host_leave_each_other_s_devices_enrolled(
    tmp_path: Path, site_store: Store, clock: Clock, now: datetime
) -> None:
    screens = []
    hire(site_store, small_site(tmp_path), now)
    for key in ("one", "other"):
        site = small_site(tmp_path, key=key, secret=key.encode() * 8)
        screen = Screen(create_app(site, site_store, clock, features=SHARED_FEATURES))
        screen.enrol(site_store, site, now, name=f"tablet {key}")
        screens.append((screen, site))
    (first, _), (second, _) = screens
    for name in ("kiosk_device", "kiosk_visit"):  # the browser sends the cookies of the host to both
        second.client.set_cookie(first.cookie_name(name), getattr(first.cookie(name), "value", ""))
        first.client.set_cookie(second.cookie_name(name), getattr(second.cookie(name), "value", ""))
    assert [screen.get("/staff/sign-in").status_code for screen, _ in screens] == [200, 200]


@EACH_DATABASE
def test_a_device_of_the_former_version_stays_enrolled_and_gets_the_new_cookie(tablet: Screen) -> None:
    token = getattr(tablet.cookie("kiosk_device"), "value", "")
    tablet.client.delete_cookie(tablet.cookie_name("kiosk_device"))
    tablet.client.set_cookie("kiosk_device", token)
    assert tablet.get("/staff/sign-in").status_code == 200
    assert getattr(tablet.cookie("kiosk_device"), "value", "") == token


@EACH_DATABASE
def test_deep_json_and_an_id_beyond_the_database_s_integers_are_no_fault(tablet: Screen) -> None:
    deep = "[" * 100_000
    answer = tablet.client.post("/staff/taps", data=deep, content_type="application/json")
    assert answer.status_code == 400
    for number in (2**31, 2**63, 10**40):
        assert tablet.client.post(f"/staff/devices/{number}/revoke", json={}).status_code == 404
        assert tablet.get(f"/staff/sign-in?person={number}").status_code == 200
