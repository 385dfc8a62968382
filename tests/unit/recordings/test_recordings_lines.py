"""Events and effects as JSON lines: one form of bytes, and back."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.errors import MisuseError
from monitor.model.events import Event, EventKind
from monitor.model.times import parse_time
from monitor.recordings import (
    Checkpoint,
    Mark,
    checkpoint_line,
    effect_line,
    event_line,
    mark_line,
    parse_line,
    read_events,
)

NINE = parse_time("2026-03-01T09:00:00Z")
json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
instants = st.integers(parse_time("0001-01-01T00:00:00Z"), parse_time("9999-12-31T23:59:59Z"))


def test_an_event_is_one_form_of_bytes():
    event = Event(NINE, EventKind.WORK, {"time": NINE, "place": "p1", "kind": "turned", "note": "süß"})
    assert event_line(event) == (
        '{"at":"2026-03-01T09:00:00.000Z","kind":"work",'
        '"payload":{"kind":"turned","note":"süß","place":"p1","time":1772355600000}}'
    )


@given(instants, st.sampled_from(EventKind), st.dictionaries(st.text(), json_values, max_size=4))
def test_events_round_trip(at, kind, payload):
    line = event_line(Event(at, kind, payload))
    assert "\n" not in line
    line.encode()
    back = parse_line(line)
    assert back == Event(at, kind, payload)
    assert event_line(back) == line
    assert event_line(Event(at, kind, dict(reversed(payload.items())))) == line


def test_mark_and_checkpoint():
    assert mark_line(NINE) == '{"mark":"2026-03-01T09:00:00.000Z"}'
    assert parse_line(mark_line(NINE)) == Mark(NINE)
    point = Checkpoint(NINE, "ab12", "c3RhdGU=")
    assert checkpoint_line(point) == (
        '{"checkpoint":{"at":"2026-03-01T09:00:00.000Z","head":"ab12","state":"c3RhdGU="}}'
    )
    assert parse_line(checkpoint_line(point)) == point


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("{", "not JSON (Expecting property name enclosed in double quotes at column 2); each line is one event"),
        ('{"at":1}', "is no event; write"),
        ('{"at":"2026-03-01T09:00:00Z","kind":"party","payload":{}}', "'party' is not a kind of event;"),
        ('{"at":"noon","kind":"work","payload":{}}', "'noon' is not a time"),
        ('{"at":"2026-03-01T09:00:00Z","kind":"work","payload":{"x":NaN}}', "not JSON (NaN is not a number)"),
        ("[" * 100_000, "not JSON (nested too deeply)"),
        ('{"x":' + "9" * 5000 + "}", "not JSON (Exceeds the limit"),
    ],
)  # fmt: skip
def test_bad_lines(line, sentence):
    with pytest.raises(ValueError, match=r".") as fault:
        parse_line(line)
    assert sentence in str(fault.value)


def test_a_file_of_events(tmp_path):
    first = Event(NINE + 1, EventKind.STARTED, {"down_since": None})
    second = Event(NINE + 2, EventKind.STOPPED, {})
    point = Checkpoint(NINE, "ab", "")
    lines = [
        checkpoint_line(point), event_line(first), "", "nonsense", event_line(first), event_line(second),
        checkpoint_line(Checkpoint(NINE + 9, "", "")), mark_line(NINE + 2),
        event_line(Event(NINE + 3, EventKind.STOPPED, {})),
    ]  # fmt: skip
    path = tmp_path / "e.jsonl"
    path.write_text("\n".join(lines))
    record, problems = read_events(path)
    assert (record.checkpoint, record.events, record.mark) == (point, [first, second], Mark(NINE + 2))
    assert [str(p).replace(str(path), "e") for p in problems] == [
        "e line 4: not JSON (Expecting value at column 1); each line is one event",
        "e line 5: 2026-03-01T09:00:00.001Z is not after the line before (2026-03-01T09:00:00.001Z); times rise",
        "e line 7: a checkpoint stands after the beginning; it is the first line or absent",
        "e line 9: a line follows the mark; the mark is the last line",
    ]
    with pytest.raises(MisuseError, match="line 4"):
        read_events(path, strict=True)


def draft(**changed):
    fields = {
        "place": "p1", "kind": EffectKind.PHASE, "axis": "phase", "before": None, "after": "heating",
        "why": "It was built.",
        "since": NINE - 1, "reason": "built",
        "values": {"z": 1.23456, "a": 55.0, "batch": "p1-1", "n": {"y": 2.0005, "x": None}},
    }  # fmt: skip
    return Draft(**{**fields, **changed})


def test_an_effect_has_the_key_order_of_the_design():
    assert effect_line(Effect(at=NINE, ordinal=0, draft=draft())) == (
        '{"time":"2026-03-01T09:00:00.000Z","place":"p1","kind":"phase","axis":"phase","from":null,"to":"heating",'
        '"why":"It was built.","since":"2026-03-01T08:59:59.999Z","reason":"built","probe":"",'
        '"values":{"a":55,"batch":"p1-1","n":{"x":null,"y":2.001},"z":1.235}}'
    ).replace("2.001", str(round(2.0005, 3)))


def test_only_a_notice_has_text():
    notice = draft(kind=EffectKind.NOTICE, axis="new", after="page", text="Bay 1: 180 °F", values={})
    line = effect_line(Effect(at=NINE, ordinal=1, draft=notice))
    assert line.endswith('"probe":"","values":{},"text":"Bay 1: 180 °F"}')
    assert "text" not in json.loads(effect_line(Effect(at=NINE, ordinal=0, draft=draft())))


@given(st.dictionaries(st.text(), json_values | st.floats(), max_size=5), st.text())
def test_any_values_are_valid_json_with_three_decimals(values, why):
    line = effect_line(Effect(at=NINE, ordinal=0, draft=draft(values=values, why=why)))
    line.encode()
    back = json.loads(
        line,
        parse_float=lambda text: (
            pytest.fail(text) if len(text.partition(".")[2].partition("e")[0]) > 3 and "e" not in text else float(text)
        ),
    )
    assert back["why"] == why
    assert line == effect_line(Effect(at=NINE, ordinal=0, draft=draft(values=dict(reversed(values.items())), why=why)))
