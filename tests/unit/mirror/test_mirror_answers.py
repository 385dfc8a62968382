"""What the mirror says to a server, and what it makes of every answer: byte for byte, from a server that a test plays."""

import json
import socket
import threading
from urllib.parse import parse_qs, urlsplit

import pytest
from mirror_fakes import START

from monitor.mirror import ExportReader, FluxReader, InfluxServer, Trouble, Unreadable, WriteError, reader_of, write_api

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of what the library loads

HOUR = 3_600_000
TOO_MUCH = write_api.ANSWER_BYTES + 1


def answer(status=204, body=b"", **headers):
    """The bytes of an answer that says its length; `_` in a header's name stands for `-`."""
    lines = [f"HTTP/1.1 {status} Some words", f"Content-Length: {len(body)}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    return "\r\n".join([*lines, "", ""]).encode() + body


class Played:
    """Takes requests one after another and gives each the next answer; `None` hangs up without a word."""

    def __init__(self, *answers):
        self.answers, self.got = list(answers), []
        self._server = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._server.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self):
        while self.answers:
            try:
                link, _ = self._server.accept()
            except OSError:
                return
            with link:
                link.settimeout(10)
                self._talk(link)

    def _talk(self, link):
        while self.answers and (asked := self._request(link)) is not None:
            self.got.append(asked)
            said = self.answers.pop(0)
            if said is None:
                return
            try:
                link.sendall(said)
            except OSError:
                return

    def _request(self, link):
        read = b""
        while b"\r\n\r\n" not in read:
            try:
                part = link.recv(65_536)
            except OSError:
                return None
            if not part:
                return None
            read += part
        head, _, body = read.partition(b"\r\n\r\n")
        first, *lines = head.decode().split("\r\n")
        headers = {name.lower(): value for name, value in (line.split(": ", 1) for line in lines)}
        while len(body) < int(headers.get("content-length", 0)):
            body += link.recv(65_536)
        method, path, _ = first.split(" ")
        return method, urlsplit(path), headers, body.decode()

    def close(self):
        self._server.close()
        self._thread.join(10)


@pytest.fixture
def played():
    made = []

    def play(*answers):
        made.append(Played(*answers))
        return made[-1]

    yield play
    for one in made:
        one.close()


@pytest.fixture
def server_of():
    made = []

    def make(url, **more):
        made.append(InfluxServer(url, **{"org": "yard", "bucket": "heap", "token": "hunter2"} | more))
        return made[-1]

    yield make
    for one in made:
        one.close()


def refused(server, line="a v=1.000 5"):
    with pytest.raises(WriteError) as told:
        server.write([line])
    return told.value.trouble, str(told.value), told.value.retry_after_s


def test_a_write_names_bucket_organisation_and_the_unit_of_time(played, server_of):
    there = played(answer())
    server_of(there.url).write(["a v=1.000 5", "b v=2.000 6"])
    ((method, where, headers, body),) = there.got
    assert (method, where.path, body) == ("POST", "/api/v2/write", "a v=1.000 5\nb v=2.000 6")
    assert parse_qs(where.query) == {"org": ["yard"], "bucket": ["heap"], "precision": ["ms"]}
    assert headers["authorization"] == "Token hunter2"


def test_a_server_that_wants_neither_token_nor_organisation_gets_words_that_mean_nothing(played, server_of):
    there = played(answer())
    server_of(there.url, org="", token=None).write(["a v=1.000 5"])
    ((_, where, headers, _),) = there.got
    assert headers["authorization"] == "Token none"
    assert "hunter2" not in where.query


def test_what_a_server_says_is_told_in_one_short_line_without_the_token(played, server_of):
    said = b"no such\n  bucket for hunter2 " + b"x" * 500
    there = played(answer(404, said), answer(400, b""))
    server = server_of(there.url)
    trouble, why, _ = refused(server)
    assert (trouble, why[:69]) == (
        Trouble.REFUSED,
        "the mirror's server answered 404: no such bucket for *** " + "x" * 12,
    )
    assert len(why) == len("the mirror's server answered 404: ") + 200 - len("hunter2") + len("***")
    assert refused(server) == (Trouble.DATA, "the mirror's server answered 400", None)


