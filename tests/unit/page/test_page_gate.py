"""Who may come in, and from where: hosts, forms of others, passwords, guests, headers."""

import html
import json
import re

import pytest
from page_visitor import PASSWORD, browser
from page_yard_for_tests import page_of

from monitor.model.errors import UnavailableError
from monitor.page.visitors.page_key import load_key
from monitor.page.visitors.passwords import fits, hash_password, hash_trouble, kept_hash
from monitor.page.visitors.request_gate import POLICY
from monitor.page.visitors.signed_tokens import SignedTokens
from monitor.page.visitors.tries import Tries


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:8460", "", "[::1"])
def test_a_foreign_name_is_refused(yard, host):
    app, _ = page_of(yard)
    answer = browser(app).get("/", headers={"host": host})
    assert answer.status_code in (400, 421)
    assert "Tern Hollow" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8460", "localhost:8460", "[::1]:8460", "LOCALHOST"])
def test_this_computers_own_names_open_without_a_password(yard, host):
    app, _ = page_of(yard)
    assert browser(app).get("/", headers={"host": host}).status_code == 200


def test_without_a_password_nobody_else_gets_in(yard):
    app, _ = page_of(yard, hosts=("yard.example",), listen="0.0.0.0")
    for host in ("192.0.2.1:8460", "yard.example"):
        assert browser(app, host=host, address="192.0.2.7").get("/").status_code == 403
    # A proxy on this computer speaks for others.
    assert browser(app).get("/", headers={"x-forwarded-for": "192.0.2.7"}).status_code == 403
    # A foreign name that leads here is not this computer's own name.
    assert browser(app).get("/", headers={"host": "yard.example"}).status_code == 403


@pytest.mark.parametrize(
    ("listen", "host"), [("127.0.0.1", "192.0.2.1:8460"), ("192.0.2.9", "192.0.2.1"), ("::1", "[2001:db8::1]")]
)
def test_without_a_password_no_address_is_answered_on_which_it_does_not_listen(yard, password, listen, host):
    app, _ = page_of(yard, listen=listen)
    answer = browser(app).get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Use the address that `heaptender status` shows" in html.unescape(answer.text).replace(
        "<code>", "`"
    ).replace("</code>", "`")
    assert "Tern Hollow" not in answer.text
    for own in (f"[{listen}]" if ":" in listen else listen, "127.0.0.1:8460"):
        assert browser(app).get("/static/page.css", headers={"host": own}).status_code != 421
    with_password, _ = page_of(yard, listen=listen, password_hash=password[1])
    assert browser(with_password).get("/enter", headers={"host": host}).status_code == 200


def test_a_bare_tunnel_that_keeps_the_address_it_was_asked_for_opens_nothing_any_more(yard):
    # Bare HTTP/1.1 through a forwarded port: no header, but the address of another computer's network (attack 10).
    app, _ = page_of(yard)
    assert browser(app).get("/").status_code == 200
    # What comes from elsewhere, a foreign name and 0.0.0.0 (which any site can ask for) prove nothing.
    browser(app, address="192.0.2.7").get("/", headers={"host": "192.0.2.1"})
    browser(app).get("/", headers={"host": "rebound.example"})
    browser(app).get("/", headers={"host": "0.0.0.0:8460"})
    assert browser(app).get("/").status_code == 200
    assert browser(app).get("/", headers={"host": "192.0.2.1:8080"}).status_code == 421
    assert browser(app).get("/", follow_redirects=False).status_code == 403


def test_every_answer_is_strict(near):
    for path in ("/", "/place/p1", "/nothing", "/static/page.css", "/people"):
        headers = near.get(path).headers
        assert headers["content-security-policy"] == POLICY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
    assert near.get("/").headers["cache-control"] == "no-store"
    assert "default-src 'none'" in POLICY
    assert "font-src 'self'" in POLICY
    assert "unsafe" not in POLICY


def test_the_cookie_is_for_the_server_alone(yard):
    app, _ = page_of(yard)
    cookie = browser(app).get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_a_form_needs_a_token_of_this_session(yard, near):
    token = near.token()
    form = {"place": "p1", "kind": "turned"}
    app, _ = page_of(yard)
    other = browser(app)
    other.get("/")
    for client, sent in (
        (near, {}),
        (near, {"token": "x"}),
        # Not its last letter, of which not every bit counts.
        (near, {"token": token[:-6] + ("A" if token[-6] != "A" else "B") + token[-5:]}),
        (other, {"token": token}),
    ):
        assert client.post("/do/work", data={**form, **sent}).status_code == 403
    without = browser(app)
    assert without.post("/do/work", data={**form, "token": token}).status_code == 403
    assert yard.put_in == []


