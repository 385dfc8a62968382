"""What the gate lets through to the last byte, what it refuses beyond, and what it says to whom."""

import asyncio

import pytest
from page_visitor import PASSWORD, browser
from page_yard_for_tests import page_of

from monitor.page.visitors.form_reading import BODY_MOST, FIELDS_MOST
from monitor.page.visitors.request_gate import HEADERS

FORM = "application/x-www-form-urlencoded"
TOO_LONG = "That is no form of this page, or it is too long."


def sent(near, body, kind=FORM):
    """Send a body to the name's form, which takes any text."""
    return near.post("/name", content=body, headers={"content-type": kind}, follow_redirects=False)


def body_of(near, size):
    start = f"token={near.token()}&name="
    return start + "x" * (size - len(start))


def test_a_form_of_64_kb_is_the_longest(near):
    assert sent(near, body_of(near, 64 * 1024)).status_code == 303
    answer = sent(near, body_of(near, 64 * 1024 + 1))
    assert (answer.status_code, TOO_LONG in answer.text) == (413, True)
    assert BODY_MOST == 64 * 1024


def test_a_form_has_two_hundred_fields_at_most_and_of_one_sent_twice_the_first_counts(near):
    token = f"token={near.token()}"
    assert sent(near, f"{token}&name=Ann&name=Eve" + "&more=" * (FIELDS_MOST - 3)).status_code == 303
    assert "You write as" in near.get("/").text
    assert ">Ann</a>" in near.get("/").text
    assert sent(near, token + "&more=" * FIELDS_MOST).status_code == 413


@pytest.mark.parametrize(
    ("kind", "code"), [(FORM, 303), (f"{FORM}; charset=utf-8", 303), ("text/plain", 413), ("", 413)]
)
def test_only_plain_forms_are_read(near, kind, code):
    assert sent(near, f"token={near.token()}&name=Ann", kind).status_code == code


def test_what_is_no_text_is_no_form(near):
    assert sent(near, f"token={near.token()}&name=".encode() + b"\xff").status_code == 413


@pytest.mark.parametrize(
    ("headers", "code"),
    [
        ({}, 303),
        ({"origin": "http://127.0.0.1:8460"}, 303),
        ({"origin": "HTTP://127.0.0.1:8460"}, 303),
        ({"sec-fetch-site": "same-origin"}, 303),
        ({"sec-fetch-site": "none"}, 303),
        ({"sec-fetch-site": "same-origin", "origin": "http://127.0.0.1:8461"}, 403),
        ({"sec-fetch-site": "cross-site", "origin": "http://127.0.0.1:8460"}, 403),
    ],
)
def test_a_form_comes_from_the_page_itself_as_far_as_the_browser_says(near, headers, code):
    answer = near.post("/name", data={"token": near.token(), "name": "Ann"}, headers=headers, follow_redirects=False)
    assert answer.status_code == code
    assert ("This form came from another site; nothing was done." in answer.text) is (code == 403)


def test_every_answer_bears_all_headers_and_no_cache_keeps_what_shows_the_yard(near):
    for path, kept in (("/", "no-store"), ("/static/page.css", "public, max-age=31536000, immutable")):
        answer = near.get(path)
        assert {name: answer.headers[name] for name in HEADERS} == dict(HEADERS)
        assert answer.headers["cache-control"] == kept
    assert near.request("HEAD", "/").status_code in (200, 404, 405)
    for method in ("PUT", "DELETE", "OPTIONS"):
        answer = near.request(method, "/")
        assert (answer.status_code, "That is not done here." in answer.text) == (405, True)


def test_a_file_brings_no_cookie_and_a_sheet_a_private_one_for_thirty_days(yard):
    app, _ = page_of(yard)
    assert "set-cookie" not in browser(app).get("/static/page.css").headers
    cookie = browser(app).get("/").headers["set-cookie"]
    assert cookie.startswith("heaptender=")
    assert cookie.endswith("; Path=/; Max-Age=2592000; HttpOnly; SameSite=Lax")


def test_strict_transport_is_asked_for_a_year(yard, password):
    app, _ = page_of(yard, password_hash=password[1], link="https://yard.example")
    headers = browser(app, host="yard.example").get("/enter").headers
    assert headers["strict-transport-security"] == "max-age=31536000"


def test_a_stranger_is_asked_for_the_password_and_led_on(open_page):
    elsewhere, _, _ = open_page
    stranger = elsewhere()
    assert stranger.get("/place/p%201?x=1", follow_redirects=False).headers["location"] == "/enter?next=/place/p%201"
    for answer in (stranger.get("/live"), stranger.post("/do/work"), stranger.post("/")):
        assert answer.status_code == 401
        assert "The password is asked for first; nothing was done." in answer.text
        assert '<a class="onward" href="/enter">Come in</a>' in answer.text
        assert 'href="/static/page.css?' in answer.text
    assert stranger.get("/static/icon.svg").status_code == 200
    assert stranger.get("/favicon.ico").headers["content-type"].startswith("image/svg+xml")