@pytest.mark.parametrize(
    ("asked", "pause"), [("17", 17.0), (" 9 ", 9.0), ("Mon, 2 Mar 2026 09:00:00 GMT", None), ("-3", None)]
)
def test_a_pause_that_is_asked_for_is_told_where_it_is_a_number_of_seconds(played, server_of, asked, pause):
    trouble, _, found = refused(server_of(played(answer(429, Retry_After=asked)).url))
    assert (trouble, found) == (Trouble.BUSY, pause)


@pytest.mark.parametrize("size", [write_api.ANSWER_BYTES, TOO_MUCH])
def test_an_answer_is_read_up_to_its_limit(played, server_of, size):
    trouble, why, _ = refused(server_of(played(answer(400, b"y" * size)).url))
    if size < TOO_MUCH:
        assert (trouble, "yyy" in why) == (Trouble.DATA, True)
    else:
        assert (trouble, why) == (Trouble.AWAY, "the mirror's server broke off (ProtocolError)")


def test_an_answer_that_drips_is_given_up(played, server_of, monkeypatch):
    monkeypatch.setattr(write_api, "ANSWER_S", -1.0)
    assert refused(server_of(played(answer(400, b"slowly")).url))[0] is Trouble.AWAY


def test_a_server_that_hangs_up_or_is_not_there_is_away(played, server_of):
    there = played(None, answer())
    server = server_of(there.url)
    trouble, why, _ = refused(server)
    assert (trouble, why) == (Trouble.AWAY, "the mirror's server broke off (ProtocolError)")
    assert server.connections() == 1
    server.write(["a v=1.000 5"])
    assert server.connections() == 2, "it may have been restarted in between"
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        nobody = server_of(f"http://127.0.0.1:{unused.getsockname()[1]}")
        assert nobody.connections() == 0
        assert refused(nobody) == (Trouble.AWAY, "the mirror's server cannot be reached", None)
        assert nobody.connections() == 1


def test_a_server_that_gives_no_answer_is_away(server_of):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        server = server_of(f"http://127.0.0.1:{silent.getsockname()[1]}", timeout_s=0.1)
        assert refused(server) == (Trouble.AWAY, "the mirror's server gave no answer in time", None)


def test_one_connection_serves_write_after_write_and_after_a_close_there_is_another(played, server_of):
    there = played(answer(), answer(), answer())
    server = server_of(there.url)
    server.write(["a v=1.000 5"])
    server.write(["a v=1.000 6"])
    assert server.connections() == 1
    server.close()
    server.close()
    server.write(["a v=1.000 7"])
    assert server.connections() == 2


def test_a_server_is_shown_without_its_token_and_address(server_of):
    assert repr(server_of("http://127.0.0.1:1/hunter3")) == "InfluxServer(bucket='heap')"


# Reading back.


def series(probe, *times):
    return json.dumps({"metric": {"probe": probe}, "timestamps": list(times), "values": [1.0] * len(times)})


def test_an_export_is_asked_for_an_hour_and_counted_by_probe(played):
    lines = [series("b1-a", START - 1, START, START + 9), series("b1-b", START + HOUR - 1, START + HOUR)]
    there = played(answer(200, "\n".join([*lines, series("b1-a", START + 10)]).encode()))
    reader = ExportReader(f"{there.url}/", "hunter2")
    assert reader.counts(START, START + HOUR) == {"b1-a": 3, "b1-b": 1}
    ((method, where, headers, _),) = there.got
    assert (method, where.path, headers["authorization"]) == ("GET", "/api/v1/export", "Token hunter2")
    assert parse_qs(where.query) == {
        "match[]": ["heaptender_reading_raw"],
        "start": ["1772355600.000"],
        "end": ["1772359199.999"],
    }


def test_where_yards_share_a_server_only_the_yards_own_readings_are_counted(played):
    there = played(answer(200, b""), answer(200, b""))
    assert ExportReader(there.url, yard="tern hollow").counts(START, START + 1) == {}
    assert FluxReader(there.url, org="o", bucket="b", token=None, yard="tern").counts(START, START + 1) == {}
    (_, export, _, _), (_, _, _, flux) = there.got
    assert parse_qs(export.query)["match[]"] == ['heaptender_reading_raw{yard="tern hollow"}']
    assert 'r._field == "raw" and r.yard == "tern")' in flux


def test_without_a_token_none_is_sent_to_be_read_back(played):
    there = played(answer(200, b""), answer(200, b""))
    assert ExportReader(there.url).counts(START, START + 1) == {}
    assert FluxReader(there.url, org="yard", bucket="heap", token=None).counts(START, START + 1) == {}
    assert ["authorization" in headers for _, _, headers, _ in there.got] == [False, False]