@pytest.mark.parametrize("headers", [
    {"origin": "http://evil.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"},
])  # fmt: skip
def test_a_form_of_another_site_is_refused(yard, near, headers):
    form = {"place": "p1", "kind": "turned", "token": near.token()}
    assert near.post("/do/work", data=form, headers=headers).status_code == 403
    assert yard.put_in == []


def test_a_body_that_is_no_form_or_too_long_is_refused(yard, near):
    token = near.token()
    assert near.post("/do/work", json={"place": "p1", "kind": "turned", "token": token}).status_code == 413
    long = {"place": "p1", "kind": "note", "token": token, "note": "x" * 70_000}
    assert near.post("/do/work", data=long).status_code == 413
    assert near.put("/do/work").status_code == 405
    assert yard.put_in == []


def test_the_password_lets_in_and_names_who(open_page, yard):
    elsewhere, _, _ = open_page
    phone = elsewhere()
    assert phone.get("/", follow_redirects=False).headers["location"] == "/enter"
    assert phone.get("/place/p1", follow_redirects=False).headers["location"] == "/enter?next=/place/p1"
    assert phone.get("/live").status_code == 401
    assert phone.post("/do/work", data={"place": "p1", "kind": "turned"}).status_code == 401
    answer = phone.send("/enter", page="/enter", name="Ann", password=PASSWORD, next="/place/p1")
    assert answer.headers["location"] == "/place/p1"
    phone.send("/do/work", place="p1", kind="turned")
    assert yard.works()[0]["by"] == "Ann"
    phone.send("/leave")
    assert phone.get("/", follow_redirects=False).status_code == 303


def test_the_password_leads_nowhere_else(open_page):
    elsewhere, _, _ = open_page
    for onward in ("https://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)"):
        answer = elsewhere().send("/enter", page="/enter", password=PASSWORD, next=onward)
        assert answer.headers["location"] == "/"


def test_guessing_is_slowed_down_for_one_address(open_page):
    elsewhere, page, _ = open_page
    page.tries = Tries(lambda: 1_000.0)  # the clock stands still, however slow the machine is
    phone = elsewhere()
    codes = [phone.send("/enter", page="/enter", password=f"guess {n}").status_code for n in range(7)]
    assert codes[:5] == [403] * 5
    assert codes[5] == 429
    assert phone.send("/enter", page="/enter", password=PASSWORD).status_code == 429
    assert elsewhere("192.0.2.8").send("/enter", page="/enter", password=PASSWORD).status_code == 303
    assert page.tries.wait_s("192.0.2.7") > 0


def test_a_session_ends_when_the_password_changes(yard, open_page):
    elsewhere, _, _ = open_page
    phone = elsewhere()
    phone.send("/enter", page="/enter", password=PASSWORD)
    assert phone.get("/").status_code == 200
    app, _ = page_of(yard, password_hash=hash_password("another one altogether"), link="http://yard.example:8460")
    later = browser(app, host="yard.example:8460", address="192.0.2.7")
    later.cookies = phone.cookies
    assert later.get("/", follow_redirects=False).status_code == 303


def test_a_guest_looks_and_does_nothing_until_the_link_is_withdrawn(open_page, yard):
    elsewhere, page, near = open_page
    keeper = near()
    keeper.send("/do/work", place="p1", kind="watered", by="Ann")
    made = keeper.send("/do/guest", page="/people", name="The neighbours")
    path = re.search(r"/guest/[\w-]+", made.text)[0]
    guest = elsewhere("192.0.2.9")
    assert guest.get(path, follow_redirects=False).headers["location"] == "/"
    assert guest.get("/place/p1").status_code == 200
    text = guest.get("/place/p1").text
    assert "watered" in text
    assert "Ann" not in text
    assert "Turning now" not in text
    assert guest.get("/people").status_code == 403
    for named in ("/before", "/away", "/certificate/x.pdf"):
        assert guest.get(named).status_code in (403, 404)
        assert "Ann" not in guest.get(named).text
    token = page.sessions.form_token(page.sessions.session_of(guest.cookies["heaptender"], 0.0), 1e12)
    before = len(yard.put_in)
    assert guest.post("/do/work", data={"place": "p1", "kind": "turned", "token": token}).status_code == 403
    assert guest.post("/do/guest", data={"name": "more", "token": token}).status_code == 403
    assert len(yard.put_in) == before
    keeper.send("/do/withdraw", page="/people", number="1")
    assert guest.get("/", follow_redirects=False).status_code == 303
    assert elsewhere("192.0.2.10").get(path, follow_redirects=False).status_code == 404


