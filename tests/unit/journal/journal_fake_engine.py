"""A small engine for the journal's tests: deterministic, with deadlines, notices, flags and a look at history."""

import json

from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.flags import Flag, FlagReason, Verdict

QUIET_MS = 600_000
HOT_MICRO = 60_000_000


class FakeEngine:
    """Counts readings; a hot one makes an alarm and a notice; ten quiet minutes make an alarm; a late one looks back."""

    version = 1
    meaning = 1

    def __init__(self):
        self.last = 0
        self.count = 0
        self.newest = {}
        self.deadline = None
        self.verdicts = []
        self.seen_kinds = []
        self.channels = ["text", "mail"]

    def feed(self, event, history):
        effects = self.advance(event.at) if event.kind not in ("started", "sealed") else []
        self.last = event.at
        self.seen_kinds = [*self.seen_kinds, str(event.kind)][-5:]
        for row in event.payload.get("rows", ()):
            time, probe, micro, _ = row
            self.count += 1
            if micro == 85_000_000:
                self.verdicts.append(Verdict(time, probe, 85_000, Flag.FAIL, FlagReason.POWER_UP))
            else:
                self.verdicts.append(Verdict(time, probe, micro // 1000, Flag.PASS, FlagReason.NONE))
            if time < self.newest.get(probe, 0):
                seen = list(history.readings([probe], time, min(self.newest[probe], time + 3_600_000)))
                effects.append(
                    self._effect(len(effects), "phase", "looked back", sum(r.micro for r in seen), len(seen))
                )
            self.newest[probe] = max(self.newest.get(probe, 0), time)
            if micro >= HOT_MICRO:
                effects.append(self._effect(len(effects), "alarm", "hot", micro, self.count))
                effects.append(self._notice(len(effects), f"{probe} is hot, {micro // 1000} at {time}"))
        if event.kind == "work":
            effects.append(self._effect(len(effects), "phase", event.payload["kind"], 0, self.count))
        self.deadline = event.at + QUIET_MS
        return effects

    def advance(self, to):
        effects = []
        if self.deadline is not None and self.deadline <= to:
            at, self.deadline = self.deadline, None
            effects.append(self._effect(0, "alarm", "silent", 0, self.count, at))
        self.last = max(self.last, to)
        return effects

    def next_deadline(self):
        return self.deadline

    def take_verdicts(self):
        taken, self.verdicts = self.verdicts, []
        return taken

    def snapshot(self):
        state = {
            "version": self.version,
            "last": self.last,
            "count": self.count,
            "newest": self.newest,
            "deadline": self.deadline,
            "kinds": self.seen_kinds,
            "channels": self.channels,
        }
        return json.dumps(state).encode()

    @classmethod
    def restore(cls, data):
        state = json.loads(data)
        if state["version"] != cls.version:
            raise ValueError(f"a snapshot of version {state['version']}")
        engine = cls()
        engine.last, engine.count, engine.newest = state["last"], state["count"], state["newest"]
        engine.deadline, engine.seen_kinds, engine.channels = state["deadline"], state["kinds"], state["channels"]
        return engine

    def _effect(self, ordinal, kind, after, micro, n, at=None):
        draft = Draft(
            place="p1",
            kind=EffectKind(kind),
            axis="x",
            before=None,
            after=after,
            why=f"{after} after {n}",
            since=self.last if at is None else at,
            reason=after,
            values={"zulu": n, "alpha": micro / 1_000_000},
        )
        return Effect(at=self.last if at is None else at, ordinal=ordinal, draft=draft)

    def _notice(self, ordinal, text):
        draft = Draft(
            place="p1",
            kind=EffectKind.NOTICE,
            axis="new",
            before=None,
            after="ada",
            why="hot",
            since=self.last,
            reason="hot",
            values={"channels": self.channels, "priority": "high"},
            text=text,
        )
        return Effect(at=self.last, ordinal=ordinal, draft=draft)
