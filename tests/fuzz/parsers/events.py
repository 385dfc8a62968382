"""Events as JSON lines: a line that is read is written the same, and no event of a right shape makes the engine raise."""

import json

from monitor.engine import Engine
from monitor.model.errors import MisuseError
from monitor.model.events import Event, EventKind
from monitor.recordings import MemoryHistory, event_line, parse_line, read_events
from tests.fuzz.contract import Parser, file_of
from tests.fuzz.parsers.forms import SETTINGS_PLAIN

AT = 1_784_400_000_000
BEGUN = Engine()
BEGUN.feed(Event(AT, EventKind.SETTINGS, {"settings": SETTINGS_PLAIN}), MemoryHistory())
BEGUN_STATE = BEGUN.snapshot()


def read(data):
    """Read a file of events, write its lines, and feed an engine with them."""
    record, problems = read_events(file_of(data, "events.jsonl"))
    assert all(one.isprintable() or "\n" in one for one in problems.sentences())
    engine, history = Engine.restore(BEGUN_STATE), MemoryHistory()
    for event in record.events:
        line = event_line(event)
        assert event_line(parse_line(line)) == line
        if event.at <= engine.last or event.at > AT + 40 * 86_400_000:
            continue  # a span of years has hundreds of thousands of deadlines
        history.take(event.payload)
        engine.feed(event, history)
    state = engine.snapshot()
    assert Engine.restore(state).snapshot() == state


def _line(at, kind, payload):
    return json.dumps({"at": f"2026-07-19T{at}Z", "kind": kind, "payload": payload}).encode() + b"\n"


PARSER = Parser(
    read,
    allowed=(MisuseError,),
    seeds=(
        _line("12:00:00", "readings", {"ahead": [], "rows": [[1784462400000, "p1-a", 54500000, "Cel"]]})
        + b'{"mark":"2026-07-19T13:00:00Z"}',
        _line("12:00:00", "work", {"kind": "built", "place": "p1", "time": 1784462300000, "by": "Ann"})
        + _line("12:01:00", "correction", {"of": 1784462400000, "work": None}),
        _line("12:00:00", "imported", {"work": [{"kind": "turned", "place": "p1", "time": 1784462300000}], "rows": []}),
        _line("12:00:00", "answer", {"alarm": "p1/hot", "answer": "put off", "until": 1784472300000}),
        _line("12:00:00", "started", {"down_since": None}) + _line("12:00:01", "clock", {"state": "confirmed"}),
        _line("12:00:00", "link", {"what": "broker", "name": "x", "up": False, "why": "gone"}),
        _line(
            "12:00:00",
            "evening",
            {
                "day": "2026-07-20",
                "what": "heat",
                "milli_c": 35000,
                "places": [{"place": "b1", "limit_milli_c": 30000, "days": 3, "last": "2026-07-10"}],
            },
        ),
        _line("12:00:00", "settings", {"settings": {"site": {"name": "x"}}}),
        b'{"checkpoint":{"at":"2026-07-19T12:00:00Z","head":"00","state":"e30="}}\n{"seal":{"at":"2026-07-19T12:00:00Z","state":"e30="}}',
    ),
    words=(
        b'"kind":"work"',
        b'"kind":"readings"',
        b'"kind":"correction"',
        b'"kind":"link"',
        b'"kind":"clock"',
        b'"kind":"stopped"',
        b'"kind":"sealed"',
        b'"rows":[[',
        b'"further":[[',
        b'"time":1784462400000',
        b'"p1-a"',
        b'"hand:p1"',
        b'"Cel"',
        b'"[degF]"',
        b'"batch":',
        b'"to":"p1"',
        b'"row":0',
        b'"reading":{',
        b'"readings":[',
        b'"entry":"',
        b'"probe in"',
        b'"probe out"',
        b'"away"',
        b'"contact":"ann"',
        b'"measure":"kg"',
        b'"unit":"kg"',
    ),
    longest=2048,
    seconds=10,
)
