"""The page's web server on loopback: where it listens, whom it cuts off, whose it is, and its faults."""

import asyncio
import logging
import re
import resource
import socket
import time
from contextlib import closing, suppress
from dataclasses import replace
from types import SimpleNamespace

import pytest

from monitor.model.errors import MisuseError, UnavailableError
from monitor.page import PageServer, PageSettings, is_ours
from monitor.page.server import client_connections, live_updates, page_server
from monitor.page.server.client_connections import Connection, QuietFaults, most_connections, network_of
from monitor.page.server.whose_page import proof

GET = b"GET /static/icon.svg HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n"


@pytest.fixture
def serve(yard):
    """Return a function that starts a page on a free port."""
    made = []

    def start(**more):
        settings = PageSettings(folder=yard.folder, **{"port": 0, **more})
        made.append(PageServer(settings, yard, yard))
        return made[-1], made[-1].start()

    yield start
    for one in made:
        one.stop()


def ask(port, text=GET, host="127.0.0.1"):
    """Return the answer to raw bytes; b"" where the line is cut."""
    with closing(socket.create_connection((host, port), 5)) as line:
        with suppress(OSError):
            line.sendall(text)
            return line.recv(65_536)
        return b""


def test_it_listens_where_its_settings_say_and_stops(serve):
    server, port = serve()
    assert server.page.settings.link == f"http://127.0.0.1:{port}"
    assert server.page.settings.port == port
    answer = ask(port).lower()
    assert answer.startswith(b"http/1.1 200")
    assert b"\r\ndate: " in answer
    assert b"\r\nserver:" not in answer
    began = time.monotonic()
    server.stop()
    assert time.monotonic() - began < 2
    with pytest.raises(ConnectionError):
        ask(port)


def test_open_lines_are_ended_properly_when_the_server_stops(serve, monkeypatch):
    monkeypatch.setattr(live_updates, "LOOK_S", 0.02)
    monkeypatch.setattr(page_server, "LOOK_S", 0.02)
    server, port = serve()
    heard = b""
    with closing(socket.create_connection(("127.0.0.1", port), 5)) as line:
        line.sendall(GET.replace(b"/static/icon.svg", b"/live"))
        while b"event: alive" not in heard:
            heard += line.recv(65_536)
        time.sleep(0.1)
        server.stop()
        while more := line.recv(65_536):
            heard += more
    assert heard.count(b"event: alive") == 1, "it went on while the server ran"
    assert heard.endswith(b"0\r\n\r\n"), "the last piece, not a cut"


def test_a_request_that_was_passed_on_is_taken_as_it_came(serve):
    _, port = serve()
    get = GET.replace(b"/static/icon.svg", b"/")
    assert ask(port, get).startswith(b"HTTP/1.1 200")
    passed_on = get.replace(b"\r\n\r\n", b"\r\nx-forwarded-for: 192.0.2.7\r\n\r\n")
    assert ask(port, passed_on).startswith(b"HTTP/1.1 403"), "no word of a proxy is believed"
    assert ask(port, get).startswith(b"HTTP/1.1 403"), "now everybody is asked"


@pytest.mark.parametrize(("size", "code"), [(31 * 1024, b"200"), (34 * 1024, b"400")])
def test_a_head_that_does_not_end_is_refused_beyond_32_kb(serve, size, code):
    _, port = serve()
    with closing(socket.create_connection(("127.0.0.1", port), 5)) as line:
        line.sendall(GET[:-2] + b"x: " + b"y" * size)
        time.sleep(0.1)
        with suppress(OSError):
            line.sendall(b"\r\n\r\n")
        assert line.recv(65_536).startswith(b"HTTP/1.1 " + code)


def test_the_port_of_its_settings_keeps_the_link_as_it_stands(serve):
    with closing(socket.socket()) as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    server, found = serve(port=port, link="http://127.0.0.1:8460/as-set")
    assert (found, server.page.settings.link) == (port, "http://127.0.0.1:8460/as-set")


def test_a_port_that_is_taken_is_told_or_another_is_found(serve):
    _, taken = serve()
    with pytest.raises(
        UnavailableError, match=f"the page cannot listen on 127.0.0.1:{taken} .*; choose another `page.port`"
    ):
        serve(port=taken)
    server, port = serve(port=taken, any_port=True)
    assert port != taken
    assert server.page.settings.link == f"http://127.0.0.1:{port}"
    assert ask(port).startswith(b"HTTP/1.1 200")


