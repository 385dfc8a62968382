"""Who counts as sitting at the yard's computer, what ends a session, and what strangers may ask without doing harm."""

import re
import string
from urllib.parse import quote

import page_yard_for_tests
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from page_visitor import PASSWORD, browser, signed_in
from page_yard_for_tests import page_of

from monitor.page.server.client_connections import most_connections, network_of
from monitor.page.visitors.page_key import load_key
from monitor.page.visitors.passwords import fits, hash_password, kept_hash
from monitor.page.visitors.tries import ALL_TRIES, Tries

HTTPS = "https://yard.example"


@pytest.mark.parametrize(
    "leads",
    [{"link": HTTPS}, {"link": "http://192.0.2.1:8460"}, {"hosts": ("yard.example",)}, {"listen": "0.0.0.0"}],
)
def test_nobody_is_near_once_the_page_leads_elsewhere(yard, password, leads):
    # A web server or tunnel on this computer, which says nothing of whom it speaks for (attack 10).
    app, _ = page_of(yard, password_hash=password[1], **leads)
    answer = browser(app).get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
    assert browser(app).post("/do/work", data={"place": "p1", "kind": "turned"}).status_code == 401
    assert yard.works() == []


@pytest.mark.parametrize("header", ["x-forwarded-for", "forwarded", "x-real-ip", "via", "x-forwarded-proto"])
def test_nobody_is_near_once_a_request_was_passed_on(yard, header):
    app, _ = page_of(yard)
    assert browser(app).get("/").status_code == 200
    # Only a program on this computer can be a proxy of it; a word from elsewhere changes nothing.
    browser(app, host="192.0.2.1:8460", address="192.0.2.7").get("/", headers={header: "192.0.2.7"})
    assert browser(app).get("/", follow_redirects=False).status_code == 200
    assert browser(app).get("/", headers={header: "192.0.2.7"}, follow_redirects=False).status_code == 403
    assert browser(app).get("/", follow_redirects=False).status_code == 403


def test_a_password_that_is_set_is_asked_for_at_this_computer_too(yard, password):
    # A bare tunnel or web server hides that it passes on: whoever sets a password expects it to be asked (attack 10).
    app, _ = page_of(yard, password_hash=password[1])
    assert browser(app).get("/", follow_redirects=False).headers["location"] == "/enter"
    assert browser(app).post("/do/work", data={"place": "p1", "kind": "turned"}).status_code == 401
    assert signed_in(app, host="127.0.0.1:8460", address="127.0.0.1").get("/").status_code == 200


def test_signing_out_ends_the_session_wherever_its_cookie_is(open_page, yard, password):
    elsewhere, _, keeper = open_page
    phone = keeper()
    stolen = elsewhere()
    stolen.cookies = phone.cookies
    assert stolen.get("/", follow_redirects=False).status_code == 200
    phone.send("/leave")
    assert stolen.get("/", follow_redirects=False).status_code == 303
    # ... and also after a restart.
    again, _ = page_of(yard, password_hash=password[1], link="http://yard.example:8460")
    later = browser(again, host="yard.example:8460", address="192.0.2.7")
    later.cookies = stolen.cookies
    assert later.get("/", follow_redirects=False).status_code == 303


def test_cookies_of_a_page_by_https_never_travel_in_the_open(yard, password):
    app, _ = page_of(yard, password_hash=password[1], link=HTTPS)
    headers = browser(app, host="yard.example", address="192.0.2.7").get("/enter").headers
    assert headers["set-cookie"].startswith("__Host-heaptender=")
    assert "; Secure" in headers["set-cookie"]
    assert headers["strict-transport-security"].startswith("max-age=")
    plain, _ = page_of(yard)
    answer = browser(plain).get("/").headers
    assert "Secure" not in answer["set-cookie"]
    assert "strict-transport-security" not in answer


def test_a_plain_password_signs_nobody_out_at_the_next_start(yard):
    key = load_key(yard.folder)
    first, second = kept_hash(PASSWORD, key), kept_hash(PASSWORD, key)
    assert first == second
    assert fits(PASSWORD, first)
    assert kept_hash(PASSWORD, b"another key" * 3) != first
    assert kept_hash(first, key) == first
    app, _ = page_of(yard, password_hash=first, link="http://yard.example")
    phone = signed_in(app, host="yard.example")
    again, _ = page_of(yard, password_hash=second, link="http://yard.example")
    back = browser(again, host="yard.example", address="192.0.2.20")
    back.cookies = phone.cookies
    assert back.get("/", follow_redirects=False).status_code == 200


