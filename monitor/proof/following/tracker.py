"""Follows a rule while a batch is watched: told of each change, it always knows how far the batch is.

Rules this module keeps:

1. Told the same changes, it says at every instant what `evaluate` says of the record cut there (a property test).
2. One alternative of a rule is followed (`follower` follows them all), and of it only what one set of limits can tell:
   runs, totals, days and runs before turnings. Windows, means and constant temperatures are not
   followed (`not_followed` in the numbers); an alternative that cannot do without them stays running. What is not
   followed is examined by the certificate only. So a batch is never met here where `evaluate` would not say so.
3. Time runs forward only. All that is remembered lies in a `HoldState` of plain values; a tracker made anew from it
   goes on exactly. It stays small: sums, the turnings of the span, and the days that are still undecided.
4. Changes at one instant may be told in any order, except that beginnings come before ends.
"""

from dataclasses import dataclass, field

from monitor.model.progress import RuleProgress
from monitor.model.turnings import begins_group
from monitor.model.words import RuleState
from monitor.proof.following.part_progress import advance, begin, boundary, light, look_again, numbers, settle, turn
from monitor.proof.following.part_state import PartState, Situation
from monitor.proof.rules import Alternative, Days, Join, Part, Rule, joined, needed_turnings, turnings_apart


@dataclass(slots=True)
class HoldState:
    """All that a tracker remembers, as plain values that can be written as JSON.

    Attributes:
        situation: What is so at present, the same for every part of the rule.
        parts: What each part has come to.
        started: When material last came in, UTC ms, or None.
        max_gap_ms: Longest gap across which a line is drawn, ms (`days`); None where that is not known.
        others: Those of the rule's other alternatives, in the state of the first one (`follower`).
    """

    situation: Situation = field(default_factory=Situation)
    parts: list[PartState] = field(default_factory=list)
    started: int | None = None
    max_gap_ms: int | None = None
    others: list["HoldState"] = field(default_factory=list)


class HoldTracker:
    """Follows one batch on one way to fulfil a rule. Not safe for use in parallel."""

    def __init__(
        self,
        rule: Rule,
        state: HoldState | None = None,
        *,
        max_gap_ms: int | None = None,
        way: Alternative | None = None,
    ) -> None:
        """Begin anew, or go on from a state (which is then this tracker's own and changes with it).

        Args:
            rule: The rule.
            state: Where it stands, or None.
            max_gap_ms: Longest gap across which a line is drawn, ms; None leaves what the state says.
            way: Which alternative, or None for the first.
        """
        way = way if way is not None else rule.live
        self._parts: tuple[Part, ...] = way.parts
        self._join: Join = way.join
        self.state = state if state is not None else HoldState(parts=[PartState() for _ in self._parts])
        if len(self.state.parts) != len(self._parts):
            raise ValueError(f"this state has {len(self.state.parts)} parts, rule {rule.id} has {len(self._parts)}")
        days = [part for part in self._parts if isinstance(part, Days)]
        self._recovery_ms = max((part.recovery_ms for part in days), default=0)
        self._onset_ms = max((part.onset_ms for part in days), default=0)
        if max_gap_ms is not None:
            self.state.max_gap_ms = max_gap_ms
        self._together_ms = rule.together_ms

    @property
    def parts(self) -> tuple[Part, ...]:
        """The parts of this way to fulfil the rule; the state's `parts` say how far each of them is."""
        return self._parts

    def proven(self, at: int, proven: bool) -> None:
        """Say that from `at` on the coldest core probe is proven, or no longer is."""
        self._go(at)
        now = self.state.situation
        if proven and not now.proven:
            now.point = at
        now.proven = proven
        self._change(at)
        if proven:
            self._light()

    def inside(self, at: int, inside: bool) -> None:
        """Say that from `at` on the batch is inside the rule's limits, or no longer is."""
        self._go(at)
        self.state.situation.inside = inside
        self._change(at)

    def opened(self, at: int, turning: int) -> None:
        """Say that the probes felt the air from `at` on: of a turning that was logged at `turning`, told there as well."""
        self._go(at)
        self._recover(at, turning)
        self.state.situation.announced.append(turning)
        self._settle()

    def turned(self, at: int) -> None:
        """Say that a turning was logged at `at`."""
        self._go(at)
        now = self.state.situation
        now.announced = [one for one in now.announced if one >= at]
        if at not in now.announced:
            self._recover(at, at)
        now.logged_now = now.logged_now + 1 if now.turned == at else 1
        now.logged += 1
        now.turned = at
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
            now.turned, now.logged, now.logged_now = at, was.logged_now, was.logged_now
        now.recoveries = [one for one in was.recoveries if one[0] >= at]
        now.announced = [one for one in was.announced if one >= at]
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
            look_again(part, own, now)
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
        now = self.state.situation
        assert now.now is not None
        ends: list[int | None] = [
            boundary(part, own, now)
            for part, own in zip(self._parts, self.state.parts, strict=True)
            if own.met_at is None
        ]
        ends += [last for _, last in now.recoveries]
        if now.holding:
            ends += [turning + self._onset_ms for turning, _ in now.recoveries]
        return min([to, *(end for end in ends if end is not None and end > now.now)])

    def _step(self, to: int) -> None:
        now = self.state.situation
        assert now.now is not None
        since = now.now
        bad = now.point is not None and not any(last >= since for _, last in now.recoveries)
        excused = any(last > since for _, last in now.recoveries)
        if now.proven and not now.holding and not excused:
            bad = True
        if not now.proven and not excused:
            now.dark_since = since if now.dark_since is None else now.dark_since
            now.dark_ms += to - since
        if now.holding:
            now.total_ms += to - since
            now.last_hold = to
        now.now, now.point = to, None
        for part, own in zip(self._parts, self.state.parts, strict=True):
            if own.met_at is None:
                advance(part, own, now, bad, self._stretch_ms(part))
        self._end_recoveries(to)
        self._settle()

    def _stretch_ms(self, part: Part) -> int:
        longest = part.dark_ms if isinstance(part, Days) else 0
        known = self.state.max_gap_ms
        return longest if known is None else min(longest, known)

    def _recover(self, at: int, turning: int) -> None:
        """Begin the recovery of a turning."""
        now = self.state.situation
        now.recoveries.append((turning, at + self._recovery_ms))
        self._light()

    def _end_recoveries(self, at: int) -> None:
        """Forget recoveries that are over at `at`: by their limit, or as the hold runs on through their turning."""
        now = self.state.situation
        if not now.recoveries:
            return
        ran_on = now.run_start if now.holding else None
        now.recoveries = [
            (turning, last)
            for turning, last in now.recoveries
            if last >= at and (ran_on is None or turning < ran_on or at < turning + self._onset_ms)
        ]

    def _light(self) -> None:
        """Take in that an unproven stretch is over at the present instant, where there is one."""
        now = self.state.situation
        if now.dark_since is None:
            return
        now.dark_since = None
        for part, own in zip(self._parts, self.state.parts, strict=True):
            if isinstance(part, Days) and own.met_at is None:
                light(part, own)
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
        now.recoveries = [one for one in now.recoveries if one[0] >= at]
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
