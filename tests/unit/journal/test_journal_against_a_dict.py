"""The store against a dictionary: whatever is put in, packed, reopened or rolled back, both say the same."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from journal_yard import HOUR, T0, everything, writer_of

from monitor.journal import open_reader, verify_chain
from monitor.journal.audit import audit
from monitor.model.readings import Reading

ROWS = st.lists(
    st.builds(
        Reading,
        st.integers(0, 40).map(lambda step: T0 + step * HOUR // 2),
        st.sampled_from(["a", "b", "c"]),
        st.integers(1, 3),
        st.sampled_from(["Cel", "Cel", "Cel", "K"]),
    ),
    max_size=12,
)


class BrokenError(Exception):
    """Ends a turn halfway."""


class JournalAgainstADict(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name)
        self.writer = writer_of(self.path)
        self.now = T0
        self.kept = {}
        self.beside = {}
        self.events = []

    @rule(rows=ROWS, step=st.sampled_from([1, 1000, 7 * HOUR]))
    def put(self, rows, step):
        self.now += step
        with self.writer.turn(self.now) as turn:
            turn.readings(rows)
        new, further, same, other = [], [], 0, 0
        for row in sorted(rows, key=lambda row: (row.time, row.probe)):
            kept = self.kept.setdefault((row.probe, row.time), row)
            if kept is row:
                new.append(row)
            elif kept == row:
                same += 1
            else:
                other += 1
                if self.beside.setdefault(row, self.now) == self.now and row not in further:
                    further.append(row)
        outcome = turn.outcome
        assert (outcome.new_rows, outcome.duplicates, outcome.conflicts) == (len(new), same, other)
        if new or further:
            self.events.append((self.now, new, further))

    @rule(rows=ROWS)
    def fail(self, rows):
        with pytest.raises(BrokenError), self.writer.turn(self.now + 5) as turn:  # noqa: PT012
            turn.readings(rows)
            raise BrokenError

    @rule(hours=st.integers(0, 25))
    def pack(self, hours):
        before = T0 + hours * HOUR
        moved = self.writer.pack_closed_hours(before)
        assert moved >= 0

    @rule(clean=st.booleans())
    def reopen(self, clean):
        if clean:
            self.writer.close()
        else:
            self.writer.store.close()
            self.writer._lock.release()
        self.writer = writer_of(self.path)
        assert self.writer.resumed.differences == []

    @rule(start=st.integers(0, 21), length=st.integers(0, 21), probe=st.sampled_from(["a", "b"]))
    def look(self, start, length, probe):
        first, last = T0 + start * HOUR, T0 + (start + length) * HOUR
        expected = sorted(r for r in self.kept.values() if r.probe == probe and first <= r.time <= last)
        assert list(self.writer.store.readings([probe], first, last)) == expected
        loaded = [
            Reading(time, column.probe, micro, column.unit)
            for column in self.writer.store.columns(probe, first, last)
            for time, micro in zip(column.time.tolist(), column.micro.tolist(), strict=True)
        ]
        assert sorted(loaded) == expected

    @invariant()
    def agree(self):
        assert everything(self.writer.store) == sorted(self.kept.values(), key=lambda row: (row.time, row.probe))
        with open_reader(self.path) as store:
            found = [
                (event.at, list(event.payload["rows"]), [Reading(*row) for row in event.payload.get("further", ())])
                for event in store.events()
            ]
            assert found == self.events
            arrived = [(at, rows) for at, rows, _ in self.events if rows]
            assert [(a.at, a.rows) for a in store.readings_after(0, 10_000)] == arrived
            assert store.further(["a", "b", "c"], 0, 1 << 60) == sorted(self.beside)
            assert audit(store) == []
            assert verify_chain(store) == []

    def teardown(self):
        self.writer.close()
        self.folder.cleanup()


JournalAgainstADict.TestCase.settings = settings(
    max_examples=25, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck)
)
test_journal_against_a_dict = JournalAgainstADict.TestCase