@pytest.mark.parametrize("body", [b"<html>", b'{"metric":{}}', b'{"metric":{"probe":"a"},"timestamps":[null]}', b"[]"])
def test_an_export_that_is_none_is_told(played, body):
    with pytest.raises(Unreadable, match="answered something else than an export"):
        ExportReader(played(answer(200, body)).url).counts(START, START + HOUR)


COUNTS = (
    ",result,table,probe,_value\r\n,_result,0,p1-a,60\r\n,_result,1,hand:b1,2\r\n\r\n"
    ",result,table,_value,probe\r\n,_result,2,3,b1-a\r\n,_result,3,1,p1-a\r\n\r\n"
)


def test_a_query_asks_for_the_bucket_and_the_hour_and_is_counted_by_probe(played):
    there = played(answer(200, COUNTS.encode()))
    reader = FluxReader(f"{there.url}/", org="yard", bucket='he"ap', token="hunter2")
    assert reader.counts(START, START + HOUR) == {"p1-a": 61, "hand:b1": 2, "b1-a": 3}
    ((method, where, headers, query),) = there.got
    assert (method, where.path, parse_qs(where.query)) == ("POST", "/api/v2/query", {"org": ["yard"]})
    assert headers["authorization"] == "Token hunter2"
    assert (headers["content-type"], headers["accept"]) == ("application/vnd.flux", "application/csv")
    assert query == (
        'from(bucket: "he\\"ap") |> range(start: 2026-03-01T09:00:00.000Z, stop: 2026-03-01T10:00:00.000Z)'
        ' |> filter(fn: (r) => r._measurement == "heaptender_reading" and r._field == "raw")'
        ' |> group(columns: ["probe"]) |> count()'
    )


@pytest.mark.parametrize(
    "body", [",_value\r\n,5\r\n", ",probe,_value\r\n,p1-a,many\r\n", ',probe,_value\r\n,"p"\ra,5\r\n']
)
def test_counts_that_are_none_are_told(played, body):
    with pytest.raises(Unreadable, match="answered something else than counts"):
        FluxReader(played(answer(200, body.encode())).url, org="", bucket="", token=None).counts(START, START + 1)


def test_the_first_way_that_a_server_answers_is_taken(played):
    flux = played(answer(200, COUNTS.encode()))
    assert isinstance(reader_of(flux.url, org="yard", bucket="heap", token=None, at=START), FluxReader)
    ((_, _, _, query),) = flux.got
    assert "range(start: 2026-03-01T09:00:00.000Z, stop: 2026-03-01T09:00:00.001Z)" in query
    other = played(answer(404, Connection="close"), answer(200, b"", Connection="close"))
    assert isinstance(reader_of(other.url, org="yard", bucket="heap", token="hunter2", at=START), ExportReader)
    assert [headers.get("authorization") for _, _, headers, _ in other.got] == ["Token hunter2"] * 2


def test_a_server_that_answers_neither_way_is_told_once(played):
    closed = {"Connection": "close"}
    mute = played(answer(404, **closed), answer(404, **closed))
    with pytest.raises(Unreadable) as told:
        reader_of(mute.url, org="yard", bucket="heap", token=None, at=START)
    assert str(told.value) == "the mirror's server answered 404 to a query"
    both = played(answer(404, **closed), answer(401, **closed))
    with pytest.raises(Unreadable) as told:
        reader_of(both.url, org="yard", bucket="heap", token=None, at=START)
    assert str(told.value) == (
        "the mirror's server answered 404 to a query; the mirror's server answered 401 to a query"
    )


def test_a_server_that_cannot_be_queried_is_told_by_the_kind_of_fault():
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        with pytest.raises(Unreadable, match=r"cannot be queried \(URLError\)"):
            ExportReader(f"http://127.0.0.1:{unused.getsockname()[1]}").counts(START, START + 1)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        url = f"http://127.0.0.1:{silent.getsockname()[1]}"
        for reader in (
            ExportReader(url, timeout_s=0.1),
            FluxReader(url, org="", bucket="", token=None, timeout_s=0.1),
        ):
            with pytest.raises(Unreadable, match=r"cannot be queried \(TimeoutError\)"):
                reader.counts(START, START + 1)
