"""Each command's JSON has its schema, which describes every part of it; what is not described there does not pass.

What any test of this folder has a command print is held against it, too (`conftest.py`).
"""

import copy
import json
from pathlib import Path

import click
import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.app.command import SUMMARIES, heaptender
from monitor.app.commands import listen_command
from monitor.app.commands.stock_command import command as stock
from monitor.app.console import options
from monitor.codec import Reject
from monitor.intake import Arrival, LinkChange
from monitor.model.alarm_values import AlarmValues, ClockOff, Fault
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.times import show_time
from tests.tools.schemas.every_schema import DECLARED, FOLDER, path_of, schema_of, text_of
from tests.tools.schemas.holding import fault_of

ROOT = Path(__file__).parents[3]
EFFECTS = sorted(ROOT.glob("demo-data/*.effects.jsonl"))
NOW = 1_795_000_000_000

yard = yard_of(ENTRIES)


def speaking(command, words):
    """Yield the words of a command and its subcommands that take --json."""
    if any("--json" in option.opts for option in command.params):
        yield words
    for name, inner in getattr(command, "commands", {}).items():
        yield from speaking(inner, f"{words} {name}")


def parts(shape):
    """Yield every part of a schema that describes a value."""
    yield shape
    for inner in (*shape.get("properties", {}).values(), *shape.get("$defs", {}).values(), *shape.get("anyOf", ())):
        yield from parts(inner)
    for key in ("items", "additionalProperties"):
        if isinstance(shape.get(key), dict):
            yield from parts(shape[key])


def places(value):
    """Yield every object in a value."""
    if isinstance(value, dict):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from places(inner)


def held(command, text):
    """Return the JSON values of some lines, each held against the command's schema."""
    values = [json.loads(line) for line in text.splitlines()]
    assert values
    assert [fault for value in values if (fault := fault_of(command, value))] == []
    return values


def test_every_command_that_takes_json_has_a_schema_and_no_other():
    context = click.Context(heaptender)
    found = {words for name in SUMMARIES for words in speaking(heaptender.get_command(context, name), name)}
    assert found == set(DECLARED)


def test_the_files_are_what_is_declared():
    assert {path.name: path.read_text("utf-8") for path in FOLDER.iterdir()} == {
        path_of(command).name: text_of(command) for command in DECLARED
    }, "write them anew: python -m tests.tools.schemas"


@pytest.mark.parametrize("command", sorted(DECLARED))
def test_a_schema_describes_each_part(command):
    # That each is a schema at all, the tool makes sure when it writes them: that takes longer than all else here.
    for part in parts(schema_of(command)):
        assert "$ref" in part or part.get("description", "").endswith((".", "?")) or part == {"type": "number"}, part
        assert part.get("type") != "object" or "additionalProperties" in part, part


def test_what_is_not_described_does_not_pass(yard):
    call(yard, "log", "delivery", "leaves", "12 bags")
    value = json.loads(call(yard, "stock", "--json"))
    assert fault_of("stock", value) == ""
    count = len([*places(value)])
    assert count == 2
    for number in range(count):
        more, less, other = copy.deepcopy(value), copy.deepcopy(value), copy.deepcopy(value)
        [*places(more)][number]["undescribed"] = 1
        assert "undescribed" in fault_of("stock", more)
        [*places(less)][number].pop("id" if number else "material")
        assert fault_of("stock", less)
        [*places(other)][number]["risks" if number else "material"] = 1
        assert fault_of("stock", other)


def test_whatever_a_test_has_a_command_print_is_held():
    with click.Context(stock, info_name="stock"):
        assert options.json_line([]) == "[]"
        with pytest.raises(AssertionError, match=r"stock\.json does not describe what `stock --json` prints"):
            options.json_line([{"material": "leaves"}])


@pytest.mark.parametrize("file", EFFECTS, ids=lambda file: file.name)
def test_effects_are_as_described(file):
    # `test_demo_data.py` compares these with what `replay --json` prints.
    assert held("replay", file.read_text("utf-8"))


def test_every_fact_about_an_alarm_is_described():
    numbers = {name: 1 for name in AlarmValues._fields if name.endswith("_milli")}
    texts = dict.fromkeys(("variant", "moved_from", "by", "rule", "moved_to", "left"), "all")
    values = AlarmValues(
        fault=Fault(what="source", name="shed", why="gone"), clock=ClockOff(by_ms=1, limit_ms=1), read=NOW, breaks=NOW,
        progress={"longest_run_h": 1.5}, taken_back=True, **numbers, **texts,
    )  # fmt: skip
    plain = values.plain()
    described = schema_of("status")["anyOf"][0]["properties"]["alarms"]["items"]["properties"]["values"]["properties"]
    assert set(plain) - {"longest_run_h"} == set(described) - {"batch"}
    lines = (line for file in EFFECTS for line in file.read_text("utf-8").splitlines())
    effect = next(found for line in lines if (found := json.loads(line))["kind"] == "alarm")
    assert fault_of("replay", effect | {"values": plain | {"until": show_time(NOW)}}) == ""


def test_an_export_and_a_packed_yard_are_as_described(yard):
    call(yard, "log", "turned", "p1", "--again")
    call(yard, "log", "reading", "p1", "150", "degF")
    assert {one["kind"] for one in held("export", call(yard, "export", "effects", "--json"))} >= {"phase"}
    assert "mark" in held("export", call(yard, "export", "events", "--json"))[-1]
    assert held("replay", call(yard, "replay", "--json"))
    (told,) = held("export", call(yard, "export", "readings", "--out", yard / "readings.csv", "--json"))
    assert told["rows"] == 1
    (told,) = held("pack", call(yard, "pack", yard / "all.yard", "--json"))
    assert told["bytes"] == (yard / "all.yard").stat().st_size
    (told,) = held("reload", call(yard, "reload", "--json", code=1))
    assert not told["running"]


class Port:
    """Stands in for a serial port that hears one line of each kind."""

    name = "shed"

    def __init__(self, sink):
        self._sink = sink

    def start(self):
        known, unknown = (Heard(address, None, 21_500_000, "Cel", None) for address in ("p1-a", "p9-z"))
        garbled = Reject(SetAside.MALFORMED, "no number", "x")
        self._sink.offer(LinkChange("shed", True, "", NOW))
        self._sink.offer(
            Arrival("shed", NOW, (known, unknown), (garbled,), None, "loop://", b"p1-a=21.5 p9-z=21.5 \xff")
        )

    def stop(self):
        pass


def test_what_arrives_is_as_described(yard, monkeypatch):
    monkeypatch.setattr(listen_command, "build_sources", lambda _, sink, *args, **how: ([Port(sink)], None))
    link, message = held("listen", call(yard, "listen", "--seconds", "0.1", "--json"))
    assert link == {"source": "shed", "up": True, "why": ""}
    assert [sorted(one) for one in message["values"]] == [
        ["own_time", "place", "probe", "quantity", "shown", "time"],
        ["address", "detail", "set_aside"],
        ["detail", "set_aside"],
    ]