def test_a_stranger_where_no_password_is_set_is_told_how_to_open_the_page(yard):
    app, _ = page_of(yard)
    answer = browser(app, host="192.0.2.1", address="192.0.2.7").get("/enter")
    assert answer.status_code == 421
    answer = browser(app, address="192.0.2.7").get("/", follow_redirects=False)
    assert answer.status_code == 403
    assert "<h1>Not from here</h1>" in answer.text
    assert "Set a password (`page.password_file`) and restart the daemon" in answer.text


def test_a_wrong_name_is_said_back_shortened(near):
    answer = near.get("/", headers={"host": "x" * 80})
    assert (answer.status_code, "<h1>Wrong name</h1>" in answer.text) == (421, True)
    assert f"“{'x' * 60}”" in answer.text
    assert "set-cookie" not in answer.headers


def test_an_old_form_leads_back_to_its_sheet(near):
    answer = near.post("/do/work", data={"token": "old", "back": "/place/p1?span=day"})
    assert answer.status_code == 403
    assert "This sheet was opened too long ago, so nothing was written down." in answer.text
    assert '<a class="onward" href="/place/p1?span=day">Open it again</a>' in answer.text
    assert 'href="/">Open it again</a>' in near.post("/do/work", data={"token": "old"}).text


def test_a_guest_may_sign_out_and_nothing_else(open_page):
    elsewhere, page, _ = open_page
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    guest = elsewhere()
    assert guest.get(f"/guest/{secret}", follow_redirects=False).headers["location"] == "/"
    text = guest.get("/").text
    assert "You may look; writing down is for those who keep the yard." in text
    assert 'href="/labels"' not in text
    session = page.sessions.session_of(guest.cookies["heaptender"], 0)
    token = page.sessions.form_token(session, 9e9)
    answer = guest.post("/name", data={"token": token, "name": "Eve"})
    assert (answer.status_code, "Your link is for looking only; nothing was done." in answer.text) == (403, True)
    assert '<a class="onward" href="/">To the yard</a>' in answer.text
    assert guest.post("/leave", data={"token": token}, follow_redirects=False).status_code == 303
    assert guest.get("/", follow_redirects=False).headers["location"] == "/enter"


def asked(app, scope, *bodies):
    """Return the messages that an application sends for a scope, of which the bodies come before the line is cut."""
    messages, parts = [], list(bodies)

    async def receive():
        return parts.pop(0) if parts else {"type": "http.disconnect"}

    async def send(message):
        messages.append(message)

    asyncio.run(app(scope, receive, send))
    return messages


def http(method="GET", path="/", headers=((b"host", b"127.0.0.1:8460"),), **more):
    return {
        "type": "http", "http_version": "1.1", "method": method, "path": path, "raw_path": path.encode(),
        "query_string": b"", "headers": list(headers), "client": ("127.0.0.1", 1), "scheme": "http",
        "server": ("127.0.0.1", 8460), "root_path": "", **more,
    }  # fmt: skip


def status(app, scope):
    return asked(app, scope)[0]["status"]


def test_two_hosts_or_none_are_refused_and_so_is_a_line_of_another_kind(yard):
    app, _ = page_of(yard)
    host = (b"host", b"127.0.0.1:8460")
    assert status(app, http(headers=[host])) == 200
    assert status(app, http(headers=[host, host])) == 421
    assert status(app, http(headers=[])) == 421
    assert asked(app, {"type": "websocket", "headers": [host]}) == []
    assert status(app, http(http_version="1.0")) == 403, "a program passed it on"
    assert status(app, http()) == 403


def test_without_an_address_nobody_is_near(yard):
    app, _ = page_of(yard)
    assert status(app, http(client=None)) == 403


def test_a_form_that_breaks_off_is_refused(yard):
    app, _ = page_of(yard)
    headers = [(b"host", b"127.0.0.1:8460"), (b"content-type", FORM.encode())]
    assert status(app, http("POST", "/do/work", headers)) == 413


def test_a_form_may_come_in_pieces_of_which_the_last_need_not_say_so(yard):
    app, _ = page_of(yard)
    headers = [(b"host", b"127.0.0.1:8460"), (b"content-type", FORM.encode())]
    first = {"type": "http.request", "body": b"token=old&", "more_body": True}
    (start, *_) = asked(app, http("POST", "/do/work", headers), first, {"type": "http.request", "body": b"kind=turned"})
    assert start["status"] == 403, "read to its end, and too old"


def test_the_daemons_own_names_open_the_page(yard, password):
    app, _ = page_of(yard, password_hash=password[1], link="http://Yard.Example:8460", hosts=("shed.example",))
    for host, code in (("yard.example", 200), ("shed.example:1", 200), ("other.example", 421)):
        assert browser(app, host=host).get("/enter").status_code == code


