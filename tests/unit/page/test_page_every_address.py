"""All addresses of the page at once: what strangers and guests get there, and what every answer says of itself."""

import html
import re
import time

import pytest
from page_visitor import browser
from page_yard_for_tests import NOW, page_of

from monitor.model.events import EventKind
from monitor.model.settings import YARD
from monitor.page import PageSettings, load_key
from monitor.page.server.addresses import DONE, SHOWN, SHOWN_AND_DONE, application
from monitor.page.shared.page_context import PageContext

SITE = "Tern Hollow"
WHO, SUPPLIER = "Quillon", "Quillfeather stables"
PARTS = {
    "{place:path}": "p1",
    "{number}": "1",
    "{lot:path}": "L1",
    "{name}": "x.pdf",
    "{photo}": "0" * 64,
    "{token}": "none",
    "{secret}": "none",
}
OPEN = ("/enter", "/guest/none", "/calendar/none/diary.ics", "/bag/none", "/m/none")
"""Addresses at which a stranger gets more than the way to the password."""


def filled(path):
    for part, value in PARTS.items():
        path = path.replace(part, value)
    assert "{" not in path, "a new kind of part: say what stands for it"
    return path


TO_LOOK = sorted(filled(path) for path in (*SHOWN, *SHOWN_AND_DONE))
TO_DO = sorted(filled(path) for path in (*DONE, *SHOWN_AND_DONE))


@pytest.fixture
def guest(open_page):
    """A guest, with the token that the forms of a guest's own session would have."""
    elsewhere, page, _ = open_page
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    found = elsewhere("192.0.2.9")
    found.get(f"/guest/{secret}", follow_redirects=False)
    token = page.sessions.form_token(page.sessions.session_of(found.cookies["heaptender"], 0), 9e9)
    return found, token


def test_strangers_get_nothing_of_the_yard_at_any_address(open_page):
    elsewhere, _, _ = open_page
    assert len(TO_LOOK) > 20
    for path in TO_LOOK:
        answer = elsewhere().get(path, follow_redirects=False)
        assert SITE not in answer.text, path
        if path not in OPEN:
            assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, "/enter"), path
        else:
            assert answer.status_code == (200 if path == "/enter" else 404), path


def test_strangers_do_nothing_at_any_address(open_page, yard):
    elsewhere, page, _ = open_page
    stranger = elsewhere()
    stranger.get("/enter")
    # Even with a token that fits: it shows where a form came from, and gives no rights.
    token = page.sessions.form_token(page.sessions.session_of(stranger.cookies["heaptender"], 0), 9e9)
    before = len(yard.put_in)
    for path in TO_DO:
        answer = stranger.post(path, data={"token": token, "place": "p1", "kind": "turned", "name": "x"})
        assert answer.status_code == {"/enter": 403, "/m/none": 404}.get(path, 401), path
    assert (len(yard.put_in), page.guests.all(), page.calendars.all()) == (before, [], [])


def test_guests_do_nothing_at_any_address(guest, open_page, yard):
    _, page, _ = open_page
    found, token = guest
    before = len(yard.put_in)
    for path in TO_DO:
        if path != "/leave":
            answer = found.post(
                path, data={"token": token, "place": "p1", "kind": "turned", "number": "1", "name": "x"}
            )
            assert answer.status_code == (404 if path == "/m/none" else 403), path
    assert (len(yard.put_in), len(page.guests.all()), page.calendars.all()) == (before, 1, [])


def test_guests_read_nobodys_name_on_any_sheet(guest, open_page, yard):
    def log(kind, place, **fields):
        entry = {"time": NOW - 1, "place": place, "kind": kind, "by": WHO, **fields}
        assert yard.put(EventKind.WORK, entry, again=True).at is not None

    log("delivery", YARD, what="stable litter", amount="100", unit="kg", source=SUPPLIER)
    log("turned", "p1")
    log("watered", "b1", amount="2", unit="L")
    log("away", YARD, contact="ann", start="2026-07-20T08:00:00-04:00", end="2026-07-22T08:00:00-04:00")
    said = {"alarm": "b1/worms-in-danger", "answer": "seen", "by": WHO}
    assert yard.put(EventKind.ANSWER, said).at is not None
    found, _ = guest
    _, _, keeper = open_page
    ann = keeper()
    shown = {path: found.get(path, follow_redirects=False) for path in TO_LOOK}
    looked = [path for path, answer in shown.items() if answer.status_code == 200]
    assert {"/", "/place/p1", "/stock", "/diary", "/mix", "/round"} <= set(looked)
    for path, answer in shown.items():
        assert not re.search(r"Quill|\bAnn\b", html.unescape(answer.text)), path
    named = [path for path in TO_LOOK if "Quill" in ann.get(path, follow_redirects=False).text]
    assert len(named) >= 3, "a keeper reads them"


def test_the_page_has_the_addresses_that_are_listed_and_no_others(yard):
    app, _ = page_of(yard)
    near = browser(app)
    routes = {route.path for route in app._app.routes}
    assert routes == {
        *SHOWN, *DONE, *SHOWN_AND_DONE, "/static/{name}", "/static/whose/{nonce}", "/favicon.ico", "/live",
    }  # fmt: skip
    for path in ("/docs", "/openapi.json", "/admin", "/debug", "/.git/config", "/heaptender.toml", "/page.key"):
        assert near.get(path).status_code == 404, path


@pytest.mark.parametrize(
    "name", ["", "%2e%2e/page.key", "..%2f..%2fheaptender.toml", "styles/page.css", "page.key", "%2e%2e"]
)
def test_only_the_pages_own_files_are_given_out(yard, name):
    app, page = page_of(yard)
    answer = browser(app).get(f"/static/{name}")
    assert answer.status_code == 404
    assert page.key not in answer.content
    assert "icon-512.png" not in answer.text, "no list of what there is"


