"""A journal written before meanings were named is taken over: what was decided stays, what is open goes on.

The journal is `tests/unit/journal/journal_before.sqlite.gz`; how it was made stands beside it, and what is true of it.
"""

import gzip
import hashlib
import json
from base64 import b64encode
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace

import pytest

from monitor.app.replay.replaying import read_recording, replay, stored_recording
from monitor.engine import Engine
from monitor.engine.batches import pile_readings
from monitor.journal import journal_path, open_reader, open_writer, verify_chain
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.recordings import Seal, effect_line, event_line, mark_line, seal_line

BESIDE = Path(__file__).parents[1] / "journal"
FACTS = json.loads((BESIDE / "journal_before.json").read_text())
MIN = 60_000
HOUR = 60 * MIN
LATER = FACTS["mark"] + 3 * HOUR


@pytest.fixture
def folder(tmp_path):
    with gzip.open(BESIDE / "journal_before.sqlite.gz") as packed:
        journal_path(tmp_path).write_bytes(packed.read())
    return tmp_path


class Stubborn(Engine):
    """Today's engine, as one whose meaning is another again."""

    meaning = Engine.meaning + 1


def sha(lines):
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def start(writer, now):
    with writer.turn(now) as turn:
        turn.event(EventKind.STARTED, {"down_since": writer.resumed.down_since})
        turn.advance(now)
    return turn.outcome


def live_on(writer, now):
    """Two days more: readings that come on time and late, work, answers."""
    for n in range(96):
        at = now + n * 30 * MIN
        rows = [Reading(at - (26 * HOUR if n % 11 == 4 else 0), "p2-a", 57_000_000 + n * 1000, "Cel")]
        rows += [Reading(at, "p1-b", 30_000_000 - n * 10_000, "Cel"), Reading(at, "b1-t", 23_000_000 + n, "Cel")]
        rows += [Reading(at, "air", 11_000_000 + n, "Cel")]
        with writer.turn(at) as turn:
            turn.readings(rows)
            turn.advance(at)
        if n == 40:
            with writer.turn(at + 1) as turn:
                turn.event("work", {"time": at, "place": "p2", "kind": "turned", "by": "Ann Example"})
        if n == 60:
            with writer.turn(at + 1) as turn:
                turn.event("work", {"time": at - 48 * HOUR, "place": "p1", "kind": "turned", "by": "Ann Example"})


def exported(store):
    lines, seals = [], store.seals()
    for event in store.events():
        lines.append(event_line(event))
        if event.at in seals:
            lines.append(seal_line(Seal(event.at, b64encode(seals[event.at]).decode())))
    return [*lines, mark_line(store.mark().latest())]


def test_what_was_recorded_and_decided_stays_to_the_byte(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        assert writer.resumed.differences == []
        assert writer.resumed.faults == []
        start(writer, LATER)
        live_on(writer, LATER + MIN)
        store = writer.store
        events = [event_line(one) for one in store.events(until=FACTS["mark"])]
        effects = [effect_line(one) for one in store.effects(until=FACTS["mark"])]
        assert (len(events), sha(events)) == (FACTS["events"], FACTS["events_sha256"])
        assert (len(effects), sha(effects)) == (FACTS["effects"], FACTS["effects_sha256"])
        assert FACTS["head"] in [link.head.hex() for link in store.chain()]
        assert [one for one in verify_chain(store) if one.is_fault()] == []
        assert store.connection.execute("SELECT count(*) FROM outbox WHERE at <= ?", (FACTS["mark"],)).fetchone() == (
            FACTS["notices"],
        )


def test_an_event_names_the_meaning_and_comes_once(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER)
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER + HOUR)
        sealed = list(writer.store.events_of(EventKind.SEALED))
        assert [(one.at, one.payload["meaning"], one.payload["rework"]) for one in sealed] == [
            (LATER, Engine.meaning, True)
        ]
        state = writer.store.seals()[LATER]
        assert sealed[0].payload["state"] == hashlib.sha256(state).hexdigest()
        assert writer.resumed.differences == []