def test_the_secret_of_a_guest_link_is_not_kept(open_page, tmp_path):
    _, _, near = open_page
    made = near().send("/do/guest", page="/people", name="x")
    secret = re.search(r"/guest/([\w-]+)", made.text)[1]
    kept = (tmp_path / "page-guests.json").read_text()
    assert secret not in kept
    assert json.loads(kept)[0]["name"] == "x"
    assert (tmp_path / "page-guests.json").stat().st_mode & 0o077 == 0


def test_the_key_is_for_its_owner_and_stays(tmp_path):
    key = load_key(tmp_path)
    assert load_key(tmp_path) == key
    assert (tmp_path / "page.key").stat().st_mode & 0o077 == 0


def test_a_token_fits_one_purpose_and_ends():
    one, other = SignedTokens(b"k" * 32, "one"), SignedTokens(b"k" * 32, "other")
    token = one.sign(["a", 1], 100)
    assert one.read(token, 99.9) == ["a", 1]
    assert one.read(token, 100) is None
    assert other.read(token, 0) is None
    for end in range(len(token)):
        assert one.read(token[:end], 0) is None
    assert one.read("é.é", 0) is None


def test_a_token_in_which_anything_was_changed_is_none_of_ours():
    tokens = SignedTokens(b"k" * 32, "one")
    for value in ({"session": "a" * 16}, ["long enough to be packed"] * 40):
        token = tokens.sign(value, 100)
        assert tokens.read(token, 0) == value
        # The last sign of the signature carries two bits that mean nothing.
        for place in range(len(token) - 1):
            other = "A" if token[place] != "A" else "B"
            assert tokens.read(f"{token[:place]}{other}{token[place + 1 :]}", 0) is None
    assert SignedTokens(b"l" * 32, "one").read(token, 0) is None


def test_a_hash_knows_its_password():
    kept = hash_password("barrow")
    assert hash_trouble(kept) == hash_trouble("in plain words") == ""
    assert kept_hash(kept, b"key") == kept
    assert fits("barrow", kept)
    assert not fits("barrows", kept)
    assert "begins as a hash and is none" in hash_trouble("scrypt$x")
    assert "costs too much" in hash_trouble("scrypt$1048576$64$1$AAAA$AAAA")
    with pytest.raises(UnavailableError, match="let `heaptender password` make one"):
        kept_hash("scrypt$x", b"key")


def test_waits_double_and_are_forgotten():
    now = [0.0]
    tries = Tries(lambda: now[0])
    for _ in range(5):
        assert tries.wait_s("a") == 0
        tries.failed("a")
    tries.failed("a")
    first = tries.wait_s("a")
    now[0] += first
    tries.failed("a")
    assert tries.wait_s("a") == 2 * first
    now[0] += 3601
    assert tries.wait_s("a") == 0


def test_guesses_from_many_addresses_are_slowed_down_together():
    now = [0.0]
    tries = Tries(lambda: now[0])
    for n in range(80):
        tries.failed(f"address {n}")
    assert tries.wait_s("a fresh one") > 0


def test_a_guest_whose_link_is_withdrawn_is_told(open_page):
    elsewhere, _, near = open_page
    keeper, guest = near(), elsewhere("192.0.2.9")
    made = keeper.send("/do/guest", page="/people", name="x")
    guest.get(re.search(r"/guest/[\w-]+", made.text)[0])
    assert "not in force" not in guest.get("/").text
    keeper.send("/do/withdraw", page="/people", number="1")
    assert "Your guest link is not in force any more" in guest.get("/").text
    assert "not in force" not in elsewhere("192.0.2.10").get("/").text


def test_what_the_gate_refuses_is_escaped_and_leads_on(near):
    token = near.token()
    for back, leads in (("/place/p1", "/place/p1"), ("//evil.example", "/"), ('/"><b>', "/&#34;&gt;&lt;b&gt;")):
        answer = near.post("/do/work", data={"token": "x" + token, "place": "p1", "kind": "turned", "back": back})
        assert answer.status_code == 403
        assert f'class="onward" href="{leads}"' in answer.text
        assert "style-src 'self'" in answer.headers["content-security-policy"]
    answer = near.get("/", headers={"host": "rebound.example"})
    assert answer.status_code == 421
    assert "rebound.example" in answer.text
    assert "/static/" not in answer.text