@pytest.mark.skipif(not socket.has_ipv6, reason="no IPv6 here")
def test_an_address_of_ipv6_stands_in_brackets(serve):
    server, port = serve(listen="::1")
    assert server.page.settings.link == f"http://[::1]:{port}"
    assert ask(port, host="::1").startswith(b"HTTP/1.1 200")


def test_a_page_knows_its_own_kind_by_their_secret(serve):
    server, port = serve()
    key = server.page.key
    assert is_ours("127.0.0.1", port, key)
    assert not is_ours("127.0.0.1", port, b"x" * 32)
    server.stop()
    assert not is_ours("127.0.0.1", port, key)
    nonce = "a" * 64
    assert proof(key, nonce) == proof(key, nonce + "b"), "a longer one says no more"
    assert proof(key, nonce) != proof(key, nonce[:-1])


def test_no_other_program_passes_for_the_page():
    with closing(socket.create_server(("127.0.0.1", 0))) as other:
        other.settimeout(5)
        port = other.getsockname()[1]
        loop = asyncio.new_event_loop()
        try:
            asked = loop.run_in_executor(None, is_ours, "127.0.0.1", port, b"k" * 32)
            line, _ = other.accept()
            line.recv(1_000)
            line.sendall(b"no http at all\r\n\r\n")
            line.close()
            assert loop.run_until_complete(asked) is False
        finally:
            loop.run_until_complete(loop.shutdown_default_executor())
            loop.close()


@pytest.mark.parametrize(
    ("soft", "most"),
    [(resource.RLIM_INFINITY, 160), (1_024, 160), (640, 160), (639, 159), (400, 100), (32, 8), (8, 8)],
)
def test_a_quarter_of_the_descriptors_is_the_pages_and_160_at_most(monkeypatch, soft, most):
    monkeypatch.setattr(client_connections.resource, "getrlimit", lambda _: (soft, soft))
    assert most_connections() == most


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("127.0.0.1", "this computer"),
        ("::1", "this computer"),
        ("::ffff:127.0.0.1", "this computer"),
        ("::ffff:192.0.2.1", "192.0.2.1"),
        ("192.0.2.1", "192.0.2.1"),
        ("2001:db8:0:1::7", "2001:db8:0:1::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("a socket", "a socket"),
    ],
)
def test_what_counts_as_one_address(address, network):
    assert network_of(address) == network


class Transport:
    """A connection's other side, which only notes whether it was cut off."""

    def __init__(self, address):
        self.address, self.cut = address, False

    def get_extra_info(self, name, default=None):
        return self.address if name == "peername" else default

    def abort(self):
        self.cut = True

    def is_closing(self):
        return self.cut

    def set_protocol(self, protocol):
        pass

    def __getattr__(self, name):
        return lambda *_: None


@pytest.fixture
def connect():
    """Return a function that makes a connection to a page from an address; all share the page's state."""
    import uvicorn
    from uvicorn.server import ServerState

    loop = asyncio.new_event_loop()
    config = uvicorn.Config(lambda scope: None, lifespan="off", log_config=None)
    config.load()
    state = ServerState()

    def made(address):
        one = Connection(config, state, {}, _loop=loop)
        transport = Transport((address, 50_000))
        one.connection_made(transport)
        return one, transport

    yield made, loop
    loop.close()


def kept(made, *addresses):
    """Return how many of some connections are kept."""
    return sum(not made(address)[1].cut for address in addresses)


def test_one_address_gets_forty_connections_and_this_computer_120(connect, monkeypatch):
    made, _ = connect
    monkeypatch.setattr(client_connections, "most_connections", lambda: 1_000)
    assert kept(made, *["192.0.2.1"] * 45) == 40
    assert kept(made, *["192.0.2.2"] * 40) == 40, "another address has its own share"
    assert kept(made, *[f"2001:db8::{number}" for number in range(1, 45)]) == 40, "a network of IPv6 is one address"
    assert kept(made, *["127.0.0.1"] * 125) == 120


def test_all_together_get_what_the_page_may_hold(connect, monkeypatch):
    made, _ = connect
    monkeypatch.setattr(client_connections, "most_connections", lambda: 10)
    assert kept(made, *[f"192.0.2.{number}" for number in range(1, 15)]) == 10


@pytest.fixture
def hurried(connect):
    """Return the calls that cut off whoever is too slow, as they wait at any time."""
    _, loop = connect
    waits, later = [], loop.call_later

    def call_later(wait_s, call, *more):
        if more or call.__name__ != "abort":
            return later(wait_s, call, *more)
        waits.append((wait_s, call))
        return SimpleNamespace(cancel=lambda: waits.remove((wait_s, call)))

    loop.call_later = call_later
    return waits


