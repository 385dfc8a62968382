"""Serial lines: splitting, the checksum, and the words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import NOTHING, LineSplitter, checksum, decode_line, encode_line
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

RECEIVED = 1_795_600_000_000
GOOD = b"p1-a temperature 57.25 Cel 2026-11-25T09:00:00.500Z"


def signed(body):
    return body + b"*%02X" % checksum(body)


@given(st.lists(st.binary(max_size=12) | st.sampled_from([b"\n", b"\r\n", b"12345678901"]), max_size=12), st.data())
def test_splitting_does_not_depend_on_the_chunks(pieces, data):
    stream = b"".join(pieces)
    whole = LineSplitter(10).feed(stream)
    single = LineSplitter(10)
    assert [line for byte in stream for line in single.feed(bytes([byte]))] == whole
    cut = data.draw(st.integers(0, len(stream)))
    halves = LineSplitter(10)
    assert halves.feed(stream[:cut]) + halves.feed(stream[cut:]) == whole
    assert all(len(line) <= 11 and b"\n" not in line for line in whole)


def test_lines_come_when_they_are_complete():
    splitter = LineSplitter()
    assert splitter.feed(b"one\r\ntwo\nthr") == [b"one\r", b"two"]
    assert splitter.feed(b"ee\n") == [b"three"]


def test_overlong_line_is_held_within_its_bound_and_costs_only_itself():
    splitter = LineSplitter(100)
    for _ in range(1000):
        assert splitter.feed(b"x" * 50) == []
    assert len(splitter._held) == 101
    long, good = splitter.feed(b"\ngood\n")
    assert (len(long), good) == (101, b"good")
    assert decode_line(long, RECEIVED, limit=100).rejects[0].reason is SetAside.OVERSIZED


def test_interrupted_line_can_be_forgotten():
    splitter = LineSplitter()
    splitter.feed(b"half a li")
    splitter.forget()
    assert splitter.feed(b"new\n") == [b"new"]


def test_checksum_of_a_known_sentence():
    # A widely printed example sentence of NMEA 0183 (between $ and *); its checksum is 47.
    assert checksum(b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,") == 0x47


def test_line_with_a_time():
    assert decode_line(signed(GOOD), RECEIVED) == (
        (Heard("p1-a", "temperature", 57_250_000, "Cel", 1_795_597_200_500),),
        (),
        False,
    )


def test_line_without_a_time_or_a_unit():
    decoded = decode_line(signed(b"  b1-m   moisture\t82 - ") + b"\r", RECEIVED)
    assert decoded == ((Heard("b1-m", "moisture", 82_000_000, None, None),), (), True)


def test_percent_in_a_line_is_percent():
    assert decode_line(signed(b"b1-m moisture 82 %"), RECEIVED).heard[0].micro == 82_000_000


def test_senml_in_a_line():
    line = b'[{"n":"a","u":"Cel","v":1,"t":1795600000}]\r'
    assert decode_line(line, RECEIVED).heard == (Heard("a", "temperature", 1_000_000, "Cel", RECEIVED),)


def test_stored_line_without_a_time():
    decoded = decode_line(signed(b"a temperature 1 Cel"), RECEIVED, stale=True)
    assert (decoded.heard, decoded.rejects[0].reason) == ((), SetAside.NO_TIME)


@pytest.mark.parametrize("line", [b"", b"\r", b"  \r"])
def test_empty_line_means_nothing(line):
    assert decode_line(line, RECEIVED) is NOTHING


BAD = [
    ("wrong checksum", GOOD + b"*00", SetAside.CHECKSUM),
    ("no checksum", GOOD, SetAside.MALFORMED),
    ("half a checksum", GOOD + b"*4", SetAside.MALFORMED),
    ("checksum in words", GOOD + b"*4G", SetAside.MALFORMED),
    ("noise", b"\xff\xfe\x00", SetAside.NOT_UTF8),
    ("too few words", signed(b"p1-a temperature 57.25"), SetAside.MALFORMED),
    ("too many words", signed(GOOD + b" x"), SetAside.MALFORMED),
    ("no words", signed(b""), SetAside.MALFORMED),
    ("control characters", signed(b"p1\x07a temperature 57.25 Cel"), SetAside.MALFORMED),
    ("nan", signed(b"p1-a temperature nan Cel"), SetAside.NOT_A_NUMBER),
    ("underscore", signed(b"p1-a temperature 5_7 Cel"), SetAside.NOT_A_NUMBER),
    ("comma", signed(b"p1-a temperature 57,25 Cel"), SetAside.NOT_A_NUMBER),
    ("beyond use", signed(b"p1-a temperature 1e300 Cel"), SetAside.NOT_A_NUMBER),
    ("time without a zone", signed(b"p1-a temperature 57.25 Cel 2026-11-25T09:00:00"), SetAside.MALFORMED),
]


@pytest.mark.parametrize(("line", "reason"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_bad_line_is_set_aside(line, reason):
    decoded = decode_line(line, RECEIVED)
    assert decoded.heard == ()
    assert [reject.reason for reject in decoded.rejects] == [reason]


def test_lower_case_checksum_is_taken():
    line = b"ae temperature 1 Cel"
    assert decode_line(line + b"*%02x" % checksum(line), RECEIVED).heard


@given(st.integers(0, len(signed(GOOD)) - 1), st.integers(1, 255))
def test_one_changed_byte_is_always_seen(place, change):
    line = bytearray(signed(GOOD))
    line[place] ^= change
    original = decode_line(signed(GOOD), RECEIVED).heard
    decoded = decode_line(bytes(line), RECEIVED)
    # Only the case of a hexadecimal digit of the checksum may differ unseen.
    assert decoded.heard in ((), original)
    assert decoded.heard == () or place >= len(GOOD)


WORDS = st.from_regex(r"[A-Za-z0-9:_/.-]{1,12}", fullmatch=True)


@given(
    WORDS,
    WORDS,
    st.integers(-(10**12), 10**12),
    st.none() | WORDS.filter(lambda unit: unit != "-"),
    st.none() | st.integers(0, 10**13),
)
def test_encoded_line_reads_back(address, quantity, micro, unit, time):
    line = encode_line(address, quantity, micro, unit, time)
    (split,) = LineSplitter().feed(line)
    assert decode_line(split, RECEIVED) == ((Heard(address, quantity, micro, unit, time),), (), time is None)


@pytest.mark.parametrize("address", ["", "a b", "a*b", "[a", "a\nb"])
def test_address_that_cannot_be_sent(address):
    with pytest.raises(ValueError, match="cannot be a word of a line"):
        encode_line(address, "temperature", 1, "Cel")


@given(st.binary(max_size=120), st.booleans())
def test_never_raises(line, stale):
    for text in (line, signed(line)):
        decoded = decode_line(text, RECEIVED, stale)
        assert all(reject.excerpt.isprintable() and reject.detail.isprintable() for reject in decoded.rejects)


@given(st.text(max_size=60))
def test_never_raises_on_words(text):
    decode_line(signed(text.encode("utf-8", "surrogatepass")), RECEIVED)
