"""A real victoria-metrics, killed in the middle, and a stub server for every answer there is."""

import json
import os
import shutil
import signal
import socket
import subprocess
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from monitor.mirror import (
    Cursor,
    CursorFile,
    Effects,
    ExportReader,
    FluxReader,
    InfluxServer,
    Mirror,
    MirroredReading,
    MirrorThread,
    Readings,
    Trouble,
    Unreadable,
    WriteError,
    check,
    reader_of,
)

pytestmark = [pytest.mark.io, pytest.mark.filterwarnings("ignore::DeprecationWarning")]

PROGRAM = shutil.which("victoria-metrics")
START = 1_772_355_600_000
HOUR = 3_600_000


class Journal:
    """Readings by `at`, a minute apart, three probes."""

    def __init__(self) -> None:
        self.rows: dict[int, list[MirroredReading]] = {}

    def add(self, count: int) -> None:
        first = max(self.rows, default=START - 60_000) + 60_000
        for number in range(count):
            at = first + number * 60_000
            self.rows[at] = [
                MirroredReading(at, probe, "temperature", "Cel", milli * 1000 + 250, milli, 1)
                for probe, milli in (("p1-a", 55_001 + number), ("p1-b", -3_217 + number), ("hand:b1", 21_500))
            ]

    def readings_after(self, cursor: int, n: int) -> Readings:
        found: list[MirroredReading] = []
        for at in sorted(self.rows):
            if at > cursor and len(found) < n:
                found.extend(self.rows[at])
                cursor_after = at
        return Readings(found, cursor_after if found else cursor)

    def effects_after(self, cursor: int, n: int) -> Effects:
        return Effects([], cursor)

    def readings_between(self, start: int, end: int) -> list[MirroredReading]:
        return [row for rows in self.rows.values() for row in rows if start <= row.time < end]

    def counts(self, start: int, end: int) -> dict[str, int]:
        counts: dict[str, int] = {}
        for row in self.readings_between(start, end):
            counts[row.probe] = counts.get(row.probe, 0) + 1
        return counts

    def expected(self) -> dict[tuple[str, str, int], float]:
        return {
            (name, row.probe, row.time): value
            for rows in self.rows.values()
            for row in rows
            for name, value in (("raw", (row.milli or 0) / 1000), ("value", (row.milli or 0) / 1000), ("flag", 1.0))
        }


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Metrics:
    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        assert PROGRAM is not None
        self.process = subprocess.Popen(
            [
                PROGRAM,
                f"-httpListenAddr=127.0.0.1:{self.port}",
                f"-storageDataPath={self.folder}",
                "-retentionPeriod=10y",
                "-dedup.minScrapeInterval=1ms",
                "-loggerLevel=ERROR",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{self.url}/health", timeout=1).close()
            except OSError:
                time.sleep(0.1)
            else:
                return
        raise AssertionError("victoria-metrics did not start")

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def held(self) -> tuple[dict[tuple[str, str, int], float], int]:
        """Return every point by (field, probe, time), and how many there are."""
        urllib.request.urlopen(f"{self.url}/internal/force_flush", timeout=10).close()
        points: dict[tuple[str, str, int], float] = {}
        count = 0
        asked = urllib.parse.urlencode(
            {"match[]": '{__name__=~"heaptender_reading.*"}', "start": "2026-01-01T00:00:00Z"}
        )
        with urllib.request.urlopen(f"{self.url}/api/v1/export?{asked}", timeout=30) as answer:
            for line in answer.read().splitlines():
                series = json.loads(line)
                name = series["metric"]["__name__"].removeprefix("heaptender_reading_")
                for when, value in zip(series["timestamps"], series["values"], strict=True):
                    points[name, series["metric"]["probe"], when] = value
                    count += 1
        return points, count


@pytest.fixture
def metrics(tmp_path: Path) -> Iterator[Metrics]:
    if PROGRAM is None:
        assert os.environ.get("CI") != "true", "victoria-metrics is missing"
        pytest.skip("victoria-metrics is not installed")
    server = Metrics(tmp_path / "metrics")
    yield server
    server.kill()


class Yard:
    def __init__(self, journal: Journal, url: str, folder: Path, token: str | None = None) -> None:
        self.links: list[tuple[bool, str]] = []
        self.aside: list[str] = []
        self.now = 0.0
        self.server = InfluxServer(url, org="yard", bucket="heaptender", token=token, timeout_s=5)
        self.mirror = Mirror(
            journal,
            CursorFile(folder / "mirror.json"),
            self.server,
            link_changed=lambda up, why: self.links.append((up, why)),
            set_aside=lambda line, why: self.aside.append(line),
            batch=200,
        )

    def drain(self) -> None:
        for _ in range(200):
            pause = self.mirror.step(self.now)
            if pause == 5.0:
                return
            self.now += pause
        raise AssertionError("the mirror never came to rest")


def test_everything_arrives_exactly(metrics: Metrics, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(500)
    Yard(journal, metrics.url, tmp_path).drain()
    points, count = metrics.held()
    assert points == journal.expected()
    assert count == len(points)


def test_a_server_killed_in_the_middle_leaves_no_gap_and_no_double(metrics: Metrics, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(400)
    yard = Yard(journal, metrics.url, tmp_path)
    yard.drain()
    metrics.kill()  # within the seconds in which it forgets what it took
    journal.add(3000)  # two days of readings while it is away
    for _ in range(4):
        yard.now += yard.mirror.step(yard.now)
    assert [up for up, _ in yard.links] == [False]
    metrics.start()
    yard.drain()
    yard.server.close()
    points, count = metrics.held()
    assert points == journal.expected()
    assert count == len(points)
    assert [up for up, _ in yard.links] == [False, True]
    assert yard.aside == []


def test_a_server_killed_and_back_unseen_leaves_no_gap(metrics: Metrics, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(400)
    yard = Yard(journal, metrics.url, tmp_path)
    yard.drain()
    metrics.kill()
    metrics.start()
    journal.add(1)
    yard.now += 20
    yard.drain()
    assert metrics.held()[0] == journal.expected()


def test_check_reads_back_and_sends_again(metrics: Metrics, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(120)
    yard = Yard(journal, metrics.url, tmp_path)
    hidden = {at: journal.rows.pop(at) for at in list(journal.rows)[70:90]}
    yard.drain()
    journal.rows.update(hidden)
    assert metrics.held()[0] != journal.expected()
    reader = reader_of(metrics.url, org="yard", bucket="heaptender", token=None, at=START)
    assert isinstance(reader, ExportReader)
    found = check(journal, reader, yard.mirror, START, START + 2 * HOUR)
    assert (found.hours, len(found.short), found.sent_again) == (2, 1, 180)
    assert metrics.held()[0] == journal.expected()
    assert check(journal, reader, yard.mirror, START, START + 2 * HOUR).short == []


def test_the_thread_follows_what_comes(metrics: Metrics, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(50)
    crashed: list[Exception] = []
    thread = MirrorThread(lambda: Yard(journal, metrics.url, tmp_path).mirror, time.monotonic, crashed.append)
    thread.start()
    for _ in range(300):
        if len(metrics.held()[0]) == 450:
            break
        time.sleep(0.1)
    thread.stop()
    assert metrics.held()[0] == journal.expected()
    assert crashed == []


# A stub for every answer.


class Stub:
    def __init__(self) -> None:
        self.status, self.body = 204, b""
        self.headers: dict[str, str] = {}
        self.gate = threading.Event()
        self.gate.set()
        self.got: list[tuple[str, str, str]] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length", 0))).decode()
                outer.got.append((self.path, self.headers.get("Authorization", ""), body))
                outer.gate.wait(20)
                status = 400 if outer.status == 204 and "poison" in body else outer.status
                self.send_response(status)
                for key, value in outer.headers.items():
                    self.send_header(key, value)
                self.send_header("Content-Length", str(len(outer.body)))
                self.end_headers()
                self.wfile.write(outer.body)

            def log_message(self, *_: object) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.server.handle_error = lambda *_: None  # type: ignore[method-assign]
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def close(self) -> None:
        self.gate.set()
        self.server.shutdown()
        self.server.server_close()


@pytest.fixture
def stub() -> Iterator[Stub]:
    server = Stub()
    yield server
    server.close()


def server_of(stub: Stub, timeout_s: float = 5.0) -> InfluxServer:
    return InfluxServer(stub.url, org="yard", bucket="heap", token="hunter2", timeout_s=timeout_s)


def test_a_write_is_what_the_interface_wants(stub: Stub) -> None:
    server = server_of(stub)
    server.write(["a,x=1 v=1.000 5", "b v=2.000 6"])
    path, token, body = stub.got[0]
    assert path == "/api/v2/write?org=yard&bucket=heap&precision=ms"
    assert token == "Token hunter2"
    assert body == "a,x=1 v=1.000 5\nb v=2.000 6"
    assert server.connections() == 1
    server.write(["a v=1.000 7"])
    assert server.connections() == 1
    server.close()


@pytest.mark.parametrize(
    ("status", "headers", "trouble", "pause"),
    [
        (400, {}, Trouble.DATA, None),
        (401, {}, Trouble.REFUSED, None),
        (413, {}, Trouble.LARGE, None),
        (429, {"Retry-After": "17"}, Trouble.BUSY, 17.0),
        (500, {}, Trouble.AWAY, None),
        (503, {}, Trouble.AWAY, None),
        (503, {"Retry-After": "3"}, Trouble.BUSY, 3.0),
    ],
)
def test_answers(stub: Stub, status: int, headers: dict[str, str], trouble: Trouble, pause: float | None) -> None:
    stub.status, stub.headers = status, headers
    stub.body = b'{"code":"x","message":"no such hunter2"}'
    server = server_of(stub)
    with pytest.raises(WriteError) as caught:
        server.write(["a v=1.000 5"])
    assert (caught.value.trouble, caught.value.retry_after_s) == (trouble, pause)
    assert f"answered {status}" in str(caught.value)
    assert "hunter2" not in str(caught.value)
    assert len(stub.got) == 1, "the library must not retry by itself"
    server.close()


def test_no_answer_and_nobody_there(stub: Stub) -> None:
    stub.gate.clear()
    server = server_of(stub, timeout_s=0.3)
    with pytest.raises(WriteError) as caught:
        server.write(["a v=1.000 5"])
    assert caught.value.trouble is Trouble.AWAY
    server.close()
    gone = InfluxServer(f"http://127.0.0.1:{free_port()}", org="", bucket="heap", token=None)
    with pytest.raises(WriteError, match="cannot be reached") as caught:
        gone.write(["a v=1.000 5"])
    assert caught.value.trouble is Trouble.AWAY
    gone.close()


def test_poison_over_the_wire(stub: Stub, tmp_path: Path) -> None:
    journal = Journal()
    journal.add(100)
    at = list(journal.rows)[40]
    journal.rows[at] = [journal.rows[at][0]._replace(probe="poison")]
    yard = Yard(journal, stub.url, tmp_path)
    yard.drain()
    assert len(yard.aside) == 1
    assert "poison" in yard.aside[0]
    assert yard.mirror.cursor == Cursor(max(journal.rows), 0)
    yard.server.close()


def test_counts_through_flux(stub: Stub) -> None:
    stub.status = 200
    stub.body = (
        b",result,table,probe,_value\r\n,_result,0,p1-a,60\r\n,_result,1,hand:b1,2\r\n\r\n"
        b",result,table,probe,_value\r\n,_result,2,b1-a,3\r\n\r\n"
    )
    reader = FluxReader(stub.url, org="yard", bucket='he"ap', token="hunter2")
    assert reader.counts(START, START + HOUR) == {"p1-a": 60, "hand:b1": 2, "b1-a": 3}
    path, token, query = stub.got[0]
    assert (path, token) == ("/api/v2/query?org=yard", "Token hunter2")
    assert "range(start: 2026-03-01T09:00:00.000Z, stop: 2026-03-01T10:00:00.000Z)" in query
    stub.body = b"something else"
    assert reader.counts(START, START + HOUR) == {}


def test_a_server_that_answers_no_query_is_told(stub: Stub) -> None:
    stub.status = 404
    with pytest.raises(Unreadable, match="answered 404"):
        reader_of(stub.url, org="yard", bucket="heap", token="hunter2", at=START)
