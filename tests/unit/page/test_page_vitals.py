"""The addresses for programs that watch the daemon: health for everybody, figures for whoever has the token."""

import pytest
from page_visitor import browser
from page_yard_for_tests import page_of

from monitor.page import PageSettings, load_key
from monitor.page.server.addresses import application
from monitor.page.shared.page_context import PageContext

TOKEN = "0123456789abcdef0123"


class Vitals:
    """Signs of life as a test sets them."""

    def __init__(self):
        self.why = ""

    def trouble(self):
        return self.why

    def measurements(self):
        return b"# EOF\n"


@pytest.fixture
def vitals():
    return Vitals()


@pytest.fixture
def stranger(yard, vitals, password):
    """(returns a browser elsewhere in the network of a page with a password)."""

    def come(token=TOKEN):
        settings = PageSettings(folder=yard.folder, password_hash=password[1], metrics_token=token)
        app = application(PageContext(settings, load_key(yard.folder), yard, yard, vitals=vitals))
        return browser(app, address="192.0.2.7")

    return come


def test_a_stranger_hears_whether_the_daemon_stores_and_nothing_of_the_yard(stranger, vitals):
    answer = stranger().get("/health")
    assert (answer.status_code, answer.text) == (200, "The daemon stores what comes in.\n")
    vitals.why = "Nothing could be stored for 75 s; the daemon's log says why."
    answer = stranger().get("/health")
    assert (answer.status_code, answer.text) == (503, vitals.why + "\n")
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize(
    "header", [None, "", "Bearer", "Bearer ", "Bearer wrong", f"Basic {TOKEN}", TOKEN, f"Bearer {TOKEN}x"]
)
def test_figures_need_the_token(stranger, header):
    answer = stranger().get("/metrics", headers={} if header is None else {"authorization": header})
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"
    assert b"EOF" not in answer.content


def test_whoever_sends_the_token_gets_the_figures(stranger):
    answer = stranger().get("/metrics", headers={"authorization": f"bearer {TOKEN}"})
    assert (answer.status_code, answer.content) == (200, b"# EOF\n")
    assert answer.headers["content-type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    assert "set-cookie" not in answer.headers


def test_without_a_token_set_there_are_no_figures_for_anybody(stranger):
    for header in ("Bearer ", "Bearer x"):
        assert stranger("").get("/metrics", headers={"authorization": header}).status_code == 404


def test_nothing_can_be_sent_to_them(stranger):
    """The gate asks for a form of this page first, which a stranger has not."""
    for path in ("/health", "/metrics"):
        assert stranger().post(path, data={}).status_code >= 400


def test_a_page_without_a_daemon_has_neither(yard):
    app, _ = page_of(yard)
    assert browser(app).get("/health").status_code == 404
