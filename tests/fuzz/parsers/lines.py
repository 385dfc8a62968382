"""Serial lines: however a stream is cut into chunks, the lines are the same; a value that is written as a line reads the
same."""

import contextlib

from monitor.codec import LineSplitter, NumberDecoder, checksum, decode_line, encode_line
from tests.fuzz.contract import Parser
from tests.fuzz.parsers.senml import NOW, bounded

LIMIT = 300


def read(data):
    """Split a stream at once and in pieces, decode its lines, and write their values again."""
    whole, pieces = LineSplitter(LIMIT), LineSplitter(LIMIT)
    lines = whole.feed(data + b"\n")
    size = 1 + len(data) % 7
    cut = [line for at in range(0, len(data), size) for line in pieces.feed(data[at : at + size])] + pieces.feed(b"\n")
    assert lines == cut
    for line in lines:
        assert len(line) <= LIMIT + 1
        bounded(NumberDecoder("p1-a", limit=LIMIT)(line, NOW))
        # A search hardly finds the right checksum, so each line is tried with it too.
        body = line.rpartition(b"*")[0] or line
        for one in (line, body + b"*%02X" % checksum(body)):
            for heard in bounded(decode_line(one, NOW, limit=LIMIT)).heard:
                _again(one, heard)


def _again(line, heard):
    if line.lstrip().startswith(b"[") or heard.quantity is None:
        return
    with contextlib.suppress(ValueError):  # a word that no line can carry
        written = encode_line(*heard)
        found = decode_line(written, NOW).heard
        assert [one._replace(micro=0) for one in found] == [heard._replace(micro=0)], (written, found, heard)
        # A number goes through a double, which holds 15 digits and a half.
        assert abs(found[0].micro - heard.micro) <= abs(heard.micro) >> 50, (written, found, heard)


PARSER = Parser(
    read,
    seeds=(
        b"p1-a temperature 54.5 Cel*3A\r\np1-b temperature 130 [degF] 2026-07-19T12:00:00Z*00\n",
        b'[{"n":"p1-a","u":"Cel","v":54.5}]\n-12.5e1\n',
        b"p1-m moisture 55 -*",
    ),
    words=(
        b"temperature",
        b"moisture",
        b"Cel",
        b"[degF]",
        b"%",
        b"2026-07-19T12:00:00.125+02:00",
        b"\r\n",
        b"*",
        b" - ",
        b"1e12",
    ),
)
