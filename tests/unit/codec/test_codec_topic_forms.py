"""The forms `number` and `json`, and the pattern that gets an address out of a topic."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import LIMIT_BYTES, NumberDecoder, PointerDecoder, PointerForm, TopicPattern, parse_pointer
from monitor.codec.pointers import follow
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

RECEIVED = 1_795_600_000_000


@pytest.mark.parametrize(
    ("pattern", "topic", "expected"),
    [
        ("nodes/{probe}/{quantity}", "nodes/p1-a/temperature", ("p1-a", "temperature")),
        ("nodes/{probe}/{quantity}", "nodes/p1-a", None),
        ("nodes/{probe}/{quantity}", "nodes/p1-a/temperature/x", None),
        ("nodes/{probe}/{quantity}", "nodes//temperature", None),
        ("nodes/{probe}", "other/p1-a", None),
        ("nodes/{probe}", "nodes/p\x07", None),
        ("nodes/{probe}", "nodes/Kübel 1", ("Kübel 1", None)),
        ("+/{probe}/#", "x/p1-a/y/z", ("p1-a", None)),
        ("+/{probe}/#", "x/p1-a", ("p1-a", None)),
        ("yard/{probe}/port/{probe}", "yard/7/port/2", ("7/2", None)),
        ("n-{probe}.{quantity}", "n-4.moisture", ("4", "moisture")),
        ("a.b/{probe}", "axb/1", None),
    ],
)
def test_pattern(pattern, topic, expected):
    assert TopicPattern(pattern).match(topic) == expected


@pytest.mark.parametrize("pattern", ["nodes/+", "{probe}/{colour}", "#/{probe}", "{probe}/{quantity}/{quantity}"])
def test_pattern_that_cannot_be_meant(pattern):
    with pytest.raises(ValueError, match="is not a topic pattern"):
        TopicPattern(pattern)


@given(st.text(max_size=40))
def test_pattern_takes_any_topic(topic):
    found = TopicPattern("{probe}/{quantity}").match(topic)
    assert found is None or (found.address.isprintable() and found.quantity.isprintable())


@pytest.mark.parametrize(
    ("payload", "micro"),
    [(b"21.5", 21_500_000), (b" -3\n", -3_000_000), (b"+.5", 500_000), (b"2e1", 20_000_000), (b"007.", 7_000_000)],
)
def test_number(payload, micro):
    decoded = NumberDecoder("p1-a", "temperature", "Cel")(payload, RECEIVED)
    assert decoded == ((Heard("p1-a", "temperature", micro, "Cel", None),), (), True)


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", SetAside.NOT_A_NUMBER),
        (b"nan", SetAside.NOT_A_NUMBER),
        (b"-Infinity", SetAside.NOT_A_NUMBER),
        (b"1_0", SetAside.NOT_A_NUMBER),
        (b"0x10", SetAside.NOT_A_NUMBER),
        (b"21,5", SetAside.NOT_A_NUMBER),
        (b"21.5 Cel", SetAside.NOT_A_NUMBER),
        ("٣".encode(), SetAside.NOT_A_NUMBER),
        (b"9" * 5000, SetAside.NOT_A_NUMBER),
        (b"1e999", SetAside.NOT_A_NUMBER),
        (b"\xff", SetAside.NOT_UTF8),
        (b"1" + b" " * LIMIT_BYTES, SetAside.OVERSIZED),
    ],
)
def test_no_number(payload, reason):
    decoded = NumberDecoder("p1-a")(payload, RECEIVED)
    assert (decoded.heard, [reject.reason for reject in decoded.rejects]) == ((), [reason])


def test_stored_number_has_no_time():
    decoded = NumberDecoder("p1-a")(b"21.5", RECEIVED, stale=True)
    assert (decoded.heard, decoded.rejects[0].reason) == ((), SetAside.NO_TIME)


# RFC 6901 section 5: the document and what each pointer finds in it.
RFC_DOCUMENT = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6, " ": 7, "m~n": 8,
}  # fmt: skip


@pytest.mark.parametrize(
    ("pointer", "found"),
    [
        ("", RFC_DOCUMENT), ("/foo", ["bar", "baz"]), ("/foo/0", "bar"), ("/", 0), ("/a~1b", 1), ("/c%d", 2),
        ("/e^f", 3), ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6), ("/ ", 7), ("/m~0n", 8),
    ],
)  # fmt: skip
def test_rfc_6901_section_5(pointer, found):
    assert follow(RFC_DOCUMENT, parse_pointer(pointer)) == found


@pytest.mark.parametrize(
    "pointer", ["/foo/01", "/foo/-", "/foo/2", "/foo/x", "/none", "/foo/0/x", "/foo/²", "/foo/" + "9" * 5000]
)
def test_pointer_that_finds_nothing(pointer):
    assert not isinstance(follow(RFC_DOCUMENT, parse_pointer(pointer)), str | int | list | dict)


@pytest.mark.parametrize("pointer", ["foo", "/a~2", "/~", "#/a"])
def test_no_pointer(pointer):
    with pytest.raises(ValueError, match="is not a JSON pointer"):
        parse_pointer(pointer)


FORM = PointerForm(value="/data/0/temp", time="/at", probe="/id", quantity="temperature", unit="Cel")


def read(document, form=FORM, **more):
    return PointerDecoder(form)(json.dumps(document).encode(), RECEIVED, **more)


@pytest.mark.parametrize(
    ("at", "time"),
    [
        ("2026-11-25T09:00:00+01:00", 1_795_593_600_000),
        (1_795_600_000, RECEIVED),
        (1_795_600_000.25, RECEIVED + 250),
        (1_795_600_000_250, RECEIVED + 250),
        (None, None),
    ],
)
def test_pointers_and_their_times(at, time):
    decoded = read({"id": "p1-a", "at": at, "data": [{"temp": "57.25"}]})
    assert decoded == ((Heard("p1-a", "temperature", 57_250_000, "Cel", time),), (), time is None)


def test_pointers_with_a_number_for_a_name_and_no_time():
    assert read({"id": 7, "data": [{"temp": 57}]}).heard == (Heard("7", "temperature", 57_000_000, "Cel", None),)


def test_pointers_with_the_probe_from_the_topic():
    decoded = PointerDecoder(PointerForm(value=""), "p1-a", "moisture")(b"60", RECEIVED)
    assert decoded.heard == (Heard("p1-a", "moisture", 60_000_000, None, None),)
    with pytest.raises(ValueError, match="names the probe"):
        PointerDecoder(PointerForm(value="/v"))


def test_pointers_in_a_stored_message():
    assert read({"id": "a", "data": [{"temp": 5}]}, stale=True).rejects[0].reason is SetAside.NO_TIME
    assert read({"id": "a", "at": 1_795_600_000, "data": [{"temp": 5}]}, stale=True).heard


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b'{"id":"a","data":[{"temp":true}]}', SetAside.NOT_A_NUMBER),
        (b'{"id":"a","data":[{"temp":NaN}]}', SetAside.NOT_A_NUMBER),
        (b'{"id":"a","data":[{"temp":' + b"9" * 5000 + b"}]}", SetAside.NOT_A_NUMBER),
        (b'{"id":"a","data":[]}', SetAside.NOT_A_NUMBER),
        (b'{"data":[{"temp":1}]}', SetAside.UNKNOWN_PROBE),
        (b'{"id":"\\ud800","data":[{"temp":1}]}', SetAside.UNKNOWN_PROBE),
        (b'{"id":"","data":[{"temp":1}]}', SetAside.UNKNOWN_PROBE),
        (b'{"id":"a","at":"yesterday","data":[{"temp":1}]}', SetAside.MALFORMED),
        (b'{"id":"a","at":1e300,"data":[{"temp":1}]}', SetAside.MALFORMED),
        (b'{"id":"a","at":true,"data":[{"temp":1}]}', SetAside.MALFORMED),
        (b'{"id":"a","id":"b","data":[{"temp":1}]}', SetAside.MALFORMED),
        (b"[" * 50_000, SetAside.DEEPLY_NESTED),
        (b"{", SetAside.MALFORMED),
    ],
)
def test_pointers_into_bad_documents(payload, reason):
    decoded = PointerDecoder(FORM)(payload, RECEIVED)
    assert (decoded.heard, [reject.reason for reject in decoded.rejects]) == ((), [reason])


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["id", "at", "data", "temp"]), inner, max_size=4)
    ),
    max_leaves=8,
)


@given(JSON)
def test_pointers_never_raise_on_json(document):
    for heard in read(document).heard:
        heard.address.encode()
        assert type(heard.micro) is int


@given(st.binary(max_size=60))
def test_never_raises_on_bytes(payload):
    PointerDecoder(FORM)(payload, RECEIVED)
    NumberDecoder("a")(payload, RECEIVED)
