"""Files that are enormous, or that one mistyped date makes so, end quickly and with a sentence."""

import gzip
import time

import pytest

from monitor.app.replay.replaying import read_recording, replay
from monitor.configuration import load_text
from monitor.model.errors import MisuseError
from monitor.model.times import show_time
from monitor.recordings import Problems, read_readings, sniff
from monitor.recordings.text_lines import numbered_blocks

FIRST = 1_793_577_600_000
HEAD = "time,probe,quantity,value,unit\n"
YARD = '[site]\ntime_zone = "UTC"\n[bins.b1]\n[probes.b1-t]\nplace = "b1"\n'


def test_a_gzip_file_that_swells_beyond_all_measure_is_refused_before_it_fills_the_memory(tmp_path):
    bomb = tmp_path / "r.csv.gz"
    with gzip.open(bomb, "wb") as out:
        out.write(HEAD.encode())
        for _ in range(120):
            out.write(b"2026-07-01T00:00:00Z,b1-t,temperature,21.5,Cel\n" * 20_000)
    with pytest.raises(MisuseError, match="unpacks to more than 200 times its size"):
        for _ in numbered_blocks(bomb, Problems()):
            pass


def test_a_season_of_one_probe_that_never_changes_is_no_bomb(tmp_path):
    path = tmp_path / "r.csv.gz"
    with gzip.open(path, "wt") as out:
        out.write(HEAD)
        for n in range(200_000):
            out.write(f"{show_time(FIRST + n * 60_000)},b1-t,temperature,21.5,Cel\n")
    assert sum(block.lines() for block in numbered_blocks(path, Problems())) == 200_001


def test_a_header_of_a_million_columns_is_told_at_once(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(
        ",".join(["time", "probe", "quantity", "value", "unit", *(f"c{n}" for n in range(1_000_000))]) + "\n"
    )
    begun, problems = time.process_time(), Problems()
    assert sniff(path, problems) is None
    _, more = read_readings(path)
    assert "1000005 columns" in next(iter(problems.sentences()))
    assert "1000005 columns" in next(iter(more.sentences()))
    assert time.process_time() - begun < 30


@pytest.mark.parametrize("odd", ["9999-12-31T00:00:00Z", "2400-01-01T00:00:00Z"])
def test_a_mistyped_year_is_told_in_place_of_going_through_millions_of_days(tmp_path, odd):
    path = tmp_path / "r.csv"
    rows = [f"2026-07-0{n}T00:00:00Z,b1-t,temperature,21.5,Cel\n" for n in range(1, 8)]
    path.write_text(HEAD + "".join(rows) + f"{odd},b1-t,temperature,21.5,Cel\n")
    yard = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    with pytest.raises(MisuseError, match=r"goes from 2026-07-01 to .* one date in it is wrong"):
        read_recording([path], [], lambda: yard)


@pytest.mark.parametrize(
    "payload",
    [
        '"kind":"readings","payload":{"rows":[["x","b1-t",1,"Cel"]],"ahead":[]}',
        '"kind":"imported","payload":{"rows":5}',
        '"kind":"correction","payload":{"rows":1}',
        '"kind":"work","payload":{"kind":"note","time":"x"}',
        '"kind":"started","payload":{"down_since":"x"}',
        '"kind":"work","payload":{"kind":"note","note":' + "[" * 500 + "]" * 500 + "}",
    ],
)
def test_an_event_of_a_wrong_shape_is_a_problem_of_its_line_and_the_rest_is_replayed(tmp_path, payload):
    path = tmp_path / "e.jsonl"
    path.write_text(
        '{"at":"2026-07-01T00:00:00.000Z","kind":"started","payload":{"down_since":null}}\n'
        f'{{"at":"2026-07-01T00:00:01.000Z",{payload}}}\n'
        '{"at":"2026-07-01T00:00:02.000Z","kind":"stopped","payload":{}}\n'
    )
    recording = read_recording([path], [], lambda: None)
    assert [event.kind for event in recording.events] == ["started", "stopped"]
    assert any("line 2" in sentence and "malformed" in sentence for sentence in recording.problems)
    assert replay(recording) == []
