"""The commands as a person types them, on a small yard in a folder of its own."""

import json
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner
from typed_command import call, typed, yard_of

from monitor.app.command import SUMMARIES, heaptender
from monitor.app.console.time_words import parse_when
from monitor.journal import open_reader, verify_chain
from monitor.model.errors import MisuseError
from monitor.model.times import HOUR_MS, parse_time

YARD = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
data = "data"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
method = "turned"
built = 2026-03-01T09:00:00Z
[bins.b1]
name = "Wall bin"
[probes.p1-a]
place = "p1"
role = "core"
[probes.b1-t]
place = "b1"
role = "bedding"
"""


yard = yard_of(YARD)


def test_the_program_itself_says_what_it_says_here(yard):
    words = ["log", "reading", "p1", "hot", "--config", str(yard / "heaptender.toml")]
    run = subprocess.run([sys.executable, "-m", "monitor", *words], capture_output=True, text=True)
    assert (run.returncode, run.stdout) == (2, "")
    assert run.stderr == typed(*words, code=2)


@pytest.mark.parametrize("name", list(SUMMARIES))
def test_every_command_has_help_with_an_example(name):
    run = CliRunner().invoke(heaptender, [name, "--help"])
    assert run.exit_code == 0, run.output
    assert "\\b" not in run.output
    assert any(line.startswith(f"    heaptender {name}") for line in run.output.splitlines()), run.output


def test_work_is_written_down_and_can_be_taken_back(yard):
    out = call(yard, "log", "turned", "p1", "--by", "Ann", "--at", "10 min ago")
    assert out.startswith("Written down as 1: Bay 1 turned, ")
    key = out.split("heaptender log undo ")[1].split(".)")[0]
    assert "p1,,,,turned" not in call(yard, "export", "effects")
    assert ",p1,,,,turned,,,Ann," in call(yard, "export", "work")
    call(yard, "log", "undo", key)
    kinds = [json.loads(line).get("kind") for line in call(yard, "export", "events").splitlines()]
    assert kinds.count("correction") == 1
    with open_reader(yard / "data") as store:
        assert verify_chain(store) == []


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("log", "turnd", "p1"), '"turnd" cannot be written down; did you mean "turned"?'),
        (("log", "turned", "p2"), 'there is no pile or bin "p2"; there are b1, p1'),
        (("log", "probe-in", "p1"), "name the probe that was put in or taken out"),
        (("log", "moved", "p1"), "say where to; "),
        (("log", "turned", "p1", "--at", "noonish"), "--at: 'noonish' is no time; write 14:05, "),
        (("log", "turned", "p1", "--at", "in 2 h"), "--at lies in the future"),
        (("log", "reading", "p1", "hot"), "is no temperature; write a number"),
        (("log", "put-off", "b1/overheating"), 'A put-off needs its end: --until "in 2 h".'),
        (("log", "put-off", "p1/fire", "--until", "in 3 h"), "This is a danger; it can be put off for 2 h at most."),
        (("log", "put-off", "b1/worms-in-danger", "--until", "in 3 d"), "can be put off for 2 h at most."),
        (("log", "put-off", "p1/look-at-probe/p1-a", "--until", "in 3 h"), "can be put off for 2 h at most."),
        (("replay", "nothing.csv"), "nothing.csv is not there or no file"),
        (("replay", "nothing.csv", "--until", "soon"), "is not there"),
        (("export", "readings", "--place", "p7"), 'there is no pile or bin "p7"'),
    ],
)
def test_misuse_is_one_sentence_and_exit_code_2(yard, words, sentence):
    assert sentence in call(yard, *words, code=2)


def test_no_journal_is_exit_code_3(yard):
    assert "there is no journal in" in call(yard, "status", code=3)


def test_a_hand_reading_and_the_status(yard):
    assert "Bay 1 131 °F by hand" in call(yard, "log", "reading", "p1", "131", "degF")
    text = call(yard, "status", code=1)
    assert "Test yard: the daemon does not run" in text
    assert "Bay 1: heating, batch p1-2026-03-01, rule us-112-54-turned running (0 of 15 days" in text
    values = json.loads(call(yard, "status", "--json", code=1))
    assert values["piles"][0]["phase"] == "heating"
    rows = call(yard, "export", "readings").splitlines()
    assert rows[0].startswith("time,probe,quantity,value,unit,received,quality,")
    assert rows[1].split(",")[1:5] == ["hand:p1", "temperature", "131", "[degF]"]
    assert rows[1].split(",")[6] == "2", "a hand reading is flagged as not evaluated"


def test_import_takes_everything_once_and_alarms_nobody(yard):
    lines = ["time,probe,quantity,value,unit"]
    lines += [f"2026-03-0{day}T{hour:02d}:00:00Z,p1-a,temperature,{60 if day > 1 else 30},Cel" for day in (1, 2, 3)
              for hour in range(24)]  # fmt: skip
    lines.append("2026-03-04T00:00:00Z,p1-a,temperature,hot,Cel")
    (yard / "r.csv").write_text("\n".join(lines))
    out = call(yard, "import", str(yard / "r.csv"))
    assert "Taken in: 72 readings" in out
    assert "r.csv line 74: 'hot' is not a number" in out
    call(yard, "import", str(yard / "r.csv"))
    with open_reader(yard / "data") as store:
        assert len(list(store.readings(["p1-a"], 0, 1 << 50))) == 72
    effects = [json.loads(line) for line in call(yard, "export", "effects").splitlines()]
    assert {e["kind"] for e in effects if e["kind"] == "notice" and e["axis"] == "new"} == set()
    assert [(e["from"], e["to"]) for e in effects if e["kind"] == "phase"][-1][1] == "holding"
    (yard / "bad.csv").write_text("time,probe,quantity,value,unit\n2026-03-01T00:00:00Z,p1-b,temperature,1,Cel\n")
    assert 'names a probe "p1-b"' in call(yard, "import", str(yard / "bad.csv"), code=2)


def test_an_exported_record_of_events_replays_to_the_same_bytes(yard):
    call(yard, "log", "turned", "p1", "--at", "30 min ago")
    call(yard, "log", "fed", "b1", "--amount", "2", "--measure", "kg")
    call(yard, "export", "events", "--out", str(yard / "e.jsonl.gz"))
    call(yard, "export", "effects", "--out", str(yard / "f.jsonl"))
    assert call(yard, "replay", str(yard / "e.jsonl.gz"), "--json") == (yard / "f.jsonl").read_text()


def test_without_files_the_yards_own_record_is_replayed(yard):
    call(yard, "log", "turned", "p1", "--at", "30 min ago")
    for minutes, value in enumerate(("84", "84.5", "84")):
        call(yard, "log", "reading", "b1", value, "degF", "--at", f"{90 - 40 * minutes} min ago")
    assert call(yard, "replay", "--json") == call(yard, "export", "effects")
    both = call(yard, "replay", "--set", "bins.b1.overheating=83 degF")
    assert "Wall bin, overheating 83 °F instead of 85 °F" in both
    shutil.rmtree(yard / "data")
    assert "there is no journal in" in call(yard, "replay", code=3)


def test_replay_of_csv_shows_both_runs_side_by_side(yard):
    lines = ["time,probe,quantity,value,unit"]
    lines += [f"2026-07-01T12:{minute:02d}:00Z,b1-t,temperature,84,[degF]" for minute in range(60)]
    (yard / "r.csv").write_text("\n".join(lines))
    plain = call(yard, "replay", str(yard / "r.csv"), "--json")
    assert [json.loads(line)["to"] for line in plain.splitlines() if '"axis":"thermal"' in line] == ["warm"]
    both = call(yard, "replay", str(yard / "r.csv"), "--set", "bins.b1.overheating=83 degF")
    assert any(line.startswith("new ") and "overheating 83 °F instead of 85 °F" in line for line in both.splitlines())
    wrong = call(yard, "replay", str(yard / "r.csv"), "--set", "bins.b1.overheatin=83 degF", code=2)
    assert "overheating" in wrong


def test_check_says_all_that_is_wrong(yard):
    (yard / "heaptender.toml").write_text(YARD.replace('place = "b1"', 'place = "b9"').replace("turned", "tossed"))
    out = call(yard, "check", code=1)
    assert "b9" in out
    assert "tossed" in out
    (yard / "heaptender.toml").write_text(YARD)
    assert "1 pile, 1 bin, 2 probes" in call(yard, "check", "--offline")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("20 min ago", "2026-07-18T17:40:00Z"),
        ("in 2 h", "2026-07-18T20:00:00Z"),
        ("09:05", "2026-07-18T13:05:00Z"),
        ("yesterday 18:00", "2026-07-17T22:00:00Z"),
        ("2026-07-18T14:00:00-04:00", "2026-07-18T18:00:00Z"),
    ],
)
def test_times_as_people_type_them(text, expected):
    now = parse_time("2026-07-18T18:00:00Z")
    assert parse_when(text, now, "America/New_York", "--at") == parse_time(expected)


def test_a_clock_time_on_the_day_the_clocks_change():
    now = parse_time("2026-11-01T18:00:00Z")
    assert parse_when("00:30", now, "America/New_York", "--at") == parse_time("2026-11-01T00:30:00-04:00")
    with pytest.raises(MisuseError):
        parse_when("25:00", now, "America/New_York", "--at")
    assert parse_when("1 h ago", now, "UTC", "--at") == now - HOUR_MS


def test_status_says_by_which_probes_a_heap_goes_while_others_lie_outside(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    probes = "".join(f'[probes.p1-{name}]\nplace = "p1"\nrole = "core"\n' for name in "ab")
    (tmp_path / "heaptender.toml").write_text(
        '[piles.p1]\nname = "Bay 1"\nrule = "us-112-54-turned"\nmethod = "turned"\nbuilt = 2026-10-01T09:00:00Z\n'
        + probes,
        encoding="utf-8",
    )
    run = CliRunner()
    for words in (["log", "turned", "p1", "--again"], ["log", "probe-in", "p1", "--probe", "p1-a", "--again"]):
        done = run.invoke(heaptender, words)
        assert done.exit_code == 0, done.output
    text = run.invoke(heaptender, ["status"]).output
    assert "by p1-a alone while p1-b lies outside" in text, text
    assert "No alarm, but not everything is known." in text
    assert "1 place watched by probes; not known now (Bay 1: its probes were never heard)." in text


def test_status_says_of_an_alarm_that_is_over_when_it_began(yard):
    call(yard, "log", "inspected", "b1", "--worms", "dead")
    assert "Alarm b1/worms-unwell: new, since " in call(yard, "status", code=1)
    call(yard, "log", "inspected", "b1", "--worms", "plenty", "--again")
    told = call(yard, "status", code=1)
    assert "Alarm b1/worms-unwell: over; it began " in told
    assert ", and ended before anyone replied." in told
    assert "over, since" not in told
