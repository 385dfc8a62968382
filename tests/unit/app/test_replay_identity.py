"""What a live yard decided, through restarts, crashes, failed turns and disorder, its exported events decide again."""

import random
import tempfile
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace

from engine_scripts import SETTINGS, scripts
from engine_yard import DAY, plain
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.app.replay.replaying import read_recording, replay, stored_recording
from monitor.engine import Engine
from monitor.journal import open_writer, verify_chain
from monitor.model.readings import Reading
from monitor.recordings import effect_line, event_line, mark_line

many = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


class Crash(Exception):
    """Stands for whatever ends a turn in the middle."""


class Live:
    """A writer that is driven through a script, and comes back from everything that befalls it."""

    def __init__(self, folder, chance):
        self.folder, self.chance = folder, chance
        self.writer = open_writer(folder, Engine, Engine.restore)
        self.told, self.befell = [], set()
        self.sent = []

    def turn(self, now, events):
        """Feed events in one turn; sometimes it fails in the middle first, and leaves nothing."""
        if self.chance.random() < 0.06:
            self.befell.add("failed turn")
            with suppress(Crash), self.writer.turn(now) as turn:
                for kind, payload in events:
                    self.feed(turn, kind, payload)
                turn.advance(now)
                raise Crash
        with self.writer.turn(now) as turn:
            for kind, payload in events:
                self.feed(turn, kind, payload)
            if self.chance.random() < 0.7:
                turn.advance(now + self.chance.choice([0, 0, 3]))
        self.told += turn.outcome.effects

    def feed(self, turn, kind, payload):
        if kind == "settings":
            payload = plain(SETTINGS[payload])
        if kind not in ("readings", "imported"):
            turn.event(kind, payload)
            return
        known = self.writer.engine.state.settings.probes
        rows = [row for row in payload.get("rows", []) if row[1] in known or row[1].startswith("hand:")]
        rows += self.chance.sample(self.sent, min(len(self.sent), self.chance.choice([0, 0, 4])))
        if self.sent and self.chance.random() < 0.1:
            time, probe, micro, unit = self.chance.choice(self.sent)
            rows.append([time, probe, micro + 1000, unit])
        self.sent += payload.get("rows", [])[:3]
        self.sent = [row for row in self.sent if row[1] in known]
        if kind == "imported":
            turn.event(kind, {**payload, "rows": rows})
            return
        self.chance.shuffle(rows)
        turn.readings([Reading(*row) for row in rows], [tuple(pair) for pair in payload["ahead"]])

    def restart(self, now, *, crash):
        """End in order or not, and come back; what is decided again must be what was decided."""
        self.befell.add("crash" if crash else "restart")
        # What a kill leaves is what was committed; without the last snapshot the events are fed again.
        self.writer._stale = self.writer._stale or crash
        self.writer.close()
        self.writer = open_writer(self.folder, Engine, Engine.restore)
        resumed = self.writer.resumed
        assert resumed.differences == []
        assert resumed.faults == []
        self.turn(now, [("started", {"down_since": resumed.down_since})])

    def pass_by(self, now):
        """Time passes with nothing but deadlines."""
        self.befell.add("advance")
        with self.writer.turn(now) as turn:
            turn.advance(now)
        self.told += turn.outcome.effects


def live(folder, script, seed):
    chance = random.Random(seed)
    yard = Live(folder, chance)
    waiting = []
    for number, (at, kind, payload) in enumerate(script):
        if kind == "started" and number:
            yard.restart(at, crash=chance.random() < 0.5)
            continue
        waiting.append((kind, payload))
        if chance.random() < 0.15:
            continue
        yard.turn(at, waiting)
        waiting = []
        if chance.random() < 0.05:
            yard.restart(at + chance.choice([0, 1000, 100_000]), crash=chance.random() < 0.6)
        if chance.random() < 0.2:
            yard.pass_by(at + chance.choice([1, 60_000, 900_000]))
    if waiting:
        yard.turn(script[-1][0], waiting)
    yard.pass_by(script[-1][0] + chance.choice([0, DAY]))
    return yard


@many
@given(scripts(), st.integers(0, 1 << 30))
def test_the_exported_events_decide_again_what_was_decided(script, seed):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        yard = live(folder, script, seed)
        store = yard.writer.store
        stored = [effect_line(effect) for effect in store.effects()]
        assert stored == [effect_line(effect) for effect in yard.told]
        assert verify_chain(store) == []
        lines = [event_line(event) for event in store.events()] + [mark_line(store.mark().latest())]
        file = folder / "events.jsonl"
        file.write_text("\n".join(lines) + "\n")
        yard.writer.close()
        recording = read_recording([file], [], lambda: None)
        assert recording.problems == []
        again = [effect_line(effect) for effect in replay(recording)]
        own = [effect_line(effect) for effect in replay(stored_recording(SimpleNamespace(data=folder)))]
    assert "\n".join(again) == "\n".join(stored)
    assert "\n".join(own) == "\n".join(stored)


def test_the_scripts_meet_everything():
    everything = {"failed turn", "restart", "crash", "advance"}
    met, effects, seed = set(), 0, 0
    while seed < 12 and (met != everything or effects <= 100):
        script = _long_script(seed)
        with tempfile.TemporaryDirectory() as name:
            yard = live(Path(name), script, seed)
            met |= yard.befell
            effects += len(yard.told)
            yard.writer.close()
        seed += 1
    assert met == everything
    assert effects > 100


def _long_script(seed):
    """A plain week of two piles and a bin, for the test of the test."""
    from engine_yard import HOUR, MIN, T0

    chance = random.Random(seed)
    script = [(T0 - MIN, "started", {"down_since": None}), (T0, "settings", 0)]
    for number in range(120):
        at = T0 + (number + 1) * HOUR
        rows = [[at, name, chance.choice([20, 56, 66, 72]) * 1_000_000, "Cel"] for name in ("p1-a", "p1-b", "b1-t")]
        script.append((at, "readings", {"rows": rows, "ahead": []}))
    return script
