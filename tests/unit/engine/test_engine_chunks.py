"""The law of chunks: whatever the sizes of the pieces in which events are fed, the same is said and remembered.

`feed(a + b)` is `feed(a)` then `feed(b)` for every cut between two events, byte for byte in effects and snapshots; a snapshot
that is taken at a cut changes nothing, and another engine goes on from it exactly. Each run tries new examples.
"""

import json
from dataclasses import dataclass, field
from itertools import pairwise

from engine_scripts import scripts
from engine_yard import DAY, HOUR, MIN, T0, Drive, plain, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events, feed_commits
from monitor.model.events import Event, EventKind
from monitor.recordings.effect_lines import effect_line

some = settings(max_examples=15)

BANDS = {"low", "high", "until", "level"}
"""Of a probe's line: what earlier versions wrote down, and follows from the rest."""


class Recorder(Drive):
    """Feeds events one at a time, and keeps them with what was said and remembered after each."""

    def __init__(self):
        self.events: list[Event] = []
        self.after: list[tuple[int, bytes]] = []
        super().__init__()

    def put(self, event):
        self.events.append(event)
        found = super().put(event)
        self.after.append((len(self.effects), self.engine.snapshot()))
        return found


@dataclass
class Chunks:
    """Feeds events in pieces."""

    engine: Engine = field(default_factory=Engine)
    history: ColumnHistory = field(default_factory=ColumnHistory)
    said: list[str] = field(default_factory=list)

    def feed(self, events):
        """Feed one piece: consecutive readings of it go as columns, as in a replay."""
        for part in commits_from_events(events):
            if isinstance(part, Commits):
                effects = feed_commits(self.engine, part, self.history, least=1)
            else:
                if part.kind in (EventKind.IMPORTED, EventKind.READINGS):
                    self.history.take(part.payload)
                effects = self.engine.feed(part, self.history)
            self.engine.take_verdicts()
            self.said += [effect_line(effect) for effect in effects]

    def go_on(self):
        """Let another engine go on from a snapshot of this one."""
        self.engine = Engine.restore(self.engine.snapshot())


@some
@given(scripts(), st.lists(st.floats(0, 1), max_size=6), st.sets(st.integers(0, 6)))
def test_no_cut_between_events_shows(script, shares, restored):
    alone = Recorder()
    for at, kind, payload in script:
        alone.feed(at, kind, payload)
    lines, count = alone.lines(), len(alone.events)
    chunks, edges = Chunks(), [0, *sorted(int(share * count) for share in shares), count]
    for number, (start, end) in enumerate(pairwise(edges)):
        chunks.feed(alone.events[start:end])
        if end:
            said, remembered = alone.after[end - 1]
            assert chunks.said == lines[:said]
            assert chunks.engine.snapshot() == remembered
        if number in restored:
            chunks.go_on()
    until = alone.engine.last + 2 * DAY
    chunks.said += [effect_line(effect) for effect in chunks.engine.advance(until)]
    alone.advance(until)
    assert chunks.said == alone.lines()
    assert chunks.engine.snapshot() == alone.engine.snapshot()


def test_what_a_probe_says_outside_is_hot_in_no_heap_by_both_doors():
    alone, chunks = Recorder(), Chunks()
    alone.feed(T0 - MIN, "settings", 0)
    alone.work(T0, "p1", "probe out", probe="p1-s")
    for at in (T0 + HOUR, T0 + 2 * HOUR):
        rows = [[at, "air", 4_000_000, "Cel"], [at, "p1-s", 78_000_000, "Cel"]]
        alone.feed(at, "readings", {"rows": rows, "ahead": []})
    chunks.feed(alone.events)
    assert alone.engine.state.watches["p1-s"].hot_time is None
    assert chunks.engine.snapshot() == alone.engine.snapshot()


def test_what_the_surface_of_an_empty_pile_says_is_told_alike_by_both_doors():
    """An empty pile's core is watched for fire alone, its surface for all: the alarm tells what was read last."""
    alone, chunks = Recorder(), Chunks()
    alone.feed(T0 - MIN, "settings", 0)
    alone.work(T0, "p1", "merged", to="p2")
    for step in range(60):
        at = T0 + step * 10 * MIN
        heat = 12 if step < 12 else 78 + step % 4 / 16
        rows = [
            [at, name, round(milli * 1_000_000), "Cel"] for name, milli in (("p1-a", 18), ("p1-b", 18), ("p1-s", heat))
        ]
        alone.feed(at, "readings", {"rows": rows, "ahead": []})
    assert alone.rings("too-hot", "p1")
    chunks.feed(alone.events)
    assert chunks.said == alone.lines()
    assert chunks.engine.snapshot() == alone.engine.snapshot()


def test_no_snapshot_holds_what_follows_from_the_rest_of_it():
    """Whether a spacing was asked for yet must not show; when to look for silence is a deadline like all others."""
    drive = Recorder()
    drive.feed(T0 - MIN, "settings", plain(yard()))
    drive.hold(T0, T0 + 6 * HOUR, p1_a=50, p1_b=50, air=12)
    state = json.loads(drive.engine.snapshot())
    assert drive.engine.state.watches["p1-a"].silent_due(yard().probe_thresholds, 0) == T0 + 6 * HOUR + 30 * MIN
    assert json.loads(drive.engine.snapshot()) == state
    assert not {"spacing", "accepted_spacing"} & state["watches"]["p1-a"].keys()
    assert "silence_check" not in state
    assert state["agenda"]["|silence"] > T0 + 6 * HOUR
    assert not BANDS & state["runs"][drive.run().batch]["walk"]["lines"]["p1-a"].keys()


def test_a_snapshot_with_bands_of_an_earlier_version_is_read():
    """Bands drawn under another version's limits must not pass over a reading that means something now."""
    drive = Recorder()
    drive.feed(T0 - MIN, "settings", plain(yard()))
    drive.hold(T0, T0 + HOUR, p1_a=50, p1_b=50, air=12)
    state = json.loads(drive.engine.snapshot())
    for line in state["runs"][drive.run().batch]["walk"]["lines"].values():
        line.update(dict.fromkeys(BANDS, 0) | {"high": 90_000, "until": T0 + DAY})
    other = Engine.restore(json.dumps(state).encode())
    assert other.snapshot() == drive.engine.snapshot()
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 4 * HOUR, p1_a=60, p1_b=60, air=12)
    effects = [effect for event in drive.events if event.at > T0 + HOUR for effect in other.feed(event, drive.history)]
    assert [effect_line(effect) for effect in effects] == drive.lines()[-len(effects) :]
    assert drive.run().walk.phase == "holding"


def test_what_is_remembered_stands_in_one_order_whichever_place_is_read_first():
    """The columns ask for places in the order of their probes' names, before they know where a run may begin."""
    drive = Recorder()
    drive.feed(T0 - MIN, "settings", plain(yard()))
    later = T0 + 40 * MIN
    rows = [[later - MIN, "p2-a", 20_000_000, "Cel"], [later, "p1-a", 18_000_000, "Cel"]]
    drive.feed(later, "readings", {"rows": rows, "ahead": []})
    drive.hold(later + MIN, later + HOUR, p1_a=18, p2_a=20)
    chunks = Chunks()
    chunks.feed(drive.events)
    assert chunks.engine.snapshot() == drive.engine.snapshot()
