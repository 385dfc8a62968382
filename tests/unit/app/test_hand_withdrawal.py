"""A reading by hand that is taken back: flagged in the record for good, whatever stops and starts in between."""

import json

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, plain, yard

from monitor.app.entries.hand_log import hand_log
from monitor.app.replay.replaying import read_recording, replay
from monitor.engine import Engine
from monitor.journal import open_writer, verify_chain
from monitor.model.flags import Flag, FlagReason
from monitor.recordings import effect_line, event_line, mark_line

WRONG, RIGHT = T0 + HOUR, T0 + 2 * HOUR


@pytest.fixture
def folder(tmp_path):
    """A journal with two readings by hand, the first of them taken back, that was killed and opened again twice."""
    _write(tmp_path, "started", {"down_since": None})
    _write(tmp_path, "settings", plain(yard()))
    of = _write(tmp_path, "readings", {"rows": [[WRONG, "hand:p1", 311_000_000, "[degF]"]], "ahead": [], "by": "Ann"})
    _write(tmp_path, "readings", {"rows": [[RIGHT, "hand:p1", 131_000_000, "[degF]"]], "ahead": [], "note": "dial"})
    taken = {"time": WRONG, "probe": "hand:p1"}
    _write(tmp_path, "correction", {"of": of, "work": None, "by": "Ann", "reading": taken})
    return tmp_path


def _write(folder, kind, payload, *, kept=False):
    writer = open_writer(folder, Engine, Engine.restore)
    assert writer.resumed.differences == []
    writer._stale = not kept  # as if killed: without a last snapshot all events are fed again
    with writer.turn(T0 + 3 * HOUR) as turn:
        at = turn.event(kind, payload)
    writer.close()
    return at


def test_it_is_flagged_and_stays(folder):
    writer = open_writer(folder, Engine, Engine.restore)
    assert writer.resumed.differences == []
    flags = {kept.time: (kept.flag, kept.reason) for kept in writer.store.flags("hand:p1")}
    assert flags[WRONG] == (Flag.FAIL, FlagReason.WITHDRAWN)
    assert flags[RIGHT] == (Flag.NOT_EVALUATED, FlagReason.HAND)
    assert [reading.time for reading in writer.store.readings(["hand:p1"], T0, T0 + DAY)] == [WRONG, RIGHT], (
        "nothing is erased"
    )
    assert [(one.time, one.note) for one in hand_log(writer.store, "p1")] == [(RIGHT, "dial")]
    assert verify_chain(writer.store) == []
    writer.close()


def test_its_exported_events_decide_the_same(folder, tmp_path):
    writer = open_writer(folder, Engine, Engine.restore)
    lines = [event_line(event) for event in writer.store.events()] + [mark_line(writer.store.mark().latest())]
    stored = [effect_line(effect) for effect in writer.store.effects()]
    writer.close()
    file = tmp_path / "events.jsonl"
    file.write_text("\n".join(lines) + "\n")
    assert '"reading":{"probe":"hand:p1"' in file.read_text()
    recording = read_recording([file], [], lambda: None)
    assert recording.problems == []
    assert [effect_line(effect) for effect in replay(recording)] == stored


def test_the_engine_decides_nothing_else_by_it():
    read = T0 + 5 * MIN
    drives = [Drive(yard()), Drive(yard())]
    told = []
    for drive, of in zip(drives, ("hand:p1", ""), strict=True):
        drive.feed(read, "readings", {"rows": [[read, "hand:p1", 131_000_000, "[degF]"]], "ahead": []})
        for probe in (of, "p1-a"):
            what = {"reading": {"time": read, "probe": probe}} if of else {}
            told.append(drive.feed(drive.engine.last + MIN, "correction", {"of": 1, "work": None, "by": "Ann", **what}))
    assert not any(told)
    first, second = (json.loads(drive.engine.snapshot()) for drive in drives)
    known, gone = (second.pop("hands"), first.pop("withdrawn"))
    assert (list(known), gone) == (["hand:p1"], {"hand:p1": [read]})
    for state in (first, second):
        # What was read no longer counts, and nothing waits for it.
        for name in ("hands", "withdrawn", "dangers", "agenda"):
            state.pop(name, None)
        for run in state["runs"].values():
            run.update(round_first=None, round_last=None)  # when it was last read by hand
    assert first == second
    flags = [(one.probe, one.reason.value) for one in drives[0].verdicts if one.time == read]
    assert flags == [("hand:p1", "read by hand"), ("hand:p1", "withdrawn")], "p1-a was measured: it is not withdrawn"