def test_every_answer_says_what_it_is_and_in_which_letters(near):
    texts = ("text/", "image/svg+xml", "application/openmetrics-text")
    files = ("page.css", "sheet.js", "plot.js", "photo.js", "kept.js", "icon.svg", "icon-180.png", "none.css")
    for path in [*TO_LOOK, *(f"/static/{name}" for name in files), "/static/whose/1", "/favicon.ico", "/nothing"]:
        kind = near.get(path).headers["content-type"]
        if kind.startswith(texts):
            assert kind.endswith("; charset=utf-8"), path
        else:
            assert kind in ("image/png", "application/manifest+json", "application/pdf"), path


def test_no_other_site_may_read_an_answer(near):
    for path in ("/", "/static/page.css", "/place/p1", "/live-not", "/yard.webmanifest"):
        for method in ("GET", "OPTIONS"):
            asked = {"origin": "https://other.example", "access-control-request-method": "POST"}
            headers = near.request(method, path, headers=asked).headers
            assert not [name for name in headers if name.startswith("access-control")], path


@pytest.mark.parametrize("method", ["OPTIONS", "PUT", "DELETE", "PATCH", "TRACE", "PROPFIND"])
def test_other_kinds_of_requests_are_refused_and_noted_once_a_minute(open_page, caplog, method):
    elsewhere, _, _ = open_page
    for path in ("/", "/do/work", "/enter", "/static/page.css"):
        answer = elsewhere().request(method, path)
        assert (answer.status_code, answer.headers["allow"]) == (405, "GET, HEAD, POST")
    noted = [one.getMessage() for one in caplog.records if "of a kind that this page does not know" in one.getMessage()]
    assert noted == ["From 192.0.2.7 came a request of a kind that this page does not know; no browser sends it."]


def test_fields_that_no_form_has_change_nothing(near, yard):
    answer = near.send(
        "/do/work", place="p1", kind="turned", by="Ann", at="1", time="1", source="x", trusted="1", keeps="1",
        standing="keeper", payload="{}",
    )  # fmt: skip
    assert answer.status_code == 303
    (work,) = yard.works()
    assert work["time"] == NOW
    assert not {"at", "trusted", "keeps", "standing", "payload"} & set(work)


def test_signing_in_begins_another_session(open_page):
    elsewhere, page, _ = open_page
    phone = elsewhere()
    phone.get("/enter")
    before = page.sessions.session_of(phone.cookies["heaptender"], 0)
    phone.send("/enter", page="/enter", password="three barrows of leaves")
    after = page.sessions.session_of(phone.cookies["heaptender"], 0)
    assert before
    assert after
    assert before != after, "whoever planted the first cookie has not the second"
    assert len(after) == 16, "12 bytes by chance: 96 bits"


def test_another_name_does_not_prolong_a_session(open_page, monkeypatch):
    _, _, keeper = open_page
    began_s = time.time()
    ann = keeper()
    day_s = 86_400
    monkeypatch.setattr(time, "time", lambda: began_s + 29 * day_s)
    assert ann.send("/name", name="Ann").status_code == 303
    assert "You write as" in ann.get("/").text
    monkeypatch.setattr(time, "time", lambda: began_s + 30 * day_s + 60)
    assert ann.get("/", follow_redirects=False).headers["location"] == "/enter"


def test_password_keepers_find_the_field_and_may_paste(open_page):
    elsewhere, _, _ = open_page
    text = elsewhere().get("/enter").text
    assert re.search(r'<input type="password" name="password" autocomplete="current-password"', text)
    scripts = "".join(
        elsewhere().get(f"/static/{name}").text for name in ("sheet.js", "plot.js", "kept.js", "enter.js")
    )
    assert "paste" not in text + scripts


def test_no_secret_travels_in_an_address_that_a_form_makes(near):
    # Addresses stand in histories and logs.
    sheets = [near.get(path).text for path in TO_LOOK]
    forms = [form for text in sheets for form in re.findall(r"<form[^>]*>.*?</form>", text, re.DOTALL)]
    asking = [form for form in forms if 'method="post"' not in form]
    assert asking
    assert not [form for form in asking if re.search('name="(password|token)"', form)]
    assert [form for form in forms if 'name="token"' in form]


@pytest.mark.parametrize(
    "password", ["žluťoučký kůň  🐎", "only small letters", "1" * 11 + " ", "x" * 128, "\u00a0" * 12]
)
def test_a_password_may_be_of_any_characters(yard, password):
    from monitor.page import hash_password

    app, _ = page_of(yard, password_hash=hash_password(password), link="http://yard.example:8460")
    phone = browser(app, host="yard.example:8460", address="192.0.2.7")
    assert phone.send("/enter", page="/enter", password=password[:-1]).status_code == 403
    assert phone.send("/enter", page="/enter", password=password).status_code == 303


def test_figures_are_a_file_for_programs_that_nothing_keeps(yard, password):
    class Vitals:
        def trouble(self):
            return ""

        def measurements(self):
            return b"# EOF\n"

    token = "0123456789abcdef0123"
    settings = PageSettings(folder=yard.folder, password_hash=password[1], metrics_token=token)
    app = application(PageContext(settings, load_key(yard.folder), yard, yard, vitals=Vitals()))
    headers = browser(app).get("/metrics", headers={"authorization": f"Bearer {token}"}).headers
    assert headers["content-disposition"] == 'attachment; filename="figures.txt"'
    assert headers["cache-control"] == "no-store"