def test_who_sends_no_whole_request_in_ten_seconds_is_cut_off(connect, hurried):
    made, _ = connect
    slow, transport = made("192.0.2.1")
    slow.data_received(b"GET / HT")
    ((wait_s, cut_off),) = hurried
    assert wait_s == 10.0, "a part of a request gives no more time"
    cut_off()
    assert transport.cut
    slow.connection_lost(None)
    assert hurried == []


def test_who_is_refused_is_not_waited_for(connect, hurried, monkeypatch):
    made, _ = connect
    monkeypatch.setattr(client_connections, "most_connections", lambda: 0)
    refused, transport = made("192.0.2.1")
    assert (transport.cut, hurried) == (True, [])
    refused.data_received(b"GET / HT")
    assert hurried == []


def test_an_answer_on_its_way_and_an_idle_line_are_not_hurried(connect, hurried):
    made, loop = connect
    one, _ = made("192.0.2.1")
    turn = asyncio.Event()

    async def app(scope, receive, send):
        await turn.wait()
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"x"})

    one.app = app
    one.data_received(GET)
    assert hurried == [], "a whole request is there"
    one.data_received(b"GET / HT")
    assert hurried == [], "the answer comes first"
    one, _ = made("192.0.2.2")
    one.app = app
    one.data_received(GET)
    turn.set()
    for _ in range(9):
        loop.run_until_complete(asyncio.sleep(0))
    assert hurried == [], "it is answered, and an idle line has the library's own time"
    one.data_received(b"GET / HT")
    assert [wait_s for wait_s, _ in hurried] == [10.0], "who begins another request must end it too"


def test_a_fault_of_the_connections_is_logged_once_a_minute(monkeypatch, caplog):
    now = [100.0]
    monkeypatch.setattr(client_connections.time, "monotonic", lambda: now[0])
    quiet = QuietFaults()
    with caplog.at_level(logging.WARNING, "heaptender.page"):
        for at, context in (
            (100.0, {"message": "a leak"}),
            (159.9, {"message": "a leak"}),
            (159.9, {"message": "another", "exception": ValueError("x")}),
            (160.0, {"message": "a leak"}),
            (160.0, {}),
        ):
            now[0] = at
            quiet(None, context)
    assert [one.getMessage() for one in caplog.records] == [
        "The page's connections: a leak (no more is known).",
        "The page's connections: another (x).",
        "The page's connections: a leak (no more is known).",
        "The page's connections: a fault (no more is known).",
    ]


@pytest.mark.parametrize(
    ("fault", "code", "words"),
    [
        (KeyError("x"), 404, "There is nothing at this address."),
        (UnavailableError("The record is away."), 503, "The record is away."),
        (MisuseError("There is no such place."), 404, "There is no such place."),
        (RuntimeError("x"), 500, "This program is at fault and could not answer; the log says more, at “fault "),
    ],
)
def test_a_sheet_that_fails_is_a_sentence(yard, near, monkeypatch, caplog, fault, code, words):
    def fails():
        raise fault

    monkeypatch.setattr(yard, "look", fails)
    answer = near.get("/")
    assert (answer.status_code, words in answer.text) == (code, True)
    title = {404: "Nothing is here", 503: "Not just now", 500: "Something is broken"}[code]
    assert f"<h1>{title}</h1>" in answer.text
    assert ("could not answer GET /" in caplog.text) is (code == 500)
    if code == 500:
        number = re.search(r"“(fault [0-9a-f]{6})”", answer.text)[1]
        assert f"({number})" in caplog.text, "by the number the person who keeps the yard finds it in the log"


def test_long_answers_are_packed_and_short_ones_are_not(near):
    packed = near.get("/", headers={"accept-encoding": "gzip"}).headers
    assert packed["content-encoding"] == "gzip"
    assert "content-encoding" not in near.get("/nothing", headers={"accept-encoding": "identity"}).headers


@pytest.mark.parametrize(
    ("more", "alone", "secure"),
    [
        ({}, True, False),
        ({"listen": "::1", "link": "http://[::1]:8460"}, True, False),
        ({"listen": "0.0.0.0"}, False, False),
        ({"link": "http://yard.example"}, False, False),
        ({"link": "https://127.0.0.1"}, True, True),
        ({"hosts": ("yard.example",)}, False, False),
        ({"password_hash": "scrypt$"}, False, False),
    ],
)
def test_a_page_is_this_computers_alone_until_anything_leads_to_it(tmp_path, more, alone, secure):
    settings = replace(PageSettings(folder=tmp_path), **more)
    assert (settings.alone, settings.secure) == (alone, secure)
    assert (settings.port, settings.any_port) == (8460, False)
