"""Follows a rule while a batch is watched: told of each change, it always knows how far the batch is.

Rules this module keeps:

1. Told the same changes, it says at every instant what `evaluate` says of the record cut there (a property test).
2. Only the rule's first alternative is followed, the one with the lowest temperature, and of it only what one set of
   limits can tell: runs, totals, days and runs before turnings. Windows, means and constant temperatures are not
   followed (`not_followed` in the numbers); an alternative that cannot do without them stays running. What is not
   followed is examined by the certificate only. So a batch is never met here where `evaluate` would not say so.
3. Time runs forward only. All that is remembered lies in a `HoldState` of plain values; a tracker made anew from it
   goes on exactly. It stays small: sums, the turnings of the span, and the days that are still undecided.
4. Changes at one instant may be told in any order, but what comes on before what goes off.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from monitor.model.progress import RuleProgress
from monitor.model.turnings import begins_group
from monitor.model.words import RuleState
from monitor.proof.counting import (
    PartState,
    Situation,
    advance,
    begin,
    boundary,
    look_again,
    needed_turnings,
    numbers,
    settle,
    turn,
    turnings_apart,
)
from monitor.proof.kinds import Days, Part
from monitor.proof.rules import Join, Rule, joined


@dataclass(slots=True)
class HoldState:
    """What a tracker remembers; plain values that can be written as JSON.

    Attributes:
        situation: What is so at present, the same for every part of the rule.
        parts: What each part has come to.
        started: When material last came in, UTC ms, or None.
    """

    situation: Situation = field(default_factory=Situation)
    parts: list[PartState] = field(default_factory=list)
    started: int | None = None


class HoldTracker:
    """Follows one batch under one rule; implements `model.progress.RuleTracker`. Not safe for use in parallel."""

    def __init__(self, rule: Rule, state: HoldState | None = None) -> None:
        """Begin anew, or go on from a state (which is then this tracker's own and changes with it)."""
        self._parts: tuple[Part, ...] = rule.live.parts
        self._join: Join = rule.live.join
        self.state = state if state is not None else HoldState(parts=[PartState() for _ in self._parts])
        if len(self.state.parts) != len(self._parts):
            raise ValueError(f"this state has {len(self.state.parts)} parts, rule {rule.id} has {len(self._parts)}")
        recovery = [part.recovery_ms for part in self._parts if isinstance(part, Days)]
        self._recovery_ms = max(recovery, default=0)
        self._together_ms = rule.together_ms

    def proven(self, at: int, proven: bool) -> None:
        """Say that from `at` on the coldest core probe is proven, or no longer is."""
        self._go(at)
        now = self.state.situation
        if proven and not now.proven:
            now.point = at
        now.proven = proven
        self._change(at)

    def inside(self, at: int, inside: bool) -> None:
        """Say that from `at` on the batch is inside the rule's limits, or no longer is."""
        self._go(at)
        self.state.situation.inside = inside
        self._change(at)

    def turned(self, at: int) -> None:
        """Say that a turning was logged at `at`."""
        self._go(at)
        now = self.state.situation
        now.logged_now = now.logged_now + 1 if now.turned == at else 1
        now.logged += 1
        now.recovering, now.turned = True, at
        first = begins_group(now.group, at, self._together_ms)
        if first:
            now.group = at
            now.turnings.append(at)
        for part, own in zip(self._parts, self.state.parts, strict=True):
            if own.met_at is None:
                turn(part, own, first)
        self._settle()

    def restart(self, at: int) -> None:
        """Say that new material came in at `at`: what was proven before it counts no more."""
        self._go(at)
        was = self.state.situation
        turned = [one for one in was.turnings if one == at]
        now = Situation(now=at, proven=was.proven, inside=was.inside, turnings=turned, group=was.group)
        if was.turned == at:
            now.recovering, now.turned, now.logged, now.logged_now = True, at, was.logged_now, was.logged_now
        # An instant of hold at the restart itself still is one, also where the hold ended with it.
        ended_here = was.last_hold == at and not was.holding
        self.state.started, self.state.situation = at, now
        self.state.parts = [PartState() for _ in self._parts]
        if was.holding or ended_here:
            self._begin(at)
            now.holding = was.holding
        self._settle()

    def progress(self, at: int) -> RuleProgress:
        """Return where the rule stands when the record is known up to `at`."""
        self._go(at)
        state, now = self.state, self.state.situation
        met_at = joined(self._join, [part.met_at for part in state.parts])
        values: dict[str, int | float] = {}
        left, apart_ms = 0, 0
        days: int | None = None
        for part, own in zip(self._parts, state.parts, strict=True):
            values.update(numbers(part, own, now))
            if own.met_at is None and own.turnings < needed_turnings(part):
                left = max(left, needed_turnings(part) - own.turnings)
                apart_ms = max(apart_ms, turnings_apart(part))
                days = max(part.count - own.days, 0) if isinstance(part, Days) else days
        if met_at is not None:
            return RuleProgress(state=RuleState.MET, since=met_at, look_again=None, values=values, wants_turnings=False)
        return RuleProgress(
            state=RuleState.NOT_BEGUN if now.first_hold is None else RuleState.RUNNING,
            since=state.started if now.first_hold is None else now.first_hold,
            look_again=self._look_again(),
            values=values,
            wants_turnings=left > 0,
            turnings_left=left,
            days_left=days,
            turnings_apart_ms=apart_ms,
        )

    def _look_again(self) -> int | None:
        now = self.state.situation
        waits = [
            look_again(part, own, now, self._recovery_ms)
            for part, own in zip(self._parts, self.state.parts, strict=True)
            if own.met_at is None
        ]
        known = [one for one in waits if one is not None]
        if self._join is Join.ANY:
            return min(known, default=None)
        # Every part must be met, so nothing happens before the last of them; one that cannot be met waits for ever.
        return max(known) if known and len(known) == len(waits) else None

    def _go(self, to: int) -> None:
        """Let time pass with everything as it is."""
        now = self.state.situation
        if now.now is None:
            now.now = to
        if to < now.now:
            raise ValueError(f"a tracker that knows the record up to {now.now} cannot be told of {to}")
        while now.now < to:
            self._step(self._next(to))

    def _next(self, to: int) -> int:
        ends: Sequence[int | None] = [
            boundary(part, own, self.state.situation)
            for part, own in zip(self._parts, self.state.parts, strict=True)
            if own.met_at is None
        ]
        return min([to, *(end for end in ends if end is not None)])

    def _step(self, to: int) -> None:
        now = self.state.situation
        assert now.now is not None
        bad_from: int | None = None
        since = now.now
        if now.recovering and now.turned is not None:
            since = max(since, min(now.turned + self._recovery_ms, to))
        if now.proven and not now.holding and since < to:
            bad_from = since
        point_bad = now.point is not None and not (
            now.recovering and now.turned is not None and now.point <= now.turned + self._recovery_ms
        )
        bad_ms = to - since if bad_from is not None else 0
        hold_ms = to - now.now if now.holding else 0
        now.total_ms += hold_ms
        now.known_ms += hold_ms + bad_ms
        now.now, now.point = to, None
        if now.holding:
            now.last_hold = to
        for part, own in zip(self._parts, self.state.parts, strict=True):
            if own.met_at is None:
                advance(part, own, now, bad_from is not None or point_bad)
        self._settle()

    def _change(self, at: int) -> None:
        """Take in that the hold began or ended at this instant."""
        now = self.state.situation
        holding = now.proven and now.inside
        if holding == now.holding:
            return
        now.holding = holding
        if holding:
            now.point = None
            # Holds that share an instant are one: nothing begins anew.
            if now.last_hold != at:
                self._begin(at)
        self._settle()

    def _begin(self, at: int) -> None:
        """A hold begins."""
        now = self.state.situation
        if now.turned is not None and now.turned < at:
            now.recovering = False
        if now.first_hold is None:
            now.first_hold = at
        now.run_start, now.last_hold = at, at
        for part, own in zip(self._parts, self.state.parts, strict=True):
            if own.met_at is None:
                begin(part, own, now)

    def _settle(self) -> None:
        """See whether turnings now count and whether a part is met."""
        now = self.state.situation
        # A part met at this very instant is settled again: its numbers do not hang on what was told first.
        live = [
            (part, own)
            for part, own in zip(self._parts, self.state.parts, strict=True)
            if own.met_at is None or own.met_at == now.now
        ]
        for part, own in live:
            settle(part, own, now)
        oldest = min((own.span for _, own in live if own.span is not None), default=now.now)
        assert oldest is not None
        if now.turnings and now.turnings[0] < oldest:
            now.turnings = [at for at in now.turnings if at >= oldest]