def test_wrong_passwords_are_told_with_the_wait_and_the_name_stays(open_page):
    from monitor.page.visitors.tries import Tries

    elsewhere, page, _ = open_page
    now = [1_000.0]
    page.tries = Tries(lambda: now[0])
    phone = elsewhere()
    assert phone.get("/enter?next=/place/p1").text.count('name="next" value="/place/p1"') == 1
    for _ in range(5):
        answer = phone.send("/enter", page="/enter", password="x", name="Ann", next="/place/p1")
        assert answer.status_code == 403
        assert "That is not the password. Mind capitals, and try again." in answer.text
        assert 'name="name" maxlength="40" autocomplete="name" value="Ann"' in answer.text
        assert 'name="next" value="/place/p1"' in answer.text
    for passed_s, words in ((0.0, "Wait 2 s"), (1.7, "Wait 1 s")):
        now[0] = 1_000.0 + passed_s
        answer = phone.send("/enter", page="/enter", password=PASSWORD)
        assert (answer.status_code, f"Too many tries. {words}, then try again." in answer.text) == (429, True)
    now[0] = 1_002.0
    answer = phone.send("/enter", page="/enter", password=PASSWORD, next="/place/p1")
    assert (answer.status_code, answer.headers["location"]) == (303, "/place/p1")
    assert phone.get("/enter?next=/labels", follow_redirects=False).headers["location"] == "/labels"
    now[0] = 1_003.0
    for _ in range(4):
        elsewhere().send("/enter", page="/enter", password="x")
    assert page.tries.wait_s("192.0.2.7") == 0.0, "the right password began the count anew"


@pytest.mark.parametrize(("wait_s", "words"), [(89.9, "90 s"), (90, "2 min"), (899, "15 min"), (0.2, "1 s")])
def test_a_wait_is_said_in_seconds_or_minutes(open_page, wait_s, words):
    elsewhere, page, _ = open_page
    page.tries.wait_s = lambda address: wait_s
    assert f"Wait {words}, then" in elsewhere().send("/enter", page="/enter", password=PASSWORD).text


def test_no_password_is_taken_where_none_is_set(yard):
    app, _ = page_of(yard, link="http://yard.example:8460")
    stranger = browser(app, host="yard.example:8460", address="192.0.2.7")
    for password in ("", "x"):
        assert stranger.send("/enter", page="/enter", password=password).status_code == 403


def test_a_name_is_kept_in_the_same_session_and_leads_back(open_page):
    _, page, keeper = open_page
    ann = keeper()
    before = page.sessions.session_of(ann.cookies["heaptender"], 0)
    answer = ann.send("/name", name=" Ann ", back="/place/p1")
    assert answer.headers["location"] == "/place/p1"
    assert page.sessions.session_of(ann.cookies["heaptender"], 0) == before
    assert "You write as" in ann.get("/").text
    assert ann.send("/name", name="Bo").headers["location"] == "/people"
    answer = ann.send("/leave")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert page.sessions.session_of(ann.cookies["heaptender"], 0) != before


def test_guessed_guest_links_are_slowed_down_and_a_right_one_waits_too(open_page):
    from monitor.page.visitors.tries import Tries

    elsewhere, page, _ = open_page
    now = [0.0]
    page.guest_tries = Tries(lambda: now[0])
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    phone = elsewhere()
    for number in range(5):
        answer = phone.get(f"/guest/guess-{number}")
        assert answer.status_code == 404
        assert "<h1>The link has ended</h1>" in answer.text
        assert "This guest link is not in force any more." in answer.text
    assert phone.get(f"/guest/{secret}", follow_redirects=False).status_code == 404
    assert page.guest_tries.wait_s("192.0.2.7") == 2.0, "a try while waiting lengthens nothing"
    now[0] = 2.0
    assert phone.get(f"/guest/{secret}", follow_redirects=False).status_code == 303


def test_guest_links_are_withdrawn_by_their_number(near):
    made = near.send("/do/guest", name="  ")
    assert "a guest, made 08:00 by a keeper" in made.text
    assert "There is no guest link yet." not in made.text
    for wrong in ("", "x", "2"):
        assert near.send("/do/withdraw", number=wrong).headers["location"] == "/people"
        assert "a guest, made 08:00 by a keeper" in near.get("/people").text
    near.send("/do/withdraw", number="1")
    assert "There is no guest link yet." in near.get("/people").text


def test_guest_links_that_cannot_be_kept_are_told_on_the_sheet_of_people(near, yard):
    near.send("/do/guest", name="a neighbour")
    (yard.folder / "page-guests.json").unlink()
    (yard.folder / "page-guests.json").mkdir()
    for answer in (near.send("/do/guest", name="another"), near.send("/do/withdraw", number="1")):
        assert answer.status_code == 400
        assert "page-guests.json cannot be written" in answer.text
        assert "a neighbour, made 08:00" in answer.text
    assert "another" not in near.get("/people").text
