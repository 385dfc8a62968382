"""Follows every way to fulfil a rule while a batch is watched, and says how far the batch is on the one it is nearest to.

Rules:
1. Each alternative whose parts can be followed has a tracker of its own; the first one always has. What only a certificate can
   examine stays out, so a batch is never met here where `evaluate` would not say so.
2. The rule is met as soon as one alternative is; the earliest counts.
3. Until then the alternative is shown of whose parts the largest share is fulfilled; of equal ones the one with the lowest
   temperature, which stands first. `at_hold_c` in the numbers says which it is, where there are several.
"""

from collections.abc import Iterator
from dataclasses import replace

from monitor.model.progress import RuleProgress
from monitor.model.units import plain_number
from monitor.model.words import RuleState
from monitor.proof.following.tracker import HoldState, HoldTracker
from monitor.proof.rules import Alternative, Days, Rule, Run, RunBeforeTurnings, Total

_FOLLOWED = (Days, Run, Total, RunBeforeTurnings)
_AMOUNTS = (
    ("days", "days_needed"),
    ("turnings", "turnings_needed"),
    ("total_h", "needed_h"),
    ("longest_run_h", "needed_h"),
)


def followed(rule: Rule) -> tuple[Alternative, ...]:
    """Return the alternatives of a rule that are followed, the first one always among them."""
    first, *others = rule.alternatives
    return first, *(way for way in others if all(isinstance(part, _FOLLOWED) for part in way.parts))


class RuleFollower:
    """Follows one batch under one rule; implements `model.progress.RuleTracker`. Not safe for use in parallel."""

    def __init__(self, rule: Rule, state: HoldState | None = None, *, max_gap_ms: int | None = None) -> None:
        """Begin anew, or go on from a state.

        Args:
            rule: The rule.
            state: The state of the first alternative, in which those of the others stand; None begins anew.
            max_gap_ms: Longest gap across which a line is drawn, ms; None leaves what the state says.
        """
        ways = followed(rule)
        first = HoldTracker(rule, state, max_gap_ms=max_gap_ms)
        kept = first.state.others
        known = kept if len(kept) == len(ways) - 1 else [None] * (len(ways) - 1)
        others = [
            HoldTracker(rule, one, max_gap_ms=max_gap_ms, way=way) for way, one in zip(ways[1:], known, strict=True)
        ]
        first.state.others = [one.state for one in others]
        self._ways = ways
        self._trackers = (first, *others)
        self._inside = sum(one.state.situation.inside << n for n, one in enumerate(self._trackers))

    @property
    def state(self) -> HoldState:
        """The state of the first alternative, which holds those of the others."""
        return self._trackers[0].state

    def proven(self, at: int, proven: bool) -> None:
        """Say that from `at` on the coldest core probe is proven, or no longer is."""
        for one in self._trackers:
            one.proven(at, proven)

    def inside(self, at: int, inside: int) -> None:
        """Say inside which alternatives' limits the batch is from `at` on: bit n stands for the one in place n."""
        for n, one in enumerate(self._trackers):
            if (inside ^ self._inside) >> n & 1:
                one.inside(at, bool(inside >> n & 1))
        self._inside = inside

    def opened(self, at: int, turning: int) -> None:
        """Say that the probes felt the air from `at` on, for a turning logged at `turning`."""
        for one in self._trackers:
            one.opened(at, turning)

    def turned(self, at: int) -> None:
        """Say that a turning was logged at `at`."""
        for one in self._trackers:
            one.turned(at)

    def restart(self, at: int) -> None:
        """Say that new material came in at `at`: what was proven before it counts no more."""
        for one in self._trackers:
            one.restart(at)

    def progress(self, at: int) -> RuleProgress:
        """Return where the rule stands when the record is known up to `at`: by the alternative that it is nearest to."""
        return self.nearest(at)[1]

    def nearest(self, at: int) -> tuple[HoldTracker, RuleProgress]:
        """Return the tracker of the alternative that the batch is nearest to, and where it stands; see `progress`."""
        known = list(self._known(at))
        if len(known) == 1:
            return known[0]
        tracker, progress = min(known, key=lambda pair: _rank(pair[1]))
        way = self._ways[self._trackers.index(tracker)]
        waits = [one.look_again for _, one in known if one.look_again is not None]
        met = progress.state is RuleState.MET
        values = {**progress.values, "at_hold_c": plain_number(way.limits.low_milli_c)}
        return tracker, replace(progress, values=values, look_again=None if met else min(waits, default=None))

    def _known(self, at: int) -> Iterator[tuple[HoldTracker, RuleProgress]]:
        for one in self._trackers:
            yield one, one.progress(at)


def _rank(progress: RuleProgress) -> tuple[int, int, float]:
    """Return by what alternatives are ordered: the nearest first."""
    if progress.state is RuleState.MET:
        return 0, progress.since or 0, 0.0
    begun = 1 if progress.state is RuleState.RUNNING else 2
    return begun, 0, -_share(progress)


def _share(progress: RuleProgress) -> float:
    """Return how much of an alternative is fulfilled, 0 to 1: the least of what its parts ask for."""
    values = progress.values
    shares = [
        min(1.0, values[done] / values[needed]) for done, needed in _AMOUNTS if done in values and values.get(needed)
    ]
    return min(shares, default=0.0)
