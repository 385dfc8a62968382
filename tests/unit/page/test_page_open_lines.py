"""The open line of a browser: when it tells of changes, that it lives, and when it ends."""

import asyncio
import time

from page_yard_for_tests import page_of
from starlette.requests import Request

from monitor.page.server import live_updates
from monitor.page.server.live_updates import OpenLines


class Line:
    """An open line of a browser, on a clock that goes half a second with each look."""

    def __init__(self, yard, monkeypatch):
        self.gate, self.page = page_of(yard, password_hash="scrypt$", link="http://yard.example:8460")
        self.guest, _ = self.page.guests.make("a neighbour", "Ann", 0)
        self.yard, self.now_s, self.ends_at = yard, 0.0, 1e9
        self.lines = OpenLines(self.page, lambda: self.now_s >= self.ends_at)
        monkeypatch.setattr(live_updates.time, "monotonic", lambda: self.now_s)
        monkeypatch.setattr(live_updates.asyncio, "sleep", self._sleep)
        self.number = 0
        monkeypatch.setattr(yard, "changed", lambda: self.number)
        self.changes = {}
        self.slept = set()

    async def _sleep(self, seconds):
        self.slept.add(seconds)
        self.now_s += seconds
        self.number = self.changes.get(self.now_s, self.number)
        self.yard.clock += round(seconds * 1_000)

    def request(self):
        cookie = self.page.sessions.begin(time.time(), guest=self.guest.secret_hash)
        headers = [(b"host", b"yard.example:8460"), (b"cookie", f"heaptender={cookie}".encode())]
        visitor = self.page.sessions.visitor(cookie, "yard.example:8460", {}, "192.0.2.7", time.time())
        return Request({"type": "http", "headers": headers, "visitor": visitor, "gate": self.gate})

    def told(self, until_s):
        """Return (seconds, event) of each message until then."""
        self.ends_at = until_s
        found = []

        async def listen():
            answer = await self.lines.answer(self.request())
            assert answer.media_type == "text/event-stream"
            assert answer.headers["cache-control"] == "no-store"
            async for text in answer.body_iterator:
                assert text.endswith("\n\n")
                assert f"data: {self.yard.clock}\n" in text
                assert self.lines.open == 1
                found.append((self.now_s, text.split("event: ")[1].split("\n")[0], text.startswith("retry: 3000\n")))

        asyncio.run(listen())
        assert self.lines.open == 0
        return found


def test_a_line_tells_of_changes_at_most_every_two_seconds_and_that_it_lives_every_ten(yard, monkeypatch):
    line = Line(yard, monkeypatch)
    line.changes = {0.5: 1, 2.5: 2, 3.0: 3, 9.0: 4}
    assert line.told(22.0) == [
        (0.0, "alive", True),
        (2.0, "changed", False),
        (4.0, "changed", False),
        (9.0, "changed", False),
        (10.0, "alive", False),
        (20.0, "alive", False),
    ]
    assert line.slept == {0.5}


def test_a_line_ends_when_its_guest_may_look_no_more(yard, monkeypatch):
    line = Line(yard, monkeypatch)
    line.changes = {9.0: 1}
    line.page.guests.withdraw(line.guest.number)
    assert line.told(60.0) == [(0.0, "alive", True), (9.0, "changed", False)]
    assert line.now_s == 10.0


def test_forty_browsers_may_listen(yard, monkeypatch):
    line = Line(yard, monkeypatch)
    line.lines.open = 39
    assert asyncio.run(line.lines.answer(line.request())).status_code == 200
    line.lines.open = 40
    answer = asyncio.run(line.lines.answer(line.request()))
    assert (answer.status_code, b"Too many browsers listen" in answer.body) == (503, True)
