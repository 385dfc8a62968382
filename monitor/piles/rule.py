"""Reports a batch's record to the rule's tracker, in order of the record's own time, and keeps the tracker's answers.

Rules:

1. A beginning is reported at the first millisecond at which it holds; an end at the last at which it still held,
   so that a hold from A to B has the length B - A, as on the certificate. If a probe comes in that is not read yet, the
   hold of the other probes ends at that very instant.
2. The tracker is asked only after a report, or at the instant that it named itself.
3. Without a rule, *unmet* means that the batch has not yet held for 72 h in one piece since it was built or added to.
4. If raw material came in, the rule is *not begun* at once, before the record has come to that instant (`void_at`);
   changes of the rule from before that instant are not reported any more. Phases and alarms follow the record all the same.
"""

from dataclasses import replace

from monitor.model.progress import RuleProgress, RuleTracker
from monitor.model.thresholds import PileThresholds
from monitor.model.words import RuleState
from monitor.piles.changes import ChangeKind, Reason, WalkChange
from monitor.piles.signals import Signals
from monitor.piles.state import WalkState


class RuleTalk:
    """The walk's link to a rule tracker."""

    __slots__ = ("_none_hold_ms", "_state", "_tracker")

    def __init__(self, state: WalkState, tracker: RuleTracker | None, thresholds: PileThresholds) -> None:
        self._state = state
        self._tracker = tracker
        self._none_hold_ms = thresholds.no_rule_hold_ms

    def unmet(self) -> bool:
        """Return whether the rule is unmet, or with no rule whether the batch has not yet held long enough."""
        if self._tracker is None:
            return not self._state.none_met
        progress = self._state.progress
        return progress is None or progress.state is not RuleState.MET

    def tell_void(self) -> list[WalkChange]:
        """Return the change to *not begun* if raw material came in at an instant that the record has not reached."""
        state = self._state
        progress = state.progress
        if progress is None or progress.state is RuleState.NOT_BEGUN or state.void_told or state.void_at is None:
            return []
        state.void_told = True
        return [self._began_anew(progress, state.void_at)]

    def _began_anew(self, progress: RuleProgress, at: int) -> WalkChange:
        empty = replace(progress, state=RuleState.NOT_BEGUN, since=at)
        return self._changed(progress.state, empty, at, Reason.RAW_ADDED)

    def wants_turning(self) -> bool:
        """Return whether the rule still wants more turnings."""
        progress = self._state.progress
        return progress is not None and progress.wants_turnings

    def left(self) -> RuleProgress | None:
        """Return the rule's progress if it still wants turnings, else None."""
        progress = self._state.progress
        return progress if progress is not None and progress.wants_turnings else None

    def tell(
        self,
        at: int,
        signals: Signals,
        others: Signals | None,
        turnings: tuple[list[int], int],
        added: bool,
        joined: bool,
    ) -> list[WalkChange]:
        """Report the state from `at` on to the tracker, and ask it if need be.

        Args:
            at: The instant, UTC ms.
            signals: The probes' joint signals from it on.
            others: The same without the probes that come in at this instant and are not read at it, or None without any.
            turnings: Log instants of later turnings for which the probes feel the air from it on; number logged at it.
            added: Whether raw material came in at it.
            joined: Whether much material came in at it that had met the rule.

        Returns:
            The changes of the rule's state, in order.
        """
        tracker, state = self._tracker, self._state
        if state.void_at is not None and at >= state.void_at:
            state.void_at = None
        if tracker is None:
            self._note_hold(at, signals, added or joined)
            return []
        opened, turned = turnings
        told = bool(opened or turned or added or joined)
        if state.was_inside & ~signals.inside:
            _tell_left(tracker, at, state.was_inside, signals.inside, 0 if others is None else others.inside)
            told = True
        if state.was_proven != signals.rule_proven:
            # Rule 1: proof ends at the last proven millisecond, unless only a new probe ends it, at `at` itself.
            until = at if signals.rule_proven or (others is not None and others.rule_proven) else at - 1
            tracker.proven(until, signals.rule_proven)
            told = True
        if signals.inside & ~state.was_inside:
            tracker.inside(at, signals.inside)
            told = True
        for turning in opened:
            tracker.opened(at, turning)
        for _ in range(turned):
            tracker.turned(at)
        if joined and not added:
            # Much met material came into a batch: the count begins anew if the batch was only under way.
            added = tracker.progress(at).state is RuleState.RUNNING
        if added:
            tracker.restart(at)
        self._note_hold(at, signals, added)
        state.was_inside, state.was_proven = signals.inside, signals.rule_proven
        look = state.progress.look_again if state.progress is not None else at
        return self._ask(tracker, at, added) if told or (look is not None and look <= at) else []

    def due(self, at: int) -> int | None:
        """Return the next instant after `at` at which time alone could change the rule's state."""
        state = self._state
        if self._tracker is None:
            waiting = state.none_run is not None and not state.none_met
            return (state.none_run or 0) + self._none_hold_ms if waiting else None
        look = state.progress.look_again if state.progress is not None else None
        return look if look is not None and look > at else None

    def _note_hold(self, at: int, signals: Signals, added: bool) -> None:
        state = self._state
        if added:
            state.raw_at = at
            state.first_hold = state.none_run = None
            state.none_met = False
        if signals.inside:
            state.first_hold = at if state.first_hold is None else state.first_hold
        if self._tracker is not None:
            return
        if not signals.at_hold:
            state.none_run = None
        elif state.none_run is None:
            state.none_run = at
        if state.none_run is not None and at >= state.none_run + self._none_hold_ms:
            state.none_met = True

    def _ask(self, tracker: RuleTracker, at: int, added: bool) -> list[WalkChange]:
        state = self._state
        known = state.progress
        before = known.state if known is not None else RuleState.NOT_BEGUN
        progress = state.progress = tracker.progress(at)
        if added and known is not None and known.state is not RuleState.NOT_BEGUN:
            state.void = True
        if progress.state is not RuleState.NOT_BEGUN:
            state.void = False
        if state.void_told:
            if state.void_at is not None:
                return []
            before, state.void_told = RuleState.NOT_BEGUN, False
        changes = []
        if added and known is not None and before is not RuleState.NOT_BEGUN:
            # Report this even if the hold begins anew at this very instant, because the earlier count is lost all the same.
            changes.append(self._began_anew(known, at))
            before = RuleState.NOT_BEGUN
        if progress.state is not before:
            changes.append(self._changed(before, progress, at, Reason.RULE))
        return changes

    def _changed(self, before: RuleState, progress: RuleProgress, at: int, reason: Reason) -> WalkChange:
        return WalkChange(
            kind=ChangeKind.RULE,
            axis="rule",
            before=before,
            after=progress.state,
            since=at if progress.since is None else progress.since,
            reason=reason,
            progress=progress.values,
        )


def _tell_left(tracker: RuleTracker, at: int, was: int, now: int, others: int) -> None:
    """Report the limits that the batch has left: the other probes' hold ends at the very instant (rule 1)."""
    left = was & ~now
    still = left & others
    if left != still:
        tracker.inside(at - 1, was & ~left | still)
    if still:
        tracker.inside(at, was & ~left)