def test_guest_links_that_nobody_holds_do_not_lock_the_password(open_page):
    elsewhere, page, _ = open_page
    for n in range(ALL_TRIES + 10):
        elsewhere(f"192.0.2.{n % 20 + 30}").get(f"/guest/none-{n}")
    assert page.tries.wait_s("192.0.2.7") == 0
    assert elsewhere().send("/enter", page="/enter", password=PASSWORD).status_code == 303


def test_who_guesses_by_way_of_a_web_server_makes_nobody_else_wait(yard, password):
    app, page = page_of(yard, password_hash=password[1], link="http://yard.example")
    page.tries = Tries(lambda: 1_000.0)

    def tried(said, word, address="127.0.0.1"):
        one = browser(app, host="yard.example", address=address)
        token = one.token("/enter")
        return one.post(
            "/enter", data={"token": token, "password": word}, headers={"x-forwarded-for": said}, follow_redirects=False
        ).status_code

    assert [tried("192.0.2.66", f"guess {n}") for n in range(6)] == [403] * 5 + [429]
    # Words of the guesser's own before the web server's change nothing, and neither do those of somebody elsewhere.
    assert tried("192.0.2.1, 192.0.2.66", PASSWORD) == 429
    assert tried("192.0.2.7", PASSWORD) == 303
    assert [tried(f"192.0.2.{n}", f"guess {n}", "192.0.2.99") for n in range(6)] == [403] * 5 + [429]


def test_a_password_that_is_too_long_is_no_password():
    # scrypt would take the bytes beyond a limit for nothing; so none are dropped (ASVS 2.1.3)
    kept = hash_password("x" * 128)
    assert fits("x" * 128, kept)
    assert not fits("x" * 129, kept)


def test_addresses_that_count_as_one():
    assert network_of("127.0.0.1") == network_of("127.9.9.9") == network_of("::1") == network_of("::ffff:127.0.0.1")
    assert network_of("2001:db8::1") == network_of("2001:db8::ffff")
    assert network_of("2001:db8::1") != network_of("2001:db8:0:1::1")
    assert network_of("192.0.2.1") != network_of("192.0.2.2")
    assert 8 <= most_connections() <= 160


def test_an_id_with_a_slash_has_its_page(tmp_path, monkeypatch):
    toml = page_yard_for_tests.TOML.replace("[bins.b1]", '[bins."shed/b1"]').replace(
        'place = "b1"', 'place = "shed/b1"'
    )
    monkeypatch.setattr(page_yard_for_tests, "TOML", toml)
    yard = page_yard_for_tests.TestYard(tmp_path)
    try:
        app, _ = page_of(yard)
        near = browser(app)
        assert "Sunny wall bin" in near.get("/place/shed/b1").text
        answer = near.send("/do/work", page="/place/shed/b1", place="shed/b1", kind="watered")
        assert answer.status_code == 303
        assert near.get(answer.headers["location"]).status_code == 200
        assert all(
            near.get(link).status_code == 200 for link in set(re.findall(r'href="(/place/[^"#]+)"', near.get("/").text))
        )
    finally:
        yard.close()


ODD = st.text(alphabet=string.printable + "äß\u202e\x00\x7f%/\\", max_size=60)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    path=ODD,
    query=ODD,
    name=st.sampled_from(["cookie", "origin", "sec-fetch-site", "content-type", "accept"]),
    value=ODD,
)
def test_whatever_a_stranger_asks_is_answered(open_page, caplog, path, query, name, value):
    elsewhere, _, _ = open_page
    stranger = elsewhere()
    odd = {name: value.encode("utf-8", "replace").hex()}
    for start in ("/", "/guest/", "/m/", "/enter", "/static/", "/place/", "/certificate/"):
        address = f"{start}{quote(path, safe='/%')}?next={quote(query, safe='%')}"
        assert stranger.get(address, headers=odd, follow_redirects=False).status_code < 500, address
    form = {"content-type": "application/x-www-form-urlencoded"}
    assert stranger.post("/enter", content=query.encode("utf-8", "replace"), headers=form).status_code < 500
    assert not [one for one in caplog.records if one.exc_info]