def test_batches_go_on_with_at_most_one_change_each(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        outcome = start(writer, LATER)
        state = writer.engine.state
        assert {batch: run.built for batch, run in state.runs.items()} == FACTS["built"]
        told = [
            (one.draft.values.get("batch"), one.draft.axis)
            for one in outcome.effects
            if one.draft.kind in ("phase", "rule")
        ]
        assert len(told) == len(set(told)) <= 2 * len(FACTS["built"])
        assert all(run.touched is None for run in state.runs.values())
        for batch, phase in FACTS["phases"].items():
            changed = any(
                one.draft.values.get("batch") == batch and one.draft.kind == "phase" for one in outcome.effects
            )
            assert changed or state.runs[batch].walk.phase == phase


def test_alarms_put_offs_contacts_and_bins_go_on(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER)
        state = writer.engine.state
        assert set(FACTS["bins"]) <= set(state.bins)
        assert set(state.settings.contacts) == {"ann", "ben"}
        for key, until in FACTS["put_off_until"].items():
            assert (state.alarms[key].state, state.alarms[key].until) == ("shelved", until)
        assert state.alarms["b1/silent/b1-t"].state == "acknowledged"


def test_from_the_seal_on_the_events_give_the_effects(folder, tmp_path):
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER)
        live_on(writer, LATER + MIN)
        stored = [effect_line(one) for one in writer.store.effects(after=LATER - 1)]
        file = tmp_path / "events.jsonl"
        file.write_text("\n".join(exported(writer.store)) + "\n")
        writer._stale = True  # as a kill leaves it
    assert len(stored) > 3
    recording = read_recording([file], [], lambda: None)
    assert recording.problems == []
    for again in (recording, stored_recording(SimpleNamespace(data=folder))):
        assert [effect_line(one) for one in replay(again) if one.at >= LATER] == stored
    with open_writer(folder, Engine, Engine.restore) as writer:
        assert writer.resumed.differences == []


def test_a_kill_right_after_the_seal_changes_nothing(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER)
        before = [effect_line(one) for one in writer.store.effects(after=LATER - 1)]
        # Neither the snapshot of the seal nor a later one is there: the kept state of the seal serves.
        writer.store.connection.execute("DELETE FROM snapshot WHERE at >= ?", (LATER,))
        writer._stale = True
    with open_writer(folder, Engine, Engine.restore) as writer:
        assert writer.resumed.snapshot_at < LATER
        assert writer.resumed.differences == []
        assert [effect_line(one) for one in writer.store.effects(after=LATER - 1)] == before


def test_a_turn_that_fails_leaves_no_seal_and_the_next_one_seals(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        with suppress(RuntimeError), writer.turn(LATER):
            raise RuntimeError
        assert list(writer.store.events_of(EventKind.SEALED)) == []
        start(writer, LATER)
        assert [one.at for one in writer.store.events_of(EventKind.SEALED)] == [LATER]


def test_a_batch_that_cannot_be_worked_out_again_does_not_keep_the_yard_from_starting(folder, monkeypatch):
    def broken(core, run):
        raise KeyError("a field of long ago")

    with monkeypatch.context() as patched, open_writer(folder, Engine, Engine.restore) as writer:
        patched.setattr(pile_readings, "rework", broken)
        start(writer, LATER)
        sealed = next(writer.store.events_of(EventKind.SEALED)).payload
        assert (sealed["rework"], sealed["why"]) == (False, "KeyError: 'a field of long ago'")


def test_every_change_of_meaning_seals_anew(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        start(writer, LATER)
        live_on(writer, LATER + MIN)
    with open_writer(folder, Stubborn, Stubborn.restore) as writer:
        start(writer, LATER + 60 * HOUR)
        assert [one.payload["meaning"] for one in writer.store.events_of(EventKind.SEALED)] == [2, 3]
        assert writer.resumed.differences == []


def test_a_state_with_unknown_and_missing_fields_is_read(folder):
    with open_writer(folder, Engine, Engine.restore) as writer:
        state = json.loads(writer.engine.snapshot())
    state["of_tomorrow"] = {"a": 1}
    del state["air"], state["lines"], state["desk"]
    again = Engine.restore(json.dumps(state).encode())
    assert again.state.lines == {}
    with pytest.raises(ValueError, match="version 99"):
        Engine.restore(json.dumps({**state, "version": 99}).encode())


def test_a_reader_says_that_the_journal_must_be_brought_up_first(folder):
    with pytest.raises(UnavailableError, match="start the daemon once"):
        open_reader(folder)
