"""JSON documents read by pointers; the first four lines of an input are the pointers to value, time and probe, and a topic."""

from monitor.codec import PointerDecoder, PointerForm, TopicPattern, parse_pointer
from tests.fuzz.contract import Parser, parts, text_of
from tests.fuzz.parsers.senml import NOW, bounded

PATTERNS = tuple(map(TopicPattern, ("nodes/{probe}/{quantity}", "{probe}/+/x-{probe}-y", "nodes/{probe}/#")))


def read(data):
    """Read a topic by patterns, and a document by the pointers that stand before it."""
    value, time, probe, topic, document = parts(data, 5)
    for pattern in PATTERNS:
        pattern.match(text_of(topic))
    tokens = parse_pointer(text_of(value))
    written = "".join("/" + one.replace("~", "~0").replace("/", "~1") for one in tokens)
    assert parse_pointer(written) == tokens
    form = PointerForm(value=text_of(value), time=text_of(time) or None, probe=text_of(probe) or None, unit="Cel")
    decoder = PointerDecoder(form, "p1-a")
    for stale in (False, True):
        found = bounded(decoder(document, NOW, stale))
        assert len(found.heard) + len(found.rejects) == 1


PARSER = Parser(
    read,
    allowed=(ValueError,),
    seeds=(
        b'/t\n/at\n\nnodes/p1-a/temperature\n{"t":54.5,"at":1784500000}',
        b'/readings/0/value\n/readings/0/when\n/id\nx/y/x-z-y\n{"id":"p1","readings":[{"value":"55,5","when":"2026-07-19T12:00:00Z"}]}',
        b"\n\n\nnodes/a/b/c\n12.25",
        b'/a~1b/c~0d\n/t\n\n\n{"a/b":{"c~d":1e9},"t":1784500000000.5,"t":1}',
    ),
    words=(
        b'{"',
        b'":',
        b"null",
        b"true",
        b"1e999",
        b"-0",
        b"[[[[[[[[",
        b"/0",
        b"/-",
        b"~0",
        b"~1",
        b"\\u0000",
        b"2026-07-19T12:00:00Z",
    ),
)
